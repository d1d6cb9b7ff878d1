"""Laid heats: the tiles are what was asked for, the rules go on from there, and no drill passes for a fair deal."""

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from client.hosting.table import play_bots
from shared.rules.charleston import decide
from shared.rules.drills import Laid, drill_settings, lay, replay_from
from shared.rules.events import AnyEvent, Passed, StepBegan
from shared.rules.heat import SavedHeat, final_state, sealed
from shared.rules.intents import Pass
from shared.rules.refusals import Refusal
from shared.rules.seats import SEATS, Seat
from shared.rules.settings import Settings
from shared.rules.state import State, evolve, replay
from shared.rules.steps import PASSES, STEP_NAMES, StepName
from shared.rules.tiles import JOKER, Rack, full_set
from shared.rules.wall import Stream
from tests.heats import faults

KEYS = st.binary(min_size=1, max_size=8)


def drawn(key: bytes) -> tuple[Rack, list[Rack]]:
    """Return a rack and six packets out of one shuffled set, none of the packets with a joker."""
    pool = Stream(key, "test").shuffled(full_set())
    rest = [tile for tile in pool[14:] if tile != JOKER]
    return pool[:14], [tuple(rest[at : at + 3]) for at in range(0, 18, 3)]


def dice(step: StepName) -> Stream:
    return Stream(b"dice", step)


def passed_on(state: State, choose: Stream) -> State:
    """Let every seat pass three tiles at random."""
    step = state.step
    assert step is not None
    for seat in SEATS:
        tiles = choose.sample([tile for tile in state.racks[seat] if tile != JOKER], 3)
        events = decide(state, seat, Pass(step=step, tiles=tiles), 1_000, "bot", dice)
        assert not isinstance(events, Refusal)
        for event in events:
            state = evolve(state, event)
    return state


@given(KEYS, KEYS)
def test_what_comes_in_is_what_was_laid_whatever_anybody_passes(key: bytes, choices: bytes) -> None:
    rack, comes = drawn(key)
    laid = lay(Settings(), rack, comes, key, "a test")
    state, choose = replay(laid.settings, laid.events), Stream(choices, "choose")
    assert Counter(state.racks[Seat.EAST]) == Counter(rack)
    for packet in comes:
        assert state.step in PASSES
        state = passed_on(state, choose)
        assert Counter(state.fresh[Seat.EAST]) == Counter(packet)


@given(KEYS)
def test_a_laid_deal_is_one_whole_set(key: bytes) -> None:
    rack, comes = drawn(key)
    state = replay(*(lambda laid: (laid.settings, laid.events))(lay(Settings(), rack, comes, key, "a test")))
    tiles = [tile for seat in SEATS for tile in state.racks[seat]] + list(state.wall)
    assert Counter(tiles) == Counter(full_set())
    assert [len(state.racks[seat]) for seat in SEATS] == [14, 13, 13, 13]


def test_tiles_that_the_set_does_not_hold_cannot_be_laid() -> None:
    rack, comes = drawn(b"x")
    five: Rack = ("1b",) * 5 + rack[5:]
    with pytest.raises(ValueError, match="cannot be laid"):
        lay(Settings(), five, comes, b"", "a test")
    with pytest.raises(ValueError, match="cannot be laid"):
        lay(Settings(), rack, [("J", *comes[0][1:]), *comes[1:]], b"", "a test")
    with pytest.raises(ValueError, match="fourteen"):
        lay(Settings(), rack[:13], comes, b"", "a test")


def test_a_drill_keeps_the_clock_that_was_asked_for() -> None:
    settings = drill_settings(Settings(level_ms=120_000, lengths_ms={"go on": 7_000}))
    assert (settings.level_ms, settings.length_ms("go on")) == (120_000, 7_000)


@pytest.fixture(scope="module")
def heat() -> SavedHeat:
    """A heat of four bots."""
    return play_bots(Settings(seed=11, heats=1, side_courtesy=True, bot_skill="simple"))[0]


def passes_before(events: tuple[AnyEvent, ...], seat: Seat) -> list[Rack]:
    return [event.tiles for event in events if isinstance(event, Passed) and event.seat == seat]


@pytest.mark.parametrize("step", [step for step in STEP_NAMES if step != "plan"])
def test_a_saved_heat_stands_at_every_step_as_it_stood_then(heat: SavedHeat, step: StepName) -> None:
    laid = replay_from(heat, Seat.WEST, step)
    assert isinstance(laid, Laid)
    state = replay(laid.settings, laid.events)
    assert state.step == step
    assert isinstance(laid.events[-1], StepBegan)
    assert [done.step for done in state.done] == list(STEP_NAMES[: STEP_NAMES.index(step)])
    whole = final_state(heat)
    assert state.dealt == whole.dealt
    assert [done.answers for done in state.done] == [done.answers for done in whole.done[: len(state.done)]]


def test_a_step_that_was_not_played_cannot_be_played_again(heat: SavedHeat) -> None:
    assert replay_from(heat, Seat.EAST, "plan") == "The step plan was not played in this heat."


def test_a_drill_never_passes_for_a_fair_deal(heat: SavedHeat) -> None:
    drill = sealed(heat.model_copy(update={"commitment": ""}))
    (told,) = faults(drill, lambda card, rack: False)
    assert "drill" in told
