"""People beside a table: who comes to a full one or only wants to look, what they see, and who gets the next chair."""

from typing import Any

import pytest

from server.records import TableRecord
from server.table.output import Joined, Rejected
from server.table.table import Table
from shared.rules import charleston
from shared.rules.intents import (
    MOST_BESIDE,
    Arrange,
    FreeChair,
    Intent,
    Leave,
    LetSee,
    Lift,
    MoveTo,
    NewCode,
    Pass,
    Pause,
    Plan,
    Ready,
    Resume,
    SeatBot,
    SendOff,
    ShowRack,
    Start,
    TakeSeat,
    Vote,
)
from shared.rules.settings import Settings
from shared.rules.tiles import JOKER, KINDS
from shared.wire.club_views import ClubView
from shared.wire.messages import TO_CLIENT, Close, Command, Refused
from tests.tables import QUICK, Evening

FIRST = 4
"""The first place beside the table."""


def full(settings: Settings = QUICK) -> Evening:
    return Evening(settings, people=4)


def shown(evening: Evening, place: int = FIRST) -> ClubView:
    return evening.table.view_from(place, evening.now_ms)


def racks(view: ClubView) -> list[int]:
    return [number for number, chair in enumerate(view.tables[0].chairs) if chair.rack]


def watch(evening: Evening, name: str = "Wren", token: bytes | None = None) -> int:
    answer = evening.table.watch(name, token)
    assert isinstance(answer, Joined)
    evening.take(answer.output)
    evening.tokens[answer.chair] = answer.token
    return answer.chair


def begun(people: int = 4) -> Evening:
    evening = Evening(QUICK, people=people)
    evening.ready()
    evening.wait(10)
    return evening


def test_who_comes_to_a_full_table_waits_beside_it_and_everybody_there_is_told() -> None:
    evening = full()
    assert evening.join("Kim") == FIRST
    assert [(one.name, one.connected, one.waits, one.sees) for one in evening.view(2).beside] == [
        ("Kim", True, True, False)
    ]
    view = shown(evening)
    assert (view.role, view.one_table, view.name) == ("waiting", True, "Boathouse")
    assert [chair.name for chair in view.tables[0].chairs] == [f"Person {number}" for number in (1, 2, 3, 4)]
    assert [one.name for one in view.waiting] == ["Kim"]


def test_who_only_looks_gets_no_chair_even_where_one_is_free() -> None:
    evening = Evening(QUICK, people=2)
    place = watch(evening)
    evening.wait(5_000)
    assert [chair.sitter for chair in evening.view().chairs] == ["person", "person", "nobody", "nobody"]
    assert (shown(evening, place).role, shown(evening, place).waiting) == ("watcher", ())


def test_names_beside_the_table_differ_from_all_that_are_there() -> None:
    evening = full()
    places = [evening.join("Person 1"), evening.join("PERSON 1"), watch(evening, "Person  1")]
    names = [chair.name for chair in evening.view().chairs] + [one.name for one in evening.view().beside]
    assert len({name.lower() for name in names}) == len(names)
    assert places == [4, 5, 6]
    assert names[4:] == ["Person 1 5", "PERSON 1 6", "Person 1 7"]


@pytest.mark.parametrize("leaves", [True, False], ids=["leaves", "is sent away"])
def test_the_next_free_chair_goes_to_who_has_waited_longest_and_is_here(leaves: bool) -> None:
    evening = full()
    away, kim, _ = evening.join("Ava"), evening.join("Kim"), evening.join("Lea")
    evening.take(evening.table.disconnected(away, evening.now_ms))
    if leaves:
        evening.do(2, Leave())
    else:
        evening.do(0, FreeChair(chair=2))
    due_ms = evening.table.next_deadline_ms()
    assert due_ms is not None
    assert due_ms <= evening.now_ms
    out = evening.take(evening.table.tick(evening.now_ms))
    assert out.moved == ((kim, 2),)
    assert not out.closing, "the line of who has left is closed before"
    assert evening.view().chairs[2].name == "Kim"
    assert [one.name for one in evening.view().beside] == ["Ava", "Lea"]
    assert evening.table.knows(evening.table.record.chairs[2].token_hash)
    evening.wait(1)
    assert evening.view().chairs[2].connected


def test_a_place_in_line_is_kept_through_a_cut_line_and_a_restart() -> None:
    evening = full()
    evening.join("Kim")
    evening.join("Lea")
    evening.take(evening.table.disconnected(4, evening.now_ms))
    assert evening.join("Kim", evening.tokens[4]) == 4
    again = Table(evening.table.record, evening.bytes, lambda: "")
    again.restore((), (), evening.now_ms)
    answer = again.join("Kim", evening.tokens[4], evening.now_ms)
    assert isinstance(answer, Joined)
    assert answer.chair == 4
    assert [one.name for one in again.record.beside] == ["Kim", "Lea"]


