"""Deals to lay out with real tiles: the same that a table deals, with what comes in fixed beforehand."""

from collections import Counter

import pytest

from client.hosting.table import play_bots
from shared.rules.drills import lay
from shared.rules.heat import final_state
from shared.rules.laid_out import LaidOut, of_drill, of_heat, of_seed
from shared.rules.seat_heat import seat_heat
from shared.rules.seats import Seat
from shared.rules.settings import Settings
from shared.rules.steps import PASSES
from shared.rules.tiles import COPIES, JOKER, by_suit
from shared.rules.typed_tiles import typed
from shared.rules.wall import seeded_secret
from tests.client.heats import heat

FROM_WALL = Settings(seed=7, incoming="wall", blind=False, second="always", bot_skill="simple", heats=2)


@pytest.mark.parametrize("seat", [Seat.EAST, Seat.SOUTH])
@pytest.mark.parametrize("number", [1, 2])
def test_it_is_the_deal_that_a_table_deals_by_this_seed(number: int, seat: Seat) -> None:
    whole = play_bots(FROM_WALL)[number - 1]
    own = seat_heat(whole, final_state(whole), seat)
    laid = of_seed(7, number, seat)
    assert laid.rack == by_suit(own.dealt)
    came = {step.step: by_suit(step.came) for step in own.steps if step.step in PASSES}
    assert dict(laid.comes) == came


def test_it_can_be_laid_with_one_set_and_no_joker_comes_in() -> None:
    for seed in range(200):
        laid = of_seed(seed)
        coming = [tile for _, tiles in laid.comes for tile in tiles]
        assert len(coming) == 18
        assert JOKER not in coming
        assert all(count <= COPIES[tile] for tile, count in Counter((*laid.rack, *coming)).items())


def test_a_drill_lays_what_it_was_made_of() -> None:
    rack, comes = typed("1123b 567c 9d NEE FF J"), [typed("4b 5b 6b")] * 4 + [typed("1d 2d 3d")] * 2
    laid = of_drill(lay(Settings(), rack, comes, seeded_secret(1, 1), "late flowers"), "deal 1")
    assert laid == LaidOut("late flowers, deal 1", by_suit(rack), tuple(zip(PASSES, comes, strict=True)))


def test_of_a_saved_heat_it_is_what_came_then() -> None:
    own = heat(1)
    laid = of_heat(own)
    if isinstance(laid, str):
        assert any(len(step.came) != 3 for step in own.steps if step.step in PASSES)
    else:
        assert laid.rack == by_suit(own.dealt)
    assert "no tiles" in str(of_heat(own.model_copy(update={"dealt": ()})))
    blind = own.model_copy(update={"steps": (own.steps[0].model_copy(update={"came": ("1b",)}), *own.steps[1:])})
    assert "unseen" in str(of_heat(blind))
