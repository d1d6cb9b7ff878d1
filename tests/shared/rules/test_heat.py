"""The saved heat: it replays to the same end, and whatever is changed in it is found."""

from collections import Counter
from collections.abc import Callable, Sequence
from itertools import pairwise
from random import Random
from typing import Any

import msgpack
import pytest
from hypothesis import given
from hypothesis import settings as effort
from hypothesis import strategies as st

from shared.cards.play import MAX_TEXT_BYTES
from shared.codec import BadFrame
from shared.rules import heat as saved_heats
from shared.rules.charleston import HELD, TAKEN_BACK, open_heat
from shared.rules.events import (
    AnyEvent,
    ClocksRan,
    ClocksStopped,
    DeadlinesMoved,
    Dealt,
    Decided,
    HeatEnded,
    Moved,
    Offered,
    Passed,
    Planned,
    RackArranged,
    StepBegan,
    TakenBack,
    TilesLifted,
    Voided,
    Voted,
)
from shared.rules.heat import HEAT, SavedHeat, condensed, final_state, sealed
from shared.rules.intents import Arrange, Lift, TakeBack, Vote
from shared.rules.seats import SEATS, Seat, chair_of, seat_of
from shared.rules.settings import Settings
from shared.rules.state import replay
from shared.rules.tiles import Rack
from shared.rules.wall import commitment, wall_key
from shared.rules.wall_round import Attempt
from tests.heats import EAST, NORTH, SECRET, SOUTH, WEST, Heat, faults

KINDS_OF_EVENT = {
    "dealt", "step began", "tiles lifted", "rack arranged", "passed", "voted", "offered", "planned", "taken back",
    "moved", "decided", "agreed", "clocks stopped", "clocks ran", "deadlines moved", "heat ended",
}  # fmt: skip


def never(card: str, rack: Rack) -> bool:
    return False


def eventful() -> Heat:
    """Play a heat in which everything happens that can."""
    played = Heat(Settings(plan=True, final_at="step end", seed=7))
    played.do(EAST, Lift(step="first right", tiles=played.state.racks[EAST][:1]))
    played.do(SOUTH, Arrange(tiles=played.state.racks[SOUTH][::-1]))
    played.wait(2_000)
    played.answer(EAST)
    played.pause()
    played.wait(5_000)
    played.resume()
    played.wait(1_000)
    played.do(EAST, TakeBack(step="first right"))
    played.move_deadlines(3_000, "stall")
    played.move_deadlines(2_000, "host")
    played.wait(3_000)
    played.answer(WEST)
    played.wait_out()
    while played.state.step == "first right":
        played.wait_out()
    played.go_to("first left")
    for seat in SEATS:
        played.wait(500)
        played.answer(seat, blind=1)
    played.do(EAST, Vote(go_on=False))
    played.answer_all()
    played.wait(1_000)
    played.answer(NORTH, count=2)
    played.answer_all()
    played.wait(250)
    played.go_to("plan").answer(WEST)
    played.wait(100)
    played.wait_out()
    assert played.state.over
    return played


PLAYED = eventful()
SAVED = PLAYED.saved()
PACKED = HEAT.pack(SAVED)


def changed(**fields: Any) -> SavedHeat:
    """Return the heat with other fields and a digest that fits them, as a forger would write it."""
    return sealed(SAVED.model_copy(update=fields))


def with_event(index: int, event: AnyEvent) -> SavedHeat:
    return changed(events=(*SAVED.events[:index], event, *SAVED.events[index + 1 :]))


def first(kind: type[AnyEvent], where: Callable[[Any], bool] = lambda event: True) -> int:
    return next(index for index, event in enumerate(SAVED.events) if isinstance(event, kind) and where(event))


# ---- a true heat


def test_the_example_holds_every_kind_of_event_but_a_voided_deal() -> None:
    assert {event.kind for event in SAVED.events} == KINDS_OF_EVENT


def test_a_true_heat_has_no_fault_and_replays_to_its_end() -> None:
    assert faults(SAVED, never) == ()
    assert final_state(SAVED) == PLAYED.state
    assert final_state(SAVED).over


def test_what_is_written_and_read_again_is_the_same() -> None:
    assert HEAT.unpack(PACKED) == SAVED
    assert HEAT.pack(HEAT.unpack(PACKED)) == PACKED


