"""Chances at a table of four: own draws until somebody ends the hand, and discards that complete a group."""

from collections import Counter, defaultdict
from dataclasses import replace
from fractions import Fraction
from itertools import combinations, permutations, product

import numpy as np
import pytest

from shared.coach.chance import FINE, QUICK, Play, Precision, chances, finish_chance, odds_for, outlook_of
from shared.coach.distance import JOKER_INDEX, Counts, Patterns, counts_of
from shared.coach.targets import SET, nearest
from shared.rules.tiles import INDEX, Tile
from shared.rules.typed_tiles import typed
from tests.shared.coach.racks import racks
from tests.shared.coach.synthetic import CARD, pattern

OFFERED = (0.9, 0.9, 0.5, 0.3, 0.2, 0.1, 0.1, 0.1, 0.1)
AT_A_TABLE = Play((0, 0, 1, 4, 5, 7, 8, 8, 6, 5, 4, 4, 3, 2, 1), 3, 0.1, OFFERED)
"""From two to fourteen own draws; nothing here follows the numbers that the coach has now."""
HALF_CONCEALED = replace(CARD, concealed=np.arange(len(CARD)) % 2 == 1)
Sequence = tuple[tuple[Tile, int], ...]


# Every order of tiles on tiny sets, written apart from the formula.


def sequences(unseen: tuple[Tile, ...], wanted: set[Tile], comes: int) -> Counter[Sequence]:
    """Count the orders in which so many naturals can come, told by the wanted ones: kind and copy, in order."""
    labelled = [(tile, number) for number, tile in enumerate(unseen)]
    return Counter(tuple(token for token in order if token[0] in wanted) for order in permutations(labelled, comes))


def left_of(kind: Tile, order: list[tuple[Tile, int]], what: list[str], pair: int, group: int) -> int | None:
    """Return what a kind's group still lacks, None if its pair does; what says how each tile of the order comes."""
    mine = [(place, token) for place, token in enumerate(order) if token[0] == kind]
    free = sorted((token for place, token in mine if what[place] == "free"), key=lambda token: token[1])
    if len(free) < pair:
        return None
    for_group = set(free[pair:])
    left = max(group - len(for_group), 0)
    last_own = max((place for place, token in mine if token in for_group), default=-1)
    callable_after = any(what[place] == "offered" for place, _ in mine if place > last_own)
    return left - 1 if left and callable_after else left


def jokers_needed(
    rack: str, groups: list[tuple[str, int]], unseen: str, comes: int, play: Play, passed: int, concealed: bool
) -> dict[int, Fraction]:
    """Return the chance of each number of jokers that the pattern needs once so many naturals have come."""
    held, naturals = Counter(typed(rack)), tuple(tile for tile in typed(unseen) if tile != "J")
    pairs, large = Counter[Tile](), Counter[Tile]()
    for tile, count in groups:
        (large if count >= 3 else pairs)[tile] += count  # type: ignore[index]
    short = {
        kind: (max(pairs[kind] - held[kind], 0), max(large[kind] - max(held[kind] - pairs[kind], 0), 0))
        for kind in pairs | large
    }
    short = {kind: lacks for kind, lacks in short.items() if any(lacks)}
    free, copies = Fraction(play.free(passed)), Counter(naturals)
    offered = {kind: Fraction(0 if concealed else play.offered[copies[kind]]) for kind in short}
    found, every = defaultdict[int, Fraction](Fraction), 0
    for order, times in sequences(naturals, set(short), comes).items():
        every += times
        for what in product(("free", "offered", "not offered"), repeat=len(order)):
            chance = Fraction(times)
            for (kind, _), how in zip(order, what, strict=True):
                chance *= {
                    "free": free,
                    "offered": (1 - free) * offered[kind],
                    "not offered": (1 - free) * (1 - offered[kind]),
                }[how]
            lacks = [left_of(kind, list(order), list(what), *need) for kind, need in short.items()]
            if None not in lacks:
                found[sum(left or 0 for left in lacks)] += chance
    return {needed: chance / every for needed, chance in found.items()}


def by_every_order(
    rack: str, groups: list[tuple[str, int]], unseen: str, play: Play, passed: int, concealed: bool
) -> Fraction:
    """Draw the seat's own tiles in every way, then everything that is no joker in every order."""
    tiles, held = typed(unseen), typed(rack).count("J")
    naturals = sum(tile != "J" for tile in tiles)
    total = Fraction(0)
    for draws, weight in enumerate(play.draws):
        own = Counter(sum(tiles[i] == "J" for i in drawn) for drawn in combinations(range(len(tiles)), draws))
        for jokers, ways in own.items():
            comes = min(draws - jokers + play.discards * draws + passed, naturals)
            needed = jokers_needed(rack, groups, unseen, comes, play, passed, concealed)
            complete = sum((chance for need, chance in needed.items() if need <= held + jokers), Fraction(0))
            total += Fraction(weight * ways, sum(play.draws) * sum(own.values())) * complete
    return total