def test_who_comes_back_when_a_chair_is_free_sits_down_and_waits_no_more() -> None:
    evening = full()
    evening.join("Kim")
    evening.take(evening.table.disconnected(4, evening.now_ms))
    evening.do(1, Leave())
    evening.wait(1)
    assert evening.view().chairs[1].sitter == "nobody"
    assert evening.join("Kim", evening.tokens[4]) == 1
    assert evening.view().beside == ()


NOTHING_BUT_GOING: list[Intent] = [
    Ready(),
    Start(),
    Pause(),
    Resume(),
    MoveTo(chair=0),
    TakeSeat(),
    ShowRack(on=True),
    NewCode(),
    LetSee(place=4, on=True),
    SendOff(place=4),
    FreeChair(chair=1),
    Arrange(tiles=()),
    Lift(step="first right", tiles=()),
    Pass(step="first right", tiles=KINDS[:3]),
    Pass(step="first right", tiles=(JOKER,) * 3),
    Vote(go_on=True),
    Plan(hand="", discards=()),
]


@pytest.mark.parametrize("intent", NOTHING_BUT_GOING, ids=lambda intent: intent.kind)
def test_who_is_beside_the_table_can_do_nothing_there_and_every_refusal_is_the_same(intent: Intent) -> None:
    evening = begun()
    place = evening.join("Kim")
    before = evening.table.record
    answer = evening.ask(place, intent)
    assert isinstance(answer, Refused)
    assert (answer.code, answer.text, answer.late_ms) == ("not now", "You have no chair here.", None)
    assert evening.table.record is before


def test_who_is_beside_the_table_can_go() -> None:
    evening = full()
    place = evening.join("Kim")
    evening.do(place, Leave())
    assert evening.closed == [(place, Close.TABLE_CLOSED)]
    assert evening.view().beside == ()


def test_who_lost_their_machine_while_the_host_is_away_too_waits_for_the_host_and_not_in_line() -> None:
    evening = full()
    for chair in (0, 2):
        evening.take(evening.table.disconnected(chair, evening.now_ms))
    answer = evening.knock("Person 3", bytes(16))
    assert isinstance(answer, Rejected)
    assert answer.close == Close.ASKED_HOST
    assert evening.join("Somebody else", bytes(16)) == FIRST


# ---- racks


def agreed(evening: Evening, place: int, chair: int = 1) -> None:
    evening.do(0, LetSee(place=place, on=True))
    evening.do(chair, ShowRack(on=True))


def test_a_rack_is_seen_only_where_the_host_lets_this_one_and_its_player_agrees() -> None:
    evening = begun()
    first, second = evening.join("Kim"), watch(evening)
    assert evening.refused(1, ShowRack(on=True)) == "not now", "nobody may see any yet"
    assert racks(shown(evening, first)) == []
    evening.do(0, LetSee(place=first, on=True))
    assert racks(shown(evening, first)) == [], "nobody has agreed"
    evening.do(1, ShowRack(on=True))
    assert racks(shown(evening, first)) == [1]
    assert racks(shown(evening, second)) == [], "the host let the other one"
    assert shown(evening, first).tables[0].chairs[1].rack == evening.heat(1).rack
    assert [chair.shows for chair in evening.view(3).chairs] == [False, True, False, False]
    evening.do(1, ShowRack(on=False))
    assert racks(shown(evening, first)) == []


def test_only_the_host_lets_see_and_another_pair_of_eyes_asks_everybody_anew() -> None:
    evening = begun()
    first, second = evening.join("Kim"), watch(evening)
    assert evening.refused(1, LetSee(place=first, on=True)) == "host only"
    agreed(evening, first)
    evening.do(0, LetSee(place=second, on=True))
    assert racks(shown(evening, first)) == racks(shown(evening, second)) == []
    evening.do(1, ShowRack(on=True))
    assert racks(shown(evening, first)) == racks(shown(evening, second)) == [1]
    evening.do(0, LetSee(place=first, on=False))
    assert racks(shown(evening, second)) == []
    assert evening.refused(0, LetSee(place=9, on=True)) == "no such person"


def test_a_pause_covers_racks_beside_the_table_too_and_a_bot_shows_none() -> None:
    evening = begun()
    place = evening.join("Kim")
    agreed(evening, place)
    evening.do(0, Pause())
    assert racks(shown(evening, place)) == []
    evening.do(0, Resume())
    assert racks(shown(evening, place)) == [1]
    evening.do(1, Leave())
    assert racks(shown(evening, place)) == []


