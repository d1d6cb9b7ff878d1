"""The table as one synchronous value: its heats, their clocks, and what is told when."""

from typing import Any

import pytest

from server.records import TableRecord
from shared.rules.charleston import HELD
from shared.rules.events import Passed, RackArranged
from shared.rules.heat import HEAT, final_state
from shared.rules.intents import (
    Arrange,
    ChangeSettings,
    Extend,
    Leave,
    Lift,
    NewSet,
    NotReady,
    Offer,
    Pass,
    Pause,
    Resume,
    SeatBot,
    Vote,
)
from shared.rules.pace import GRACE_MS
from shared.rules.seats import chair_of
from shared.rules.tiles import JOKER
from shared.rules.wall import seeded_secret, wall_key
from shared.wire.messages import TO_CLIENT, Done, HeatFile, OwnHeat, Refused
from tests.heats import faults
from tests.tables import QUICK, READY, Evening, never, slow

# ---- clocks at the table


@pytest.mark.parametrize(("after_ms", "counts"), [(-1, True), (0, True), (1, False)])
def test_a_commit_counts_if_it_was_read_by_the_deadline_and_its_grace(after_ms: int, counts: bool) -> None:
    evening = Evening(people=1)
    evening.ready()
    own = evening.heat().rack
    tiles = tuple(tile for tile in own if tile != JOKER)[:3]
    evening.now_ms += 24_000 + GRACE_MS + after_ms
    answer = evening.ask(0, Pass(step="first right", tiles=tiles))
    assert isinstance(answer, Done) is counts
    if isinstance(answer, Refused):
        assert (answer.code, answer.late_ms) == ("late", GRACE_MS + after_ms)


def test_who_is_too_late_for_the_last_step_of_all_hears_by_how_much() -> None:
    evening = Evening(QUICK.model_copy(update={"second": "never"}), people=4)
    evening.ready()
    evening.go_to("courtesy offer")
    for chair in range(4):
        evening.do(chair, Offer(count=1))
    tiles = tuple(tile for tile in evening.heat(2).rack if tile != JOKER)[:1]
    deadline_ms = evening.heat(2).clock.left_ms
    evening.wait(deadline_ms + 300)
    assert evening.finished
    answer = evening.ask(2, Pass(step="courtesy give", tiles=tiles))
    assert isinstance(answer, Refused)
    assert (answer.code, answer.late_ms) == ("late", 300)


def test_a_pause_stops_people_and_bots_and_neither_loses_time() -> None:
    evening = Evening(people=1)
    evening.ready()
    evening.wait(1_000)
    left = evening.heat().clock.left_ms
    evening.do(0, Pause())
    assert evening.refused(0, Pause()) == "not now"
    evening.wait(3_600_000)
    assert evening.heat().paused
    assert evening.heat().clock.left_ms == left
    assert not any(seat.answered for seat in evening.heat().seats)
    assert evening.table.next_deadline_ms() is None
    evening.do(0, Resume())
    evening.wait(800)
    assert not any(seat.answered for seat in evening.heat().seats), "a bot takes two seconds at least, one had gone"
    evening.answer(0)
    evening.wait(24_000)
    assert [answer.by for answer in evening.heat().route[:1]] == ["person"]
    finished = evening.play_heat()
    bots_by = {event.by for event in finished.events if isinstance(event, Passed) and event.seat != 0}
    assert bots_by == {"bot"}


