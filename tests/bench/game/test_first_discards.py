"""First discards held against play-outs: a discard that is forced goes, and what a choice loses is counted."""

import numpy as np
import pytest

from shared.rules.tiles import INDEX, KINDS
from tests.bench.game.first_discards import Row, regret
from tests.bench.game.hands import hands_of
from tests.bench.game.laid import LADDER, card_of, ladder, lay
from tests.bench.game.play import play, walls_of


def test_a_dealer_who_must_let_go_of_a_tile_of_its_hand_wins_less() -> None:
    hands = hands_of(card_of(LADDER, with_ladder=False))
    racks, _ = lay((f"{ladder('b')} N", "", "", ""))
    walls = walls_of(racks[None], 12, np.random.Generator(np.random.PCG64(3)))
    wins = {tile: (play(hands, racks[None], walls, first=INDEX[tile]).winner == 0).sum() for tile in ("N", "4b")}
    assert wins["4b"] < wins["N"]


def test_the_walls_stay_as_they_are() -> None:
    hands = hands_of(card_of(LADDER, with_ladder=False))
    racks, wall = lay((f"{ladder('b')} N", "", "", ""))
    walls = np.repeat(wall[None], 3, axis=0)
    before = walls.copy()
    first, again = (play(hands, racks[None], walls, first=KINDS.index("N")) for _ in range(2))
    assert (walls == before).all()
    assert (first.winner == again.winner).all()
    assert len(set(first.winner.tolist())) == 1


def test_regret_is_what_the_best_wins_more_in_the_other_half() -> None:
    row = Row([3, 5], ["0000", "1111"], [(3, 0.0), (5, 1.0)], 3)
    assert regret(row, [3]) == 100
    assert regret(row, [5]) == 0
    assert regret(row, [3, 5]) == 0
    luck = Row([3, 5], ["1010", "0101"], [(3, 0.0), (5, 1.0)], 3)
    assert regret(luck, [3]) == pytest.approx(-50)