def test_a_heat_whose_first_deal_was_voided_is_true_with_the_card_that_voided_it() -> None:
    first_rack = PLAYED.state.dealt[EAST]

    def complete(card: str, rack: Rack) -> bool:
        return card == "the card" and rack == first_rack

    voided = open_heat(SAVED.settings, wall_key(SECRET, SAVED.contributions), lambda rack: complete("the card", rack))
    played = Heat(SAVED.settings)
    played.events, played.state = list(voided), replay(SAVED.settings, voided)
    events = tuple(played.play_out().events)
    assert [event.kind for event in events[:4]] == ["dealt", "voided", "dealt", "step began"]
    assert faults(changed(card="the card", events=events), complete) == ()
    assert any("dealt tiles" in fault for fault in faults(changed(card="the card"), complete))
    assert any("dealt tiles" in fault for fault in faults(changed(events=events), complete))


@given(st.integers(0, 2**32))
@effort(max_examples=25, deadline=None)
def test_a_condensed_heat_is_true_and_ends_in_the_same_state(seed: int) -> None:
    chance = Random(seed)
    played = Heat(Settings(final_at="step end", plan=True))
    while not played.state.over:
        step, seat = played.state.step, chance.choice(SEATS)
        assert step
        for _ in range(chance.randint(0, 3)):
            rack = tuple(chance.sample(played.state.racks[seat], len(played.state.racks[seat])))
            played.ask(seat, Arrange(tiles=rack))
            played.ask(seat, Lift(step=step, tiles=rack[: chance.randint(0, 3)]))
        match chance.choice(["answer", "answer", "take back", "pause", "stall", "wait out"]):
            case "answer" if played.state.owes[seat]:
                played.answer(seat)
            case "take back":
                played.ask(seat, TakeBack(step=step))
            case "pause":
                played.pause()
                played.resume()
            case "stall":
                for _ in range(chance.randint(1, 3)):
                    played.move_deadlines(chance.randint(1, 500), chance.choice(["stall", "stall", "host"]))
            case "wait out":
                played.wait_out()
    whole = played.saved()
    bare = sealed(whole.model_copy(update={"events": condensed(whole.events)}))
    assert faults(bare, never) == ()
    assert final_state(bare) == played.state
    steps = sum(isinstance(event, StepBegan) for event in bare.events)
    answers = sum(isinstance(event, Passed | Voted | Offered | Planned | TakenBack) for event in bare.events)
    drafts = sum(isinstance(event, TilesLifted | RackArranged) for event in bare.events)
    assert drafts <= 2 * (4 * steps + answers)
    stalls = [isinstance(event, DeadlinesMoved) and event.why == "stall" for event in bare.events]
    assert not any(one and other for one, other in pairwise(stalls))