def test_that_a_rack_was_shown_is_in_the_record_before_it_is_seen_and_not_when_none_was() -> None:
    evening = begun()
    place = evening.join("Kim")
    evening.do(0, LetSee(place=place, on=True))
    assert evening.table.record.shown == 0
    evening.do(1, ShowRack(on=True))
    assert evening.table.record.shown == 1
    silent = begun()
    place = silent.join("Kim")
    silent.do(0, LetSee(place=place, on=True))
    silent.take(silent.table.disconnected(place, silent.now_ms))
    silent.do(1, ShowRack(on=True))
    assert silent.table.record.shown == 0, "nobody was there to see it"
    silent.join("Kim", silent.tokens[place])
    assert silent.table.record.shown == 1


def test_a_rack_counts_as_shown_only_where_one_who_may_see_it_is_here_and_not_somebody_else() -> None:
    evening = begun()
    place = evening.join("Kim")
    watch(evening)
    evening.do(0, LetSee(place=place, on=True))
    evening.take(evening.table.disconnected(place, evening.now_ms))
    evening.do(1, ShowRack(on=True))
    assert evening.table.record.shown == 0


def test_of_each_chair_the_clock_and_who_plays_are_seen_and_afterwards_its_time_and_how_it_ended() -> None:
    evening = begun()
    place = watch(evening)
    evening.take(evening.table.disconnected(2, evening.now_ms))
    evening.do(0, SeatBot(chair=2))
    evening.wait(500)
    chairs = shown(evening, place).tables[0].chairs
    assert [chair.sitter for chair in chairs] == ["person", "person", "bot", "person"]
    assert [chairs[chair].left_ms for chair in (0, 1)] == [evening.heat(chair).clock.left_ms for chair in (0, 1)]
    assert chairs[0].left_ms > 0
    evening.wait(max(evening.heat(chair).clock.left_ms for chair in (0, 1, 3)) + 1_000)
    evening.play_heat()
    [heat] = shown(evening, place).tables[0].results
    assert [heat.chairs[chair].timeouts for chair in (0, 1, 3)] == [1, 1, 1]
    assert (heat.chairs[2].timeouts, heat.chairs[2].bot, heat.chairs[0].bot) == (0, True, False)


def test_what_only_one_seat_sees_of_itself_is_shown_to_nobody_beside_the_table() -> None:
    evening = begun()
    place = watch(evening)
    evening.ids[0] += 1
    lift = Command(id=evening.ids[0], heat=1, intent=Lift(step="first right", tiles=()))
    out = evening.table.command(0, lift, evening.now_ms)
    assert place not in out.changed
    evening.take(out)
    evening.do(0, Pause())
    assert shown(evening, place).revision > 0


@pytest.mark.parametrize("name", ["Kim", "Somebody Else"])
def test_whoever_sits_down_after_a_rack_was_shown_plays_from_the_next_heat_on(name: str) -> None:
    """Also a stranger: they could be who watched, under another name."""
    evening = begun()
    place = evening.join("Kim")
    agreed(evening, place)
    if name != "Kim":
        evening.do(place, Leave())
    evening.do(2, Leave())
    evening.wait(1)
    chair = 2 if name == "Kim" else evening.join(name)
    assert chair == 2
    assert (evening.view(2).chairs[2].name, evening.view(2).chairs[2].sitter) == (name, "bot")
    assert evening.refused(2, TakeSeat()) == "not now"
    evening.play_heat()
    assert evening.view(2).chairs[2].sitter == "person"


def test_where_no_rack_was_shown_who_waited_plays_at_once() -> None:
    evening = begun()
    evening.join("Kim")
    evening.do(2, Leave())
    evening.wait(1)
    assert (evening.view().chairs[2].name, evening.view().chairs[2].sitter) == ("Kim", "person")


def test_who_played_in_the_heat_and_watches_now_gets_no_second_rack_of_it() -> None:
    evening = begun()
    token = evening.tokens[3]
    evening.do(3, Leave())
    evening.join("Lea")
    place = evening.join("Person 4", token)
    assert place == FIRST
    evening.do(1, Leave())
    evening.wait(1)
    assert evening.view().chairs[1].name != "Person 4"
    evening.play_heat()
    evening.wait(1)
    assert evening.view().chairs[1].name == "Person 4"


# ---- limits


def test_so_many_have_a_place_and_the_first_who_is_away_makes_room() -> None:
    evening = full()
    for number in range(MOST_BESIDE):
        evening.join(f"Guest {number}")
    refused = evening.knock("One more")
    assert isinstance(refused, Rejected)
    assert refused.close == Close.TABLE_FULL
    evening.take(evening.table.disconnected(7, evening.now_ms))
    assert evening.join("One more") == 7
    assert len(evening.view().beside) == MOST_BESIDE