TINY_UNSEEN = "N N E E W J J 1b 2b"
TINY_PLAYS = (
    (Play((0, 0, 1), 1, 0.25, OFFERED), 0),
    (Play((1, 2, 3), 1, 0.0, OFFERED), 1),
    (Play((0, 1), 3, 0.1, OFFERED), 2),
    (Play((1, 2), 3, 1.0, OFFERED), 0),
    (Play((0, 1, 0, 1), 0, 0.0, OFFERED), 2),
)


@pytest.mark.parametrize("concealed", [False, True])
@pytest.mark.parametrize(("play", "passed"), TINY_PLAYS)
@pytest.mark.parametrize(
    ("groups", "rack"),
    [
        ([("N", 2), ("E", 3), ("F", 9)], "N E E F F F F F F F F J"),
        ([("N", 2), ("N", 3), ("E", 1), ("F", 8)], "N N N F F F F F F F F J"),
        ([("N", 1), ("N", 3), ("E", 3), ("F", 7)], "N N E F F F F F F F"),
        ([("W", 1), ("E", 4), ("F", 9)], "E F F F F F F J J J J"),
    ],
)
def test_tiny_cases_agree_with_every_order_of_what_may_come(
    groups: list[tuple[str, int]], rack: str, play: Play, passed: int, concealed: bool
) -> None:
    patterns = Patterns.of_variants([pattern(0, groups)])
    held, unseen = counts_of(typed(rack)), counts_of(typed(TINY_UNSEEN))
    expected = by_every_order(rack, groups, TINY_UNSEEN, play, passed, concealed)
    assert 0 < expected < 1
    pairs, large = patterns.pairs[0], patterns.groups[0]
    assert finish_chance(pairs, large, held, unseen, play, passed, concealed=concealed) == expected


def test_the_share_that_serves_any_need_is_own_draws_passes_and_last_tiles() -> None:
    assert Play.alone(30).free(9) == 1
    assert Play.alone(0).free(0) == 1
    assert Play((0, 0, 1, 0, 1), 3, 0.1).free(0) == pytest.approx((3 + 0.9) / 12)
    assert Play((0, 0, 1, 0, 1), 3, 0.1).free(6) == pytest.approx((3 + 0.9 + 6) / 18)
    assert Play((1,), 3, 0.1).free(6) == 1


def test_what_may_come_sums_to_one_and_no_more_comes_than_there_is() -> None:
    outlook = outlook_of(SET, AT_A_TABLE, 6)
    comes = outlook.comes()
    assert sum(comes.values()) == 1
    draws = sum(own * weight for own, weight in enumerate(AT_A_TABLE.draws)) / sum(AT_A_TABLE.draws)
    assert float(sum(jokers * chance for (jokers, _), chance in comes.items())) == pytest.approx(draws * 8 / 152)
    few = outlook_of(counts_of(typed("N E W J")), AT_A_TABLE, 6)
    assert max(naturals for _, naturals in few.comes()) == 3
    assert max(jokers for jokers, _ in few.comes()) == 1


# Floats.


@pytest.mark.parametrize(("precision", "error"), [(FINE, 1e-9), (QUICK, 2e-5)])
@pytest.mark.parametrize(
    ("play", "passed"),
    [
        (AT_A_TABLE, 0),
        (AT_A_TABLE, 9),
        (Play((0,) * 12 + (1,), 3, 0.1, OFFERED), 18),
        (Play((1,) * 20, 3, 0.1, OFFERED), 3),
    ],
)
def test_the_floats_are_the_fractions(precision: Precision, error: float, play: Play, passed: int) -> None:
    """Measured on 1,700 chances in six plays: at most 1e-13 (fine) and 5e-6 (quick; 3e-5 for 30 draws alone)."""
    for rack in racks(90 + passed, 2):
        unseen, near = SET - rack, nearest(HALF_CONCEALED, rack[None], 6)[0]
        coming = odds_for(HALF_CONCEALED, outlook_of(unseen, play, passed), precision)
        found = chances(HALF_CONCEALED, near, np.tile(rack, (len(near), 1)), unseen, coming)
        expected = [chance_of(variant, rack, unseen, play, passed) for variant in near]
        np.testing.assert_allclose(found, expected, rtol=0, atol=error)


def chance_of(variant: int, rack: Counts, unseen: Counts, play: Play, passed: int) -> float:
    pairs, groups = HALF_CONCEALED.pairs[variant], HALF_CONCEALED.groups[variant]
    concealed = bool(HALF_CONCEALED.concealed[variant])
    return float(finish_chance(pairs, groups, rack, unseen, play, passed, concealed=concealed))


