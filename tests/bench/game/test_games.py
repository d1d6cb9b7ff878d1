"""Whole games, watched by a referee who knows the rules and no play."""

from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from shared.cards import first_evening_card
from tests.bench.first_release import charlestons
from tests.bench.first_release.release import card, engine
from tests.bench.game import compiled
from tests.bench.game.hands import JOKER_KIND, hands_of
from tests.bench.game.play import Games, How, Manners, Move, play, recorded, walls_of
from tests.bench.game.referee import Referee, Variant

HANDS = hands_of(card())
VARIANTS = Variant.all_of(card())
SEED, DEALS = 8, 6


@pytest.fixture(scope="module")
def games() -> list[tuple[Games, list[tuple[int, ...]]]]:
    rng = np.random.Generator(np.random.PCG64(SEED))
    racks = charlestons.play(engine().patterns, rng, DEALS).racks
    walls = walls_of(racks, 1, rng)
    played = [recorded(HANDS, rack, wall) for rack, wall in zip(racks, walls, strict=True)]
    for (_, record), rack, wall in zip(played, racks, walls, strict=True):
        held = [Counter(np.repeat(np.arange(36), seat).tolist()) for seat in rack]
        Referee(VARIANTS, held, wall.tolist()).follow(record)
    return played


def test_games_of_the_practice_card_keep_the_rules(games: list[tuple[Games, list[tuple[int, ...]]]]) -> None:
    moves = Counter(line[0] for _, record in games for line in record)
    assert all(moves[move] for move in (Move.DRAW, Move.DISCARD, Move.GROUP, Move.EXCHANGE, Move.WIN))
    assert {int(game.how[0]) for game, _ in games} >= {How.OWN_TURN, How.CALL}


def test_what_is_counted_is_what_the_record_says(games: list[tuple[Games, list[tuple[int, ...]]]]) -> None:
    for game, record in games:
        for seat in range(4):
            own = Counter(move for move, who, *_ in record if who == seat)
            assert game.draws[0, seat] == own[Move.DRAW]
            assert game.groups[0, seat] == own[Move.GROUP]
            assert game.exchanges[0, seat] == own[Move.EXCHANGE]
        assert game.discards[0] == sum(line[0] == Move.DISCARD for line in record)
        move, who, variant, how, _ = record[-1]
        if move == Move.WIN:
            assert (game.winner[0], game.variant[0], game.how[0]) == (who, variant, how)
        else:
            assert (game.winner[0], game.how[0]) == (-1, How.WALL)


def test_what_was_compiled_is_thrown_away_when_any_source_of_it_changes() -> None:
    folder = Path(compiled.__file__).parent
    using = {path.stem for path in folder.glob("*.py") if "@compiled" in path.read_text()} - {"test_games"}
    assert using <= set(compiled.SOURCES)


def test_the_same_racks_and_wall_make_the_same_game() -> None:
    rng = np.random.Generator(np.random.PCG64(3))
    racks = charlestons.deal(rng, 1)
    walls = walls_of(racks, 2, rng)
    one, two = recorded(HANDS, racks[0], walls[0]), recorded(HANDS, racks[0], walls[0])
    assert one[1] == two[1]
    assert recorded(HANDS, racks[0], walls[1])[1] != one[1]


def test_a_wall_holds_what_no_rack_holds() -> None:
    rng = np.random.Generator(np.random.PCG64(4))
    racks = charlestons.deal(rng, 2)
    walls = walls_of(racks, 3, rng)
    assert walls.shape == (6, 99)
    for deal, wall in enumerate(walls):
        whole = np.bincount(wall, minlength=36) + racks[deal // 3].sum(axis=0)
        assert whole.tolist() == [4] * 34 + [8, 8]
    assert len({tuple(wall) for wall in walls.tolist()}) == 6


def test_many_games_are_those_played_one_by_one_by_each_seats_manners() -> None:
    hands = hands_of(first_evening_card())
    rng = np.random.Generator(np.random.PCG64(5))
    racks = charlestons.deal(rng, 3)
    walls = walls_of(racks, 2, rng)
    manners = Manners(power=(1.5, 2.5, 4.0, 8.0), eager=(1.0, 1.2, 1.0, 2.0))
    together = play(hands, racks, walls, manners)
    alone = [recorded(hands, racks[game // 2], walls[game], manners)[0] for game in range(6)]
    assert together.winner.tolist() == [int(game.winner[0]) for game in alone]
    assert together.draws.tolist() == [game.draws[0].tolist() for game in alone]
    usual = play(hands, racks, walls)
    assert usual.draws.tolist() != together.draws.tolist()


def test_jokers_of_the_finished_hand_are_counted() -> None:
    hands = hands_of(first_evening_card())
    rng = np.random.Generator(np.random.PCG64(6))
    racks = charlestons.deal(rng, 4)
    for rack, wall in zip(racks, walls_of(racks, 1, rng), strict=True):
        game, record = recorded(hands, rack, wall)
        winner = int(game.winner[0])
        if winner < 0:
            continue
        jokers = int(rack[winner, JOKER_KIND])
        groups: dict[tuple[int, int], int] = {}
        for move, seat, kind, more, other in record:
            if move == Move.DRAW and seat == winner and kind == JOKER_KIND:
                jokers += 1
            if move == Move.DISCARD and seat == winner and kind == JOKER_KIND:
                jokers -= 1
            if move == Move.GROUP:
                groups[seat, sum(who == seat for who, _ in groups)] = kind
            if move == Move.EXCHANGE:
                jokers += (seat == winner) - (more == winner)
                assert groups[more, other] == kind
        assert game.jokers[0] == jokers
