"""Racks for the simulator: what the Charleston leaves on the racks, and one rack among other tables' racks."""

import numpy as np
import pytest

from tests.bench.first_release import charlestons
from tests.bench.first_release.release import engine
from tests.bench.game.deals import Deals, after_six_passes, among_others, committed_points
from tests.bench.game.hands import JOKER_KIND

SET = [4] * 34 + [8, 8]


@pytest.fixture(scope="module")
def mixed() -> Deals:
    seats = ("coached", "softened", "softened", "softened")
    return after_six_passes(engine(), seats, 3, np.random.Generator(np.random.PCG64(1)))


def test_six_passes_leave_every_seat_its_number_of_tiles_and_lose_none(mixed: Deals) -> None:
    assert mixed.racks.sum(axis=2).tolist() == [[14, 13, 13, 13]] * 3
    assert mixed.passed.sum(axis=2).tolist() == [[18] * 4] * 3
    assert not mixed.passed[:, :, JOKER_KIND].any(), "no joker is ever passed"
    dealt = charlestons.deal(np.random.Generator(np.random.PCG64(1)), 3)
    assert np.array_equal(mixed.racks.sum(axis=1), dealt.sum(axis=1))


def test_softened_seats_alone_play_the_charlestons_of_the_first_release() -> None:
    seats = ("softened",) * 4
    ours = after_six_passes(engine(), seats, 5, np.random.Generator(np.random.PCG64(2)))
    theirs = charlestons.play(engine().patterns, np.random.Generator(np.random.PCG64(2)), 5)
    assert np.array_equal(ours.racks, theirs.racks)
    assert np.array_equal(ours.passed, theirs.passed)


def test_a_coached_seat_ends_with_more_than_a_softened_one() -> None:
    seats = ("coached", "softened", "coached", "softened")
    points = committed_points(engine(), after_six_passes(engine(), seats, 12, np.random.Generator(np.random.PCG64(3))))
    assert points[:, [0, 2]].mean() > points[:, [1, 3]].mean() + 3


def test_a_rack_among_others_is_whole_and_the_others_stay_nearly_what_they_were() -> None:
    deals = after_six_passes(engine(), ("softened",) * 4, 6, np.random.Generator(np.random.PCG64(4)))
    racks, walls = among_others(deals, 2, 1, 20, np.random.Generator(np.random.PCG64(5)))
    for table, wall in zip(racks, walls, strict=True):
        assert (table.sum(axis=0) + np.bincount(wall, minlength=36)).tolist() == SET
        assert table.sum(axis=1).tolist() == [14, 13, 13, 13]
        assert np.array_equal(table[1], deals.racks[2, 1])
        others = [seat for seat in range(4) if seat != 1]
        changed = [np.abs(table[others].astype(int) - deal[others]).sum() / 2 for deal in deals.racks]
        assert min(changed[:2] + changed[3:]) <= 10