def test_a_host_cannot_hold_a_step_for_ever_and_make_its_heat_too_long_to_send() -> None:
    evening = Evening(people=1)
    evening.ready()
    for _ in range(HELD // 2):
        evening.do(0, Extend(by_ms=1_000))
        evening.do(0, Pause())
        evening.do(0, Resume())
    assert evening.refused(0, Extend(by_ms=1_000)) == evening.refused(0, Pause()) == "too often"
    evening.answer(0)
    while evening.heat().step == "first right":
        evening.wait(500)
    evening.do(0, Pause())


def test_a_bot_that_takes_a_seat_during_a_pause_begins_when_the_clocks_run_again() -> None:
    evening = Evening(people=2)
    evening.ready()
    evening.do(0, Pause())
    evening.wait(600_000)
    evening.do(0, SeatBot(chair=1))
    assert evening.heat(1).rack == (), "covered for people, not for the bird that takes over"
    evening.wait(600_000)
    evening.do(0, Resume())
    evening.answer(0)
    evening.wait(24_000)
    assert evening.heat(1).route[0].by == "bot"


def test_a_bot_that_takes_a_seat_over_late_still_answers_before_the_clock() -> None:
    evening = Evening(slow(carry_over=False), people=2)
    evening.ready()
    evening.answer(0)
    evening.wait(23_000)
    evening.do(1, Leave())
    evening.wait(1_000)
    assert evening.heat(1).route[0].by == "bot"


def test_a_stall_is_given_back_and_written_down() -> None:
    evening = Evening(slow(), people=1)
    evening.ready()
    evening.wait(1_000)
    left = evening.heat().clock.left_ms
    evening.now_ms += 7_000
    evening.take(evening.table.stalled(7_000, evening.now_ms))
    assert evening.heat().clock.left_ms == left
    moved = [event for event in evening.events[1] if event.kind == "deadlines moved"]
    assert [event.model_dump() for event in moved] == [{"kind": "deadlines moved", "by_ms": 7_000, "why": "stall"}]
    assert not evening.table.stalled(7_000, evening.now_ms + 1).thoughts


def test_no_stall_is_given_back_while_no_clock_runs() -> None:
    evening = Evening(people=1)
    assert not evening.table.stalled(5_000, evening.now_ms).events
    evening.ready()
    evening.do(0, Pause())
    assert not evening.table.stalled(5_000, evening.now_ms).events


def test_the_host_gives_more_time_to_those_who_still_decide() -> None:
    evening = Evening(slow(), people=2)
    evening.ready()
    evening.answer(0)
    before = [evening.heat(chair).clock.left_ms for chair in (0, 1)]
    evening.do(0, Extend(by_ms=30_000))
    assert [evening.heat(chair).clock.left_ms for chair in (0, 1)] == [before[0], before[1] + 30_000]


def test_a_pass_that_was_read_in_a_pause_and_comes_after_its_end_counts_as_read_at_its_end() -> None:
    evening = Evening(slow(), people=2)
    evening.ready()
    evening.wait(2_000)
    evening.do(0, Pause())
    evening.wait(5_000)
    evening.do(0, Resume())
    evening.now_ms -= 300
    evening.answer(1)
    evening.now_ms += 300
    heat = evening.play_heat()
    assert faults(heat, never) == ()
    answer = next(event for event in heat.events if isinstance(event, Passed))
    assert answer.spent_ms == 2_000


def test_a_bot_whose_answer_the_rules_refuse_is_answered_for_by_the_clock_and_stops_nothing() -> None:
    def wrong(view: Any, stream: Any) -> Any:
        return Pass(step="first right", tiles=("J", "J", "J"))

    evening = Evening(people=1, think=wrong)
    evening.ready()
    evening.answer(0)
    evening.wait(24_000)
    assert evening.table.next_deadline_ms() > evening.now_ms, "nothing is tried again and again"  # type: ignore[operator]
    evening.wait(GRACE_MS + 1)
    assert evening.heat().step == "first across"


# ---- each command counts exactly once


def test_a_command_sent_twice_is_answered_twice_and_done_once() -> None:
    evening = Evening(slow(), people=1)
    evening.ready()
    evening.answer(0)
    events, id = list(evening.events[1]), evening.ids[0]
    again = evening.ask(0, Vote(go_on=False), id=id)
    assert again == Done(id=id)
    assert evening.events[1] == events


def test_every_command_of_a_set_sent_again_at_any_later_moment_changes_nothing() -> None:
    evening = Evening(slow(heats=1), people=2, seed=5)
    old: list[tuple[int, int]] = []

    def repeat() -> None:
        seen = [(chair, number) for chair in (0, 1) for number in range(1, evening.ids[chair] + 1)]
        old[:] = seen

    evening.after = repeat
    evening.ready()
    while not evening.finished:
        evening.people_answer()
        for chair, number in old:
            before = evening.table.record, evening.views()
            answer = evening.ask(chair, Extend(by_ms=600_000), id=number)
            assert isinstance(answer, Done)
            assert (evening.table.record, evening.views()) == before
        evening.wait(1_000)
    assert faults(evening.finished[0], never) == ()


def test_a_command_that_was_overtaken_by_a_later_one_is_not_done() -> None:
    evening = Evening(people=1)
    evening.ids[0] = 5
    assert isinstance(evening.ask(0, READY, id=5), Done)
    answer = evening.ask(0, Pause(), id=4)
    assert isinstance(answer, Refused)
    assert answer.code == "repeated"
    assert not evening.heat().paused


def test_a_refused_command_sent_again_is_refused_again_with_the_same_words() -> None:
    evening = Evening(people=1)
    first = evening.ask(0, Pause(), id=1)
    evening.ids[0] = 1
    evening.do(0, READY)
    assert evening.ask(0, Pause(), id=1) == first
    assert not evening.heat().paused


def test_old_answers_are_not_kept_for_ever_and_old_commands_still_do_nothing() -> None:
    evening = Evening(people=1)
    evening.ready()
    for number in range(1, 200):
        evening.ask(0, Arrange(tiles=evening.heat().rack), id=1_000 * number)
    answer = evening.ask(0, Pause(), id=1_000)
    assert isinstance(answer, Refused)
    assert answer.code == "repeated"
    assert not evening.heat().paused


def test_the_ids_of_a_former_sitter_do_not_bind_the_next() -> None:
    evening = Evening(people=2)
    evening.ids[1] = 900
    evening.do(1, NotReady())
    evening.do(1, Leave())
    assert evening.join("Cy") == 1
    assert isinstance(evening.ask(1, NotReady(), id=1), Done)


# ---- east, heats and sets


@pytest.mark.parametrize("first", ["1", "2", "3", "4"])
def test_the_deal_moves_one_seat_to_the_right_after_each_heat(first: Any) -> None:
    evening = Evening(QUICK.model_copy(update={"heats": 5, "first_east": first}), people=4)
    order = []
    for _ in range(5):
        ahead = evening.view().east
        order.append(evening.play_heat().east)
        assert ahead == order[-1]
    start = int(first) - 1
    assert order == [(start + turn) % 4 for turn in range(5)]


def test_who_is_alone_deals_and_does_not_deal_in_turn() -> None:
    evening = Evening(people=1)
    dealt = [len(final_state(evening.play_heat()).dealt[evening_seat(evening)]) for _ in range(3)]
    assert dealt == [14, 13, 14]


def evening_seat(evening: Evening) -> int:
    return (0 - evening.finished[-1].east) % 4


def test_the_lot_gives_a_chair_that_stays_the_same_when_asked_again() -> None:
    settings = QUICK.model_copy(update={"first_east": "lot"})
    easts = set()
    for number in range(40):
        record = TableRecord(id=f"table {number}", name="Boathouse", code="c", settings=settings)
        evening = Evening(record=record, people=2)
        assert evening.view().east == evening.view(1).east
        easts.add(evening.view().east)
    assert easts == {0, 1, 2, 3}


def test_heats_are_counted_and_the_set_ends_with_the_last_and_a_new_one_begins() -> None:
    evening = Evening(QUICK.model_copy(update={"heats": 2}), people=2)
    assert evening.play_heat().number == 1
    assert evening.view().phase == "between"
    assert evening.play_heat().number == 2
    assert evening.view().phase == "over"
    assert [result.number for result in evening.view().results] == [1, 2]
    evening.do(0, NewSet())
    assert evening.view().phase == "seating"
    assert evening.view().results == ()
    heat = evening.play_heat()
    assert (heat.number, heat.east) == (3, 2), "the deal moves on through all sets"


def test_a_set_made_shorter_than_what_has_been_played_ends_with_the_next_heat() -> None:
    evening = Evening(QUICK.model_copy(update={"heats": 4}), people=2)
    for _ in range(2):
        evening.play_heat()
    evening.do(0, ChangeSettings(settings=QUICK.model_copy(update={"heats": 1})))
    evening.play_heat()
    assert evening.view().phase == "over"


def test_a_seed_makes_the_same_deals_again_whatever_people_contribute() -> None:
    def deals(seed: int | None, dice: int) -> list[Any]:
        evening = Evening(QUICK.model_copy(update={"seed": seed, "heats": 2}), people=1, seed=dice)
        return [evening.play_heat().events[0] for _ in range(2)]

    assert deals(7, 1) == deals(7, 2)
    assert deals(7, 1)[0] != deals(7, 1)[1]
    assert deals(8, 1) != deals(7, 1)
    assert deals(None, 1) != deals(None, 2)


def test_a_repeatable_heat_can_be_verified_too() -> None:
    evening = Evening(QUICK.model_copy(update={"seed": 7}), people=2)
    heats = [evening.play_heat() for _ in range(3)]
    assert [heat.secret for heat in heats] == [seeded_secret(7, number) for number in (1, 2, 3)]
    assert all(heat.contributions == (b"",) * 4 for heat in heats)
    assert all(faults(heat, never) == () for heat in heats)


def test_the_seed_is_shown_to_the_host_who_chose_it_and_told_to_nobody() -> None:
    """With it anybody could work out the walls of all heats to come."""
    seed = 7_654_321_987
    settings = QUICK.model_copy(update={"seed": seed, "heats": 2})
    evening = Evening(settings, people=2)
    for _ in range(2):
        assert [evening.view(chair).settings.seed for chair in (0, 1)] == [seed, None]
        evening.ready()
        evening.take(evening.table.disconnected(0, evening.now_ms))
        evening.wait(60_000)
        assert evening.view(1).keeps, "the next one keeps the table for a host whose line is down"
        assert evening.view(1).settings.seed is None
        evening.join("", evening.tokens[0])
        assert evening.play_heat().settings == settings.unseeded()
    assert told(evening, HeatFile)[1] >= 2
    assert all(seed.to_bytes(8, "big") not in TO_CLIENT.pack(message) for message in evening.sent[1])


# ---- what is told, and when


def told(evening: Evening, kind: type[Any]) -> list[int]:
    return [sum(isinstance(message, kind) for message in evening.sent[chair]) for chair in range(4)]


def test_at_the_end_everybody_sees_everybodys_seconds_racks_and_the_secret() -> None:
    evening = Evening(people=2)
    heat = evening.play_heat()
    end = final_state(heat)
    for chair in (0, 1):
        (result,) = evening.view(chair).results
        assert result.opened
        assert result.secret == heat.secret.hex()
        assert tuple(seat.final for seat in result.seats) == end.racks
        assert tuple(seat.dealt for seat in result.seats) == end.dealt
        assert [seat.chair for seat in result.seats] == [chair_of(seat, heat.east) for seat in range(4)]  # type: ignore[arg-type]
        for seat in result.seats:
            assert seat.total_ms == sum(step.spent_ms for step in seat.spent)
            assert [step.step for step in seat.spent][:4] == ["first right", "first across", "first left", "go on"]
    assert told(evening, HeatFile) == [1, 1, 0, 0]
    file = next(message for message in evening.sent[0] if isinstance(message, HeatFile))
    assert HEAT.unpack(file.data) == heat


def test_a_fidget_makes_the_heat_that_everybody_is_sent_no_longer() -> None:
    evening = Evening(people=2)
    evening.ready()
    rack = evening.heat(1).rack
    for _ in range(400):
        evening.do(1, Arrange(tiles=rack[::-1]))
        evening.do(1, Arrange(tiles=rack))
    heat = evening.play_heat()
    arranged = [event.tiles for event in heat.events if isinstance(event, RackArranged)]
    assert arranged == [rack]
    assert faults(heat, never) == ()


def test_where_the_racks_stay_closed_nothing_is_opened_before_the_sets_end() -> None:
    evening = Evening(QUICK.model_copy(update={"open_racks": False, "heats": 2}), people=2)
    heat = evening.play_heat()
    for chair in (0, 1):
        (result,) = evening.view(chair).results
        assert not result.opened
        assert result.secret == ""
        assert not any(seat.dealt or seat.final for seat in result.seats)
        assert any(seat.total_ms for seat in result.seats)
        packed = repr(evening.view(chair))
        assert heat.secret.hex() not in packed
    assert told(evening, HeatFile) == [0, 0, 0, 0]
    assert told(evening, OwnHeat) == [1, 1, 0, 0]
    evening.play_heat()
    assert all(result.opened for result in evening.view(0).results)
    assert told(evening, HeatFile) == [2, 2, 0, 0]


def test_the_commitment_after_a_seeded_set_is_that_of_the_heat_that_comes_next() -> None:
    evening = Evening(QUICK.model_copy(update={"heats": 2, "seed": 7}), people=2)
    for _ in range(2):
        shown = evening.view().commitment
        assert evening.play_heat().commitment == shown
    assert evening.view().phase == "over"
    shown = evening.view().commitment
    evening.do(0, NewSet())
    assert evening.play_heat().commitment == shown


def test_a_set_that_is_broken_off_is_opened_before_the_next_begins() -> None:
    evening = Evening(QUICK.model_copy(update={"open_racks": False}), people=2)
    heat = evening.play_heat()
    evening.do(0, NewSet())
    files = [message for message in evening.sent[1] if isinstance(message, HeatFile)]
    assert [HEAT.unpack(file.data) for file in files] == [heat]


def test_one_owns_heat_holds_ones_own_tiles_only() -> None:
    evening = Evening(QUICK.model_copy(update={"open_racks": False}), people=2)
    heat = evening.play_heat()
    end = final_state(heat)
    for chair in (0, 1):
        own = next(message.heat for message in evening.sent[chair] if isinstance(message, OwnHeat))
        seat = (chair - heat.east) % 4
        assert own.seat == seat
        assert (own.dealt, own.final) == (end.dealt[seat], end.racks[seat])
        assert [step.came for step in own.steps] == [done.came[seat] for done in end.done if done.answers[seat]]
        assert own.names[own.seat] == f"Person {chair + 1}"


def test_who_rejoins_gets_the_finished_heats_again_and_a_newcomer_only_what_is_open() -> None:
    evening = Evening(QUICK.model_copy(update={"open_racks": False, "heats": 3}), people=1)
    evening.play_heat()
    chair = evening.join("Bo")
    assert told(evening, OwnHeat)[chair] == 0
    assert told(evening, HeatFile)[chair] == 0
    evening.sent.clear()
    evening.join("", evening.tokens[0])
    assert told(evening, OwnHeat)[0] == 1


def test_no_secret_no_key_and_no_hidden_tile_is_in_what_anyone_sees_during_a_heat() -> None:
    evening = Evening(people=4, seed=9)

    def look() -> None:
        head = evening.table.record.head
        if not head:
            return
        key = wall_key(head.secret, head.contributions)
        for view in evening.views():
            text = repr(view)
            for secret in (head.secret, key):
                assert secret.hex() not in text
                assert repr(secret) not in text

    evening.after = look
    evening.play_heat()


def test_what_a_seat_does_for_itself_alone_is_told_to_nobody_else() -> None:
    evening = Evening(slow(), people=2)
    evening.ready()
    others = [evening.view(chair) for chair in (1, 2, 3)]
    rack = evening.heat(0).rack
    evening.do(0, Arrange(tiles=rack[::-1]))
    evening.do(0, Lift(step="first right", tiles=tuple(tile for tile in rack if tile != JOKER)[:2]))
    assert [evening.view(chair) for chair in (1, 2, 3)] == others


def test_a_view_grows_its_revision_whenever_it_is_told() -> None:
    evening = Evening(people=2)
    seen = [evening.view(0).revision]
    evening.ready()
    seen.append(evening.view(0).revision)
    evening.answer(0)
    seen.append(evening.view(0).revision)
    evening.wait(30_000)
    seen.append(evening.view(0).revision)
    assert seen == sorted(set(seen))
