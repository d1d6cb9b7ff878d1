"""Bots choose legal passes from what their seat knows, each strength in its own way."""

import numpy as np
import pytest

from shared.coach.distance import away, counts_of
from shared.coach.passes import Position, legal_passes, position_at, tiles_of
from shared.coach.policies import STRENGTHS, Strength, choose, nearness
from shared.rules.tiles import JOKER
from tests.shared.coach.racks import racks
from tests.shared.coach.synthetic import ENGINE


def dice(seed: int = 1) -> np.random.Generator:
    return np.random.Generator(np.random.PCG64(seed))


@pytest.mark.parametrize("strength", STRENGTHS)
def test_every_strength_gives_legal_tiles_at_every_kind_of_step(strength: Strength) -> None:
    for number, rack in enumerate(racks(41, 6)):
        for step in ("first right", "last right", "courtesy give"):
            position = position_at(step, tiles_of(rack), ())
            choice = choose(ENGINE, position, strength, dice(number))
            assert JOKER not in choice.tiles
            assert (counts_of(choice.tiles) <= rack).all()
            assert len(choice.tiles) in position.gives
            assert choice.blind == (3 - len(choice.tiles) if position.blind else 0)


@pytest.mark.parametrize("strength", STRENGTHS)
def test_the_same_dice_make_the_same_choice(strength: Strength) -> None:
    position = position_at("first across", tiles_of(racks(42, 1)[0]), ())
    assert choose(ENGINE, position, strength, dice()) == choose(ENGINE, position, strength, dice())


def test_the_nearest_hand_stays_as_near_as_it_can() -> None:
    for rack in racks(43, 10):
        choice = choose(ENGINE, Position(tiles_of(rack), (), 3), "nearest hand", dice())
        least = away(ENGINE.patterns, rack - legal_passes(rack, 3)).min()
        assert away(ENGINE.patterns, (rack - counts_of(choice.tiles))[None]).min() == least


def test_all_near_hands_count_each_by_its_distance() -> None:
    rack = racks(44, 1)[0]
    expected = sum(np.exp(-1.5 * int(tiles)) for tiles in away(ENGINE.patterns, rack[None])[0])
    assert nearness(ENGINE.patterns, rack[None])[0] == pytest.approx(expected, rel=1e-12)


def test_a_distracted_coach_often_chooses_otherwise_and_never_at_a_glance() -> None:
    position = position_at("first right", tiles_of(racks(45, 1)[0]), ())
    glances = {choose(ENGINE, position, "coach, at a glance", dice(seed)) for seed in range(12)}
    distracted = {choose(ENGINE, position, "coach, distracted", dice(seed)) for seed in range(12)}
    assert len(glances) == 1
    assert len(distracted) > 2
