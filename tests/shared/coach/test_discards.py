"""The first discard: what the rack misses least, and who might call it."""

import numpy as np
import pytest

from shared.coach.aims import winning
from shared.coach.discards import discards
from shared.coach.distance import Patterns, counts_of
from shared.coach.engine import Engine
from shared.coach.passes import Position, tiles_of
from shared.rules.typed_tiles import typed
from tests.shared.coach.racks import racks
from tests.shared.coach.synthetic import ENGINE, pattern

PLAY = (0,) * 5 + (1,) * 10


def over(text: str) -> Position:
    return Position(typed(text), (), 0, (), made=6)


def everybody_wants(*tiles: str, concealed: bool = False) -> Engine:
    hands = [[(tile, 4), ("F", 4), ("1b", 3), ("9d", 3)] for tile in tiles]
    variants = [pattern(hand, groups) for hand, groups in enumerate(hands)]
    return Engine(Patterns.of_variants(variants, range(len(hands)) if concealed else ()), winning(PLAY))


def test_a_useless_tile_goes_first_and_costs_nothing() -> None:
    engine = everybody_wants("N")
    found = discards(engine, over("N N N F F F F 1b 1b 9d 9d 9d 5c J"), 1)
    assert found[0].tile == "5c"
    assert found[0].loss == 0
    assert min(discard.loss for discard in found[1:]) > 0
    assert [discard.points for discard in found] == sorted((discard.points for discard in found), reverse=True)
    assert all(discard.loss == found[0].points - discard.points for discard in found)


def test_every_kind_but_jokers_is_listed_once() -> None:
    for rack in racks(66, 6):
        found = [discard.tile for discard in discards(ENGINE, Position(tiles_of(rack), (), 0, (), made=6), 1)]
        assert sorted(found) == sorted({tile for tile in tiles_of(rack) if tile != "J"})
    assert discards(ENGINE, Position(("J",) * 8, (), 0, (), made=6), 1) == ()


def test_points_are_those_of_the_rack_without_the_tile() -> None:
    rack = racks(67, 1)[0]
    now = Position(tiles_of(rack), (), 0, (), made=6)
    for discard in discards(ENGINE, now, 1)[:4]:
        change = -counts_of([discard.tile]).astype(np.int8)[None]
        expected = 100 * float(ENGINE.changed_as_it_is(now, change)[0])
        assert discard.points == pytest.approx(expected, abs=1e-5)
        assert discard.points <= ENGINE.as_it_is(now) + 1e-3


def test_a_tile_that_everybody_wants_is_called_more_often() -> None:
    engine = everybody_wants("N", "E")
    risk = {
        discard.tile: discard.called for discard in discards(engine, over("N E W S 1b 2c 3c 4c 5c 6c 7c 8c 2d R"), 1)
    }
    assert all(0 <= called <= 1 for called in risk.values())
    assert risk["W"] == risk["2c"] == risk["R"] == 0
    assert min(risk["N"], risk["1b"]) > 0.05


def test_nobody_calls_for_a_concealed_hand_and_what_is_in_hand_already_cannot_be_held_by_others() -> None:
    rack = "N E W S 1b 2c 3c 4c 5c 6c 7c 8c 2d R"
    assert {found.called for found in discards(everybody_wants("N", concealed=True), over(rack), 1)} == {0}
    most = over("N N N N W S 2c 3c 4c 5c 6c 7c 8c 2d")
    risk = {found.tile: found.called for found in discards(everybody_wants("N"), most, 1)}
    assert risk["N"] == 0


def test_the_same_seed_gives_the_same_answer() -> None:
    now = Position(tiles_of(racks(68, 1)[0]), (), 0, (), made=6)
    assert discards(ENGINE, now, 4) == discards(ENGINE, now, 4)
