"""A card made by a seeded generator, invented for tests: about 60 hands and 1,000 variants of many shapes.

Nothing of it is meant to be played; it only has runs, like ranks, pairs only, quints, winds, dragons and flowers in it.
"""

import itertools
import random
from collections.abc import Iterator

from shared.cards import Variant
from shared.coach.distance import Patterns
from shared.coach.engine import Engine
from shared.rules.tiles import COPIES, DRAGON_OF_SUIT, INDEX, KINDS, Tile

Groups = tuple[tuple[str, int], ...]


def pattern(hand: int, groups: Groups | list[tuple[Tile, int]]) -> Variant:
    """Return a pattern from (tile, count) groups; a count of three or more may take jokers."""
    pairs, large = [0] * len(KINDS), [0] * len(KINDS)
    for tile, count in groups:
        (large if count >= 3 else pairs)[INDEX[tile]] += count  # type: ignore[index]
    return Variant(hand, tuple(pairs), tuple(large))


def _faces(dice: random.Random) -> list[str]:
    """Return the faces of one hand: a rank offset with a suit letter, a dragon of a suit, a wind or a flower."""
    suits = dice.choice(["p", "pq", "pqr"])
    step = dice.choice([0, 1, 1, 2])
    faces = [f"{index * step}{suits[index % len(suits)]}" for index in range(dice.randint(2, 5))]
    faces += dice.sample(["D" + suits[0], "N", "E", "W", "S", "F", "F"], dice.randint(0, 2))
    return list(dict.fromkeys(faces))


def _sizes(dice: random.Random, parts: int) -> list[int] | None:
    sizes = [dice.choice([1, 2, 2, 2, 3, 3, 3, 4, 4, 5]) for _ in range(parts)]
    return sizes if sum(sizes) == 14 else None


def _variants(faces: list[str], sizes: list[int]) -> Iterator[list[tuple[str, int]]]:
    top = max((int(face[0]) for face in faces if face[0].isdigit()), default=0)
    seen = set()
    for n, suits in itertools.product(range(1, 10 - top), itertools.permutations("bcd")):
        suit_of = dict(zip("pqr", suits, strict=True))
        tiles = [
            f"{n + int(face[0])}{suit_of[face[1]]}"
            if face[0].isdigit()
            else DRAGON_OF_SUIT[suit_of[face[1]]]
            if face[0] == "D"
            else face
            for face in faces
        ]
        groups = list(zip(tiles, sizes, strict=True))
        key = tuple(sorted(groups))
        if key not in seen:
            seen.add(key)
            yield groups


def _possible(groups: list[tuple[str, int]]) -> bool:
    return all(size <= COPIES[tile] or size == 5 for tile, size in groups)  # type: ignore[index]


def make(hands: int = 60, variants: int = 1000, seed: int = 20260) -> list[Variant]:
    """Return patterns of exactly the hands asked for and about the variants asked for, the same for one seed."""
    dice = random.Random(seed)
    made: list[list[list[tuple[str, int]]]] = []
    known: set[tuple[tuple[str, ...], tuple[int, ...]]] = set()
    while len(made) < hands:
        faces = _faces(dice)
        sizes = _sizes(dice, len(faces))
        if sizes is None or (tuple(faces), tuple(sizes)) in known:
            continue
        known.add((tuple(faces), tuple(sizes)))
        found = [groups for groups in _variants(faces, sizes) if _possible(groups)]
        mean = (variants - sum(map(len, made))) / (hands - len(made))
        if mean * 0.5 <= len(found) <= max(mean * 1.5, 1) and found:
            made.append(found)
    return [pattern(hand, groups) for hand, many in enumerate(made) for groups in many]  # type: ignore[arg-type]


CARD = Patterns.of_variants(make())
ENGINE = Engine(CARD)