def test_the_longest_heat_that_people_can_make_is_a_saved_heat() -> None:
    """Everybody does all they may in every step, with a stall after each thing that is done."""
    played = Heat(Settings(final_at="step end", plan=True, hints="after each pass", seed=10**15))

    def stalled() -> None:
        if not played.state.over:
            played.move_deadlines(10**9, "stall")
            played.move_deadlines(10**9, "stall")

    while not played.state.over:
        step, held = played.state.step, played.state.held
        assert step
        for _ in range((HELD - held) // 2):
            played.pause()
            played.resume()
            played.move_deadlines(600_000, "host")
            stalled()
        for seat in SEATS:
            for _ in range(TAKEN_BACK + 1):
                rack = played.state.racks[seat][::-1]
                played.ask(seat, Arrange(tiles=rack))
                stalled()
                played.ask(seat, Lift(step=step, tiles=rack[:3]))
                stalled()
                if played.state.step == step and played.state.owes[seat]:
                    played.answer(seat)
                    stalled()
                if played.state.step == step and played.state.taken_back[seat] < TAKEN_BACK:
                    played.ask(seat, TakeBack(step=step))
                    stalled()
    names = ("\U0001f408" * 16,) * 4
    saved = played.saved().model_copy(update={"names": names, "card": "x" * MAX_TEXT_BYTES, "table": names[0]})
    longest = HEAT.pack(sealed(saved.model_copy(update={"events": condensed(saved.events)})))
    assert faults(HEAT.unpack(longest), never) == ()
    assert 300_000 < len(longest) < HEAT.limit


@pytest.mark.parametrize("other", [EAST, WEST])
def test_a_draft_is_dropped_for_a_later_one_although_another_seat_has_answered_between(other: Seat) -> None:
    played = Heat(Settings(final_at="step end"))
    for count in (1, 2, 3):
        played.do(SOUTH, Lift(step="first right", tiles=played.state.racks[SOUTH][:count]))
        if count == 2:
            played.answer(other)
    lifted = [event for event in condensed(tuple(played.events)) if isinstance(event, TilesLifted)]
    assert [len(event.tiles) for event in lifted] == [3]
    played.answer(SOUTH)
    played.do(SOUTH, TakeBack(step="first right"))
    played.do(SOUTH, Lift(step="first right", tiles=()))
    lifted = [event for event in condensed(tuple(played.events)) if isinstance(event, TilesLifted)]
    assert [len(event.tiles) for event in lifted] == [3, 0], "what was lifted when the seat answered is kept"


@pytest.mark.parametrize("east", range(4))
def test_chairs_and_seats_fit_each_other_whoever_deals(east: int) -> None:
    assert [seat_of(chair_of(seat, east), east) for seat in SEATS] == list(SEATS)
    assert chair_of(EAST, east) == east
    assert chair_of(SOUTH, east) == (east + 1) % 4, "the right neighbour of the dealer plays next"


# ---- accidents


@given(st.lists(st.integers(0, len(PACKED) * 8 - 1), min_size=12, max_size=12))
@effort(max_examples=60, deadline=None)
def test_one_flipped_bit_anywhere_in_a_saved_heat_is_found(bits: list[int]) -> None:
    for bit in bits:
        flipped = bytearray(PACKED)
        flipped[bit // 8] ^= 1 << bit % 8
        try:
            found = saved_heats.faults(bytes(flipped), never)
        except BadFrame:
            continue
        assert HEAT.unpack(bytes(flipped)) != SAVED
        assert found


@pytest.mark.parametrize("length", [0, 1, 100, len(PACKED) // 2, len(PACKED) - 1])
def test_a_torn_or_lengthened_file_is_not_read(length: int) -> None:
    for data in (PACKED[:length], PACKED + b"\0" * (length + 1)):
        with pytest.raises(BadFrame):
            HEAT.unpack(data)


@pytest.mark.parametrize("fields", [{"format": "another"}, {"version": HEAT.version + 1}, {"version": 0}, {"extra": 1}])
def test_another_format_or_version_is_not_read(fields: dict[str, Any]) -> None:
    with pytest.raises(BadFrame):
        HEAT.unpack(msgpack.packb({**SAVED.model_dump(), **fields}))


# ---- forgeries, each with a digest that fits


@pytest.mark.parametrize("field", ["table", "number", "played_at", "names", "sitters", "east", "card"])
def test_what_the_rules_cannot_check_is_still_guarded_against_accidents(field: str) -> None:
    others = {
        "table": "Elsewhere", "number": 2, "played_at": "2026-05-01T19:30:01Z", "names": ("A", "B", "C", "D"),
        "sitters": ("bot", "bot", "bot", "bot"), "east": 1, "card": "x",
    }  # fmt: skip
    heat = SAVED.model_copy(update={field: others[field]})
    assert any("digest" in fault for fault in faults(heat, never))


@pytest.mark.parametrize("number", range(6))
def test_another_secret_does_not_fit_the_commitment(number: int) -> None:
    found = faults(changed(secret=b"another secret that came later.%d" % number), never)
    assert any("commitment" in fault for fault in found)
    assert any("dealt tiles" in fault for fault in found)


def test_a_wall_holds_a_round_and_values_only_if_it_is_said_to_be_made_so() -> None:
    assert "The file says that the wall was made in a round, but holds none." in faults(changed(wall="round"), never)
    held = "A wall that was not made in a round holds somebody's value."
    for kind in ("seeded", "laid", "common"):
        assert faults(changed(wall=kind), never) == ()
        assert held in faults(changed(wall=kind, contributions=(b"", b"", b"", b"x")), never)
    attempt = Attempt(number=1, commitment=SAVED.commitment, chairs=())
    assert faults(changed(wall="seeded", attempts=(attempt,)), never) == (held,)


def test_a_secret_with_a_commitment_of_its_own_makes_another_wall() -> None:
    secret = b"another secret that came later.."
    found = faults(changed(secret=secret, commitment=commitment(secret)), never)
    assert len(found) == 1
    assert "dealt tiles" in found[0]


@pytest.mark.parametrize("chair", range(4))
def test_another_contribution_of_any_chair_makes_another_wall(chair: int) -> None:
    four = [b"", b"", b"", b""]
    four[chair] = b"sixteen bytes ok"
    assert any("dealt tiles" in fault for fault in faults(changed(contributions=tuple(four)), never))


def test_two_tiles_changed_in_the_deal_are_found() -> None:
    deal = SAVED.events[0]
    assert isinstance(deal, Dealt)
    east, south = deal.racks[0], deal.racks[1]
    racks = ((south[0], *east[1:]), (east[0], *south[1:]), *deal.racks[2:])
    assert any(
        "dealt tiles" in fault for fault in faults(with_event(0, deal.model_copy(update={"racks": racks})), never)
    )
    wall = (deal.wall[1], deal.wall[0], *deal.wall[2:])
    assert wall != deal.wall
    assert any("dealt tiles" in fault for fault in faults(with_event(0, deal.model_copy(update={"wall": wall})), never))


def test_other_settings_make_another_heat() -> None:
    for fields in ({"jokers": 0}, {"blind": False}, {"level_ms": 10_000}, {"courtesy": False}, {"plan": False}):
        assert faults(changed(settings=SAVED.settings.model_copy(update=fields)), never)


def test_a_missing_event_or_two_exchanged_ones_are_found() -> None:
    harmless = {"tiles lifted", "rack arranged", "deadlines moved"}
    for index, event in enumerate(SAVED.events):
        if event.kind not in harmless:
            found = faults(changed(events=SAVED.events[:index] + SAVED.events[index + 1 :]), never)
            assert found, f"event {index + 1} ({event.kind}) can be left out"
        if index:
            before = SAVED.events[index - 1]
            at_once = getattr(before, "at_ms", -1) == getattr(event, "at_ms", -2)
            if {before.kind, event.kind} & harmless or (at_once and before.kind == event.kind):
                continue  # two answers of one millisecond may have come in either order
            order = (*SAVED.events[: index - 1], event, before, *SAVED.events[index + 1 :])
            assert faults(changed(events=order), never), f"events {index} and {index + 1} can change places"


def test_a_repeated_answer_is_found() -> None:
    for index, event in enumerate(SAVED.events):
        if isinstance(event, Passed | Voted | Offered | Planned | Moved | Decided | HeatEnded | TakenBack):
            again = (*SAVED.events[: index + 1], event, *SAVED.events[index + 1 :])
            assert faults(changed(events=again), never), f"event {index + 1} ({event.kind}) can be repeated"


def test_nothing_follows_the_end_and_the_end_is_reached() -> None:
    more: Sequence[AnyEvent] = (
        DeadlinesMoved(by_ms=1_000, why="host"),
        RackArranged(seat=0, tiles=PLAYED.state.racks[EAST]),
        Voided(),
        ClocksStopped(at_ms=10**6),
    )
    for event in more:
        assert faults(changed(events=(*SAVED.events, event)), never) == (
            f"Event {len(SAVED.events) + 1} ({event.kind}) was not allowed: The heat had ended.",
        )
    assert any("end" in fault for fault in faults(changed(events=SAVED.events[:3]), never))


FORGERIES: list[tuple[type[AnyEvent], dict[str, Any]]] = [
    (Passed, {"spent_ms": 1}),
    (Passed, {"seat": 2}),
    (Passed, {"tiles": ("J", "J", "J")}),
    (Passed, {"tiles": ()}),
    (Voted, {"spent_ms": 10**6}),
    (Offered, {"seat": 1}),
    (Planned, {"discards": ("J", "J", "J")}),
    (Moved, {"at_ms": 1}),
    (Moved, {"step": "last right"}),
    (Decided, {"go_on": True}),
    (HeatEnded, {"at_ms": 1}),
    (ClocksStopped, {"at_ms": 1}),
    (ClocksRan, {"at_ms": 1}),
    (DeadlinesMoved, {"by_ms": 10**6}),
    (TilesLifted, {"tiles": ("J",)}),
    (RackArranged, {"tiles": ("J",)}),
    (TakenBack, {"seat": 3}),
]


@pytest.mark.parametrize(("kind", "fields"), FORGERIES)
def test_an_event_that_the_rules_do_not_make_is_found(kind: type[AnyEvent], fields: dict[str, Any]) -> None:
    index = first(kind)
    forged = SAVED.events[index].model_copy(update=fields)
    assert forged != SAVED.events[index]
    found = faults(with_event(index, forged), never)
    assert found
    assert all(fault.endswith(".") for fault in found)


def test_other_tiles_in_what_moved_are_found() -> None:
    index = first(Moved, lambda event: event.step == "first left")
    moved = SAVED.events[index]
    assert isinstance(moved, Moved)
    came = (moved.came[1], moved.came[0], *moved.came[2:])
    assert came != moved.came
    found = faults(with_event(index, moved.model_copy(update={"came": came})), never)
    cause = index - 1  # the last answer, which made the tiles move
    assert found == (f"Event {cause + 1} (passed) and what follows are not what the rules make.",)


def test_another_choice_of_the_blind_tiles_is_found() -> None:
    """The forwarded tiles come out of the deal's own stream, so that the host cannot choose them either."""
    index = first(Moved, lambda event: event.step == "first left")
    moved = SAVED.events[index]
    assert isinstance(moved, Moved)
    sent, came = list(moved.sent), list(moved.came)
    kept = next(tile for tile in came[0] if tile != sent[0][2])
    came[0] = tuple(sorted((*(tile for tile in came[0] if tile != kept), sent[0][2])))
    sent[0] = (*sent[0][:2], kept)
    assert Counter(sum(sent, ())) != Counter(sum(moved.sent, ())) or sent != list(moved.sent)
    assert faults(with_event(index, moved.model_copy(update={"sent": tuple(sent), "came": tuple(came)})), never)


def test_a_late_answer_is_found() -> None:
    index = first(Passed, lambda event: event.by == "person")
    event = SAVED.events[index]
    assert isinstance(event, Passed)
    late = event.model_copy(update={"at_ms": 10**6, "spent_ms": SAVED.settings.length_ms("first right")})
    assert any("Too late" in fault for fault in faults(with_event(index, late), never))


def test_a_clocks_answer_that_came_too_soon_or_from_other_tiles_is_found() -> None:
    index = first(Passed, lambda event: event.by == "timeout")
    event = SAVED.events[index]
    assert isinstance(event, Passed)
    assert faults(with_event(index, event.model_copy(update={"at_ms": event.at_ms - 1})), never)
    assert faults(with_event(index, event.model_copy(update={"tiles": event.tiles[::-1]})), never)


def test_no_file_however_forged_makes_the_check_fall_over() -> None:
    """Lists that are too long for any rack do not even pass for events."""
    long = ("1b",) * 15
    for index in (first(Passed), first(TilesLifted), first(RackArranged), first(Planned)):
        field = "discards" if isinstance(SAVED.events[index], Planned) else "tiles"
        data = HEAT.pack(with_event(index, SAVED.events[index].model_copy(update={field: long})))
        with pytest.raises(BadFrame):
            HEAT.unpack(data)
    for fields in ({"contributions": (b"x" * 300, b"", b"", b"")}, {"east": 4}, {"number": 0}):
        with pytest.raises(BadFrame):
            HEAT.unpack(HEAT.pack(changed(**fields)))


@given(st.data())
@effort(max_examples=60, deadline=None)
def test_events_in_any_order_are_judged_and_never_crash_the_check(data: st.DataObject) -> None:
    events = data.draw(st.lists(st.sampled_from(SAVED.events), max_size=30))
    assert faults(changed(events=(*SAVED.events[:2], *events)), never)


# ---- clocks that run out one after the other


@pytest.mark.parametrize("look_ms", [1, 400, 100_000])
def test_clocks_that_end_at_different_moments_are_verified_however_late_they_were_looked_at(look_ms: int) -> None:
    """With carry-over each seat has another deadline; the last seat's may come first."""
    played = Heat(Settings(level_ms=100_000))
    for seat in SEATS:
        played.wait(200)
        played.answer(seat)
    while not played.state.over:
        played.wait(look_ms)
    assert faults(played.saved(), never) == ()
    answers = [event for event in played.events if isinstance(event, Passed) and event.by == "timeout"]
    assert [answer.seat for answer in answers[:4]] == [NORTH, WEST, SOUTH, EAST]
