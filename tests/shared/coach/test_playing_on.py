"""A rack played on: exact where the chance is known, never from tiles that are gone, always the same for a seed."""

from collections import Counter
from math import comb, sqrt

import pytest

from shared.cards import Card, practice_card, read_card
from shared.coach.aims import finishing
from shared.coach.distance import Patterns
from shared.coach.engine import Engine
from shared.coach.passes import Position
from shared.coach.playing_on import GAMES, Table, play_on, playing
from shared.rules.tiles import KINDS, Rack
from shared.rules.typed_tiles import typed

ENGINE = Engine.of_card(practice_card())
RACK = typed("1b 1b 3b 5c 5c 5c 6c 6c 7c F F F J")
ONE = b"""
    [card]
    title = "One"
    year = 2026
    [[section]]
    name = "One"
    [[section.hand]]
    groups = "F^4 N^4 E^4 S^1 W^1"
"""


def one_hand(draws: int) -> Engine:
    card = read_card(ONE)
    assert isinstance(card, Card), card
    return Engine(Patterns.of_card(card), finishing(draws))


def after_all(rack: Rack, passed: Rack = ()) -> Position:
    return Position(rack, passed, 0, (), courtesy=True, made=6)


@pytest.mark.parametrize("draws", [3, 10, 25])
def test_a_seat_that_waits_alone_for_one_tile_gets_it_as_often_as_counting_says(draws: int) -> None:
    waits = after_all(typed("F F F F N N N N E E E E S"), typed("W"))
    unseen = 152 - 13 - 1
    exact = 1 - comb(unseen - 3, draws) / comb(unseen, draws)
    found = play_on(one_hand(draws), waits, 5, 4000)
    assert abs(found.share / 100 - exact) < 4 * sqrt(exact * (1 - exact) / 4000)
    assert found.hands == ((0, found.won),)
    assert found.waits[0][0] == "W"


def test_tiles_that_are_gone_never_come() -> None:
    gone = after_all(typed("F F F F N N N N E E E E S"), typed("W W W W"))
    assert play_on(one_hand(30), gone, 1, 500, hand=0).won == 0


def test_a_complete_rack_has_won_before_anything_comes() -> None:
    found = play_on(one_hand(5), after_all(typed("F F F F N N N N E E E E S W")), 1, 50)
    assert (found.won, found.draws) == (50, 0)


def test_the_same_seed_plays_the_same_games_and_another_one_others() -> None:
    first, again, other = (play_on(ENGINE, after_all(RACK), seed, 300) for seed in (1, 1, 2))
    assert first == again
    assert first != other


def test_a_rack_held_to_one_hand_becomes_only_that() -> None:
    free = play_on(ENGINE, after_all(RACK), 3)
    best = free.hands[0][0]
    held = play_on(ENGINE, after_all(RACK), 3, GAMES, best)
    assert len(free.hands) > 1
    assert held.hands == ((best, held.won),)


def test_a_better_rack_wins_more() -> None:
    near = play_on(ENGINE, after_all(RACK), 4)
    far = play_on(ENGINE, after_all(typed("1b 4b 8b 2c 5c 9c 3d 6d N E S R O")), 4)
    assert far.won < near.won < GAMES


def test_a_seat_always_holds_thirteen_tiles_and_every_tile_is_in_one_place() -> None:
    for rack in (RACK, (*RACK, "9d")):
        position = after_all(rack)
        table = Table(ENGINE.patterns, ENGINE.aim_at(position), position, 200, None, 7)
        for turn in range(12):
            table.turn(turn)
            going = (table.finished == -1) & (table.ends > turn)
            assert (table.racks[going].sum(axis=1) == 13).all()
            assert (table.racks >= 0).all()
            assert (table.unseen >= 0).all()
            assert (table.shown <= table.racks).all()


def test_it_tells_after_each_draw_how_far_it_is() -> None:
    told = list(playing(ENGINE, after_all(RACK), 1, 100))
    shares, won = [share for _, share in told], [found.won for found, _ in told]
    assert shares == sorted(shares)
    assert shares[-1] == 1
    assert won == sorted(won)
    assert told[-1][0] == play_on(ENGINE, after_all(RACK), 1, 100)
    assert len(told) > 10


def test_a_single_game_is_told_as_it_goes() -> None:
    position = after_all((*RACK, "9d"))
    table = Table(ENGINE.patterns, ENGINE.aim_at(position), position, 1, None, 3)
    for turn in range(table.turns):
        table.turn(turn)
    held = Counter({KINDS.index(tile): count for tile, count in Counter(position.rack).items()})
    for what, kind in table.story:
        if what == "discard":
            held[kind] -= 1
        elif kind >= 0:
            held[kind] += 1
    assert held == Counter({kind: count for kind, count in enumerate(table.racks[0].tolist()) if count})
    assert table.story[0][0] == "discard"
    assert [what for what, _ in table.story].count("finish") == (table.finished[0] >= 0)
