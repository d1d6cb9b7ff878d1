"""The referee lets no foul pass: each record here was fair until one thing in it was changed."""

from collections import Counter
from collections.abc import Callable

import numpy as np
import pytest

from shared.rules.tiles import INDEX
from tests.bench.game.hands import JOKER_KIND
from tests.bench.game.laid import card_of, ladder, lay, told, watched
from tests.bench.game.play import How, Move
from tests.bench.game.referee import Foul, Referee, Variant

WINDS = "N^3 E^3 W^4 S^4"
N, R, D9 = INDEX["N"], INDEX["R"], INDEX["9d"]
Record = list[tuple[int, ...]]


def follow(hand: str, racks: tuple[str, str, str, str], record: Record, wall: str = "") -> None:
    card = card_of(hand)
    counts, tiles = lay(racks, wall)
    held = [Counter(np.repeat(np.arange(36), seat).tolist()) for seat in counts]
    Referee(Variant.all_of(card), held, tiles.tolist()).follow(record)


CALLER = "N N E E W W W S S S 9d"
RACKS = (f"{ladder('b')} N", ladder("c"), CALLER, ladder("d"))
DISCARD = (Move.DISCARD, 0, N, 0, 0)
SHOW = (Move.GROUP, 2, N, 3, 0)


def fair() -> Record:
    counts, tiles = lay(RACKS, "R")
    return watched(card_of(WINDS), counts, tiles)[1]


def test_a_fair_record_passes() -> None:
    record = fair()
    assert told(record, 2) == ["0 discards N", "2 shows N 3 with 0"]
    follow(WINDS, RACKS, record, "R")


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (lambda record: [(Move.DRAW, 1, R, 0, 0), *record], "turn to draw"),
        (lambda record: [(Move.DISCARD, 1, N, 0, 0), *record], "turn to discard"),
        (lambda record: [(Move.DISCARD, 0, R, 0, 0), *record[1:]], "not there"),
        (lambda record: [DISCARD, (Move.GROUP, 2, N, 2, 0)], "three or more"),
        (lambda record: [DISCARD, (Move.GROUP, 2, N, 4, 0)], "not there"),
        (lambda record: [DISCARD, (Move.GROUP, 2, N, 3, 1)], "not there"),
        (lambda record: [DISCARD, (Move.GROUP, 2, D9, 3, 0)], "no such discard"),
        (lambda record: [DISCARD, (Move.GROUP, 0, N, 3, 0)], "no such discard"),
        (lambda record: [DISCARD, SHOW, (Move.DRAW, 2, R, 0, 0)], "turn to draw"),
        (lambda record: [DISCARD, SHOW, (Move.DISCARD, 2, D9, 0, 0), (Move.DRAW, 1, R, 0, 0)], "turn to draw"),
        (lambda record: [DISCARD, (Move.DRAW, 2, R, 0, 0)], "turn to draw"),
        (lambda record: [DISCARD, (Move.DRAW, 1, N, 0, 0)], "next tile of the wall"),
        (lambda record: [DISCARD, (Move.WIN, 2, 0, How.CALL, 0)], "not finished"),
        (lambda record: [(Move.WIN, 0, 0, How.OWN_TURN, 0)], "not finished"),
        (lambda record: [DISCARD, (Move.WIN, 1, 0, How.OWN_TURN, 0)], "turn"),
        (lambda record: [DISCARD, (Move.WALL, 1, 0, 0, 0)], "tiles left"),
        (lambda record: record[:-1], "not over"),
        (lambda record: [*record, record[-1]], "was over"),
        (lambda record: [DISCARD, SHOW, (Move.EXCHANGE, 2, N, 2, 0)], "no joker"),
        (lambda record: [DISCARD, (Move.EXCHANGE, 2, N, 2, 0)], "own turn"),
    ],
)
def test_a_foul_is_seen(change: Callable[[Record], Record], why: str) -> None:
    with pytest.raises(Foul, match=why):
        follow(WINDS, RACKS, change(fair()), "R")


def test_nothing_may_be_shown_of_a_concealed_hand() -> None:
    with pytest.raises(Foul, match="may be shown"):
        follow(f"{WINDS} C", RACKS, [DISCARD, SHOW])


def test_a_group_must_belong_to_a_hand() -> None:
    with pytest.raises(Foul, match="may be shown"):
        follow("N^4 E^4 W^4 S^2", RACKS, [DISCARD, SHOW])


def test_a_discarded_joker_is_dead() -> None:
    racks = (f"{ladder('b', 12)} J", ladder("c"), "J J N N N E E E W W W S S", ladder("d"))
    for call in ((Move.GROUP, 2, JOKER_KIND, 3, 0), (Move.WIN, 2, 0, How.CALL, 0)):
        with pytest.raises(Foul, match="dead"):
            follow(WINDS, racks, [(Move.DISCARD, 0, JOKER_KIND, 0, 0), call])


def test_a_joker_stands_in_no_pair() -> None:
    rack = "N J E E E E W W W W S S S S"
    with pytest.raises(Foul, match="not finished"):
        follow("N^2 E^4 W^4 S^4", (rack, "", "", ""), [(Move.WIN, 0, 0, How.OWN_TURN, 0)])
    follow("N^3 E^4 W^3 S^4", ("N J J E E E E W W W S S S S", "", "", ""), [(Move.WIN, 0, 0, How.OWN_TURN, 0)])


def test_a_finished_hand_must_be_called_and_goes_first_and_to_the_next_in_turn() -> None:
    waits = "N E E E E W W W W S S S S"
    hand = "N^2 E^4 W^4 S^4"
    racks = (f"{ladder('b')} N", ladder("c"), waits, ladder("d"))
    with pytest.raises(Foul, match="before all else"):
        follow(hand, racks, [DISCARD, (Move.DRAW, 1, R, 0, 0)], "R")
    card = card_of("N^2 E^4 F^8", "N^2 R^4 G^4 O^4")
    counts, tiles = lay((f"{ladder('b')} N", ladder("c"), "N E E E E F F F F F F F F", "N R R R R G G G G O O O O"))
    held = [Counter(np.repeat(np.arange(36), seat).tolist()) for seat in counts]
    for seat, variant, foul in ((3, 1, True), (2, 0, False)):
        referee = Referee(Variant.all_of(card), held, tiles.tolist())
        record = [DISCARD, (Move.WIN, seat, variant, How.CALL, 0)]
        if foul:
            with pytest.raises(Foul, match="nearer"):
                referee.follow(record)
        else:
            referee.follow(record)


def test_no_tile_may_appear_twice() -> None:
    counts, tiles = lay(RACKS)
    held = [Counter(np.repeat(np.arange(36), seat).tolist()) for seat in counts]
    referee = Referee(Variant.all_of(card_of(WINDS)), held, tiles.tolist())
    referee.places[1].held[N] += 1
    with pytest.raises(Foul, match="lost or made"):
        referee.follow([DISCARD])