# What must be so whatever the numbers are: by the fine floats, for every variant of the card.


def of_every(rack: Counts, unseen: Counts, play: Play, passed: int, patterns: Patterns = HALF_CONCEALED) -> Counts:
    every = np.arange(len(patterns))
    coming = odds_for(patterns, outlook_of(unseen, play, passed), FINE)
    return chances(patterns, every, np.tile(rack, (len(every), 1)), unseen, coming)


def after(draws: int) -> Play:
    return Play((0,) * draws + (1,), 3, 0.1, OFFERED)


def test_more_own_draws_never_hurt() -> None:
    for rack in racks(93, 3):
        for passed in (0, 9):
            by_draws = [of_every(rack, SET - rack, after(draws), passed) for draws in range(0, 26, 3)]
            assert (np.diff(by_draws, axis=0) >= -1e-9).all()
            assert (by_draws[-1] > by_draws[0]).any()


def test_more_passed_tiles_never_hurt() -> None:
    for rack in racks(94, 3):
        by_passed = [of_every(rack, SET - rack, AT_A_TABLE, passed) for passed in range(0, 19, 3)]
        assert (np.diff(by_passed, axis=0) >= -1e-9).all()


def test_one_more_useful_tile_in_the_rack_never_hurts() -> None:
    """It takes the place of a tile that no pattern wants, and is one of the unseen tiles no more."""
    groups = [[("N", 2), ("E", 3), ("W", 3), ("S", 4), ("F", 2)], [("N", 1), ("N", 3), ("E", 2), ("W", 4), ("F", 4)]]
    patterns = Patterns.of_variants([pattern(hand, each) for hand, each in enumerate(groups * 2)], {2, 3})
    idle, hurt = INDEX["1b"], []
    for seed in range(200):
        dice = np.random.Generator(np.random.PCG64(seed))
        rack = counts_of(dice.choice([*"NNNEEEWWWSSSFFFJ", *["1b"] * 8], 13, replace=False))  # type: ignore[arg-type]
        before = of_every(rack, SET - np.minimum(rack, SET), AT_A_TABLE, 0, patterns)
        for kind in (*(INDEX[tile] for tile in "NEWSF"), JOKER_INDEX):  # type: ignore[index]
            if not rack[idle] or rack[kind] >= SET[kind]:
                continue
            better = rack.copy()
            better[idle] -= 1
            better[kind] += 1
            change = of_every(better, SET - np.minimum(better, SET), AT_A_TABLE, 0, patterns) - before
            hurt.append(float(change.min()))
    assert len(hurt) > 500
    assert min(hurt) >= -1e-9


def test_a_concealed_twin_is_never_likelier_and_as_likely_where_nobody_discards() -> None:
    opened, closed = (replace(CARD, concealed=np.full(len(CARD), mark)) for mark in (False, True))
    for rack in racks(95, 4):
        for passed in (0, 6):
            seen = [of_every(rack, SET - rack, AT_A_TABLE, passed, card) for card in (opened, closed)]
            assert (seen[0] >= seen[1] - 1e-12).all()
            assert (seen[0] > seen[1] + 1e-6).any()
            alone = [of_every(rack, SET - rack, Play.alone(12), passed, card) for card in (opened, closed)]
            np.testing.assert_allclose(*alone, rtol=0, atol=1e-12)


def test_a_pair_short_is_worth_less_than_a_group_a_tile_short() -> None:
    """Two tiles of a kind are wanted and as many are out: as the pair, or as the last of a pung."""
    groups = [[("N", 2), ("E", 4), ("W", 4), ("S", 4)], [("N", 3), ("E", 4), ("W", 4), ("S", 3)]]
    patterns = Patterns.of_variants([pattern(hand, each) for hand, each in enumerate(groups)])
    full = "E E E E W W W W S S S"
    pair_short, group_short = (counts_of(typed(text)) for text in (f"{full} S N", f"{full} N N"))
    unseen = SET - counts_of(typed(f"{full} S N N"))
    at_pair, _ = of_every(pair_short, unseen, AT_A_TABLE, 0, patterns)
    _, at_group = of_every(group_short, unseen, AT_A_TABLE, 0, patterns)
    assert 0.05 < at_pair < 0.8 * at_group
    without = np.where(np.arange(36) == JOKER_INDEX, 0, unseen).astype(np.uint8)
    assert (
        of_every(pair_short, without, AT_A_TABLE, 0, patterns)[0]
        < of_every(group_short, without, AT_A_TABLE, 0, patterns)[1]
    ), "jokers are only a part of it: a pair cannot be called either"