def test_who_was_sent_off_stays_out() -> None:
    evening = full()
    place = evening.join("Kim")
    evening.do(0, SendOff(place=place))
    assert evening.closed == [(place, Close.SENT_AWAY)]
    for answer in (evening.knock("Kim", evening.tokens[place]), evening.table.watch("Kim", evening.tokens[place])):
        assert isinstance(answer, Rejected)
        assert answer.close == Close.SENT_AWAY


def test_a_crowd_from_one_address_gets_no_place_and_changes_nothing() -> None:
    evening = full()
    before = evening.table.record
    answer = evening.table.join("Kim", None, evening.now_ms, crowded="Too many.")
    assert answer == Rejected(Close.TABLE_FULL, "Too many.")
    assert evening.table.record == before


# ---- secrecy


def seen_beside(seed: int, agrees: bool, monkeypatch: pytest.MonkeyPatch, swapped: bool) -> list[bytes]:
    """Play a heat that a watcher follows; return every frame they were sent. swapped: all racks but jokers differ."""
    real: Any = charleston.deal

    def other(wall: Any) -> Any:
        kinds = [kind for kind in KINDS if kind != JOKER]
        ways = dict(zip(kinds, kinds[1:] + kinds[:1], strict=True)) if swapped else {}
        return real(tuple(ways.get(tile, tile) for tile in wall))

    monkeypatch.setattr(charleston, "deal", other)
    evening = Evening(QUICK, people=4, seed=seed)
    place = evening.join("Kim")
    frames: list[bytes] = []
    evening.after = lambda: frames.append(TO_CLIENT.pack(shown(evening, place)))
    evening.do(0, LetSee(place=place, on=True))
    evening.ready()
    if agrees:
        evening.do(1, ShowRack(on=True))
    step = 0
    while evening.table.record.phase == "heat":
        for chair in evening.people():
            if evening.table.record.phase == "heat" and evening.heat(chair).owes:
                heat = evening.heat(chair)
                tiles = sorted((tile for tile in heat.rack if tile != JOKER), key=heat.rack.index)[: heat.give]
                asked: dict[str, Intent] = {
                    "go on": Vote(go_on=True),
                    "plan": Plan(hand="", discards=()),
                }
                assert heat.step
                evening.ask(chair, asked.get(heat.step) or Pass(step=heat.step, tiles=tuple(tiles)))
        evening.wait(1_000)
        step += 1
        assert step < 500
    return frames


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_watcher_without_consent_is_sent_the_same_bytes_whatever_the_racks_are(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        one = seen_beside(seed, False, patch, swapped=False)
    with monkeypatch.context() as patch:
        other = seen_beside(seed, False, patch, swapped=True)
    assert len(one) > 30
    assert one == other


def test_with_consent_the_test_before_sees_the_racks_differ(monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patch:
        one = seen_beside(1, True, patch, swapped=False)
    with monkeypatch.context() as patch:
        other = seen_beside(1, True, patch, swapped=True)
    assert one != other


def test_what_an_older_host_kept_has_nobody_beside_it() -> None:
    record = full().table.record.model_dump()
    del record["beside"], record["shown"]
    assert TableRecord.model_validate(record).beside == ()


# ---- what was voted and offered


def test_who_is_beside_is_told_votes_and_offers_when_the_players_are_and_not_before() -> None:
    evening = full(QUICK.model_copy(update={"side_courtesy": True, "courtesy": True}))
    place, told = watch(evening), set[tuple[str, str]]()
    evening.ready()
    while evening.view(0).heat:
        evening.wait(500)
        chair = next((chair for chair in evening.people() if evening.view(0).heat and evening.heat(chair).owes), None)
        if chair is not None:
            evening.answer(chair)
        if (heat := evening.view(0).heat) is None:
            break
        seats = {seat.chair: (seat.vote, seat.offer, seat.side, seat.side_offer) for seat in heat.seats}
        chairs = shown(evening, place).tables[0].chairs
        seen = {number: (one.vote, one.offer, one.side, one.side_offer) for number, one in enumerate(chairs)}
        assert seen == seats
        fields = ("vote", "offer", "side_offer")
        told |= {(str(heat.step), field) for field in fields if getattr(chairs[0], field) is not None}
    assert {field for _, field in told} == {"vote", "offer", "side_offer"}
    assert ("go on", "vote") not in told
    assert ("courtesy offer", "offer") not in told
    assert ("side offer", "side_offer") not in told
    assert all(one.vote is None and one.offer is None for one in shown(evening, place).tables[0].chairs)
