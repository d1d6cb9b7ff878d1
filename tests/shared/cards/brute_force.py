"""A second expansion of the notation, written without the reader: it replaces text and looks each tile up."""

import re
from collections import Counter
from collections.abc import Iterator
from itertools import permutations, product

from shared.rules.tiles import COPIES, INDEX

Wanted = tuple[tuple[str, int, bool], ...]
"""Kinds with counts; True for what stands in groups of three or more."""
DRAGON = {"b": "G", "c": "R", "d": "O"}


def by_brute_force(groups: str, n: tuple[int, ...] | None, year: int, m: tuple[int, ...] | None = None) -> set[Wanted]:
    """Try every value for every letter of the notation, and throw out what cannot be."""
    found = set()
    for row in groups.split(" or "):
        for values in assignments(row, n, m):
            wanted: Counter[tuple[str, bool]] = Counter()
            for word in row.split():
                face, count = word.split("^")
                wanted[tile(face, values, year), int(count) >= 3] += int(count)
            if all(face in INDEX for face, _ in wanted) and can_be(wanted):
                found.add(tuple(sorted((face, count, large) for (face, large), count in wanted.items())))
    return found


def assignments(row: str, n: tuple[int, ...] | None, m: tuple[int, ...] | None) -> Iterator[dict[str, str]]:
    """Yield every value of every letter in a row, those that must differ different."""
    faces = [word.split("^")[0] for word in row.split()]
    ranks = "".join(face.split(".")[0] for face in faces if "." in face)
    suits = {face[-1] for face in faces if "." in face} | {face[-2] for face in faces if face.startswith("D")}
    shunned = sorted({face[-2] for face in faces if face.startswith("D(-")})
    for one, other in product(n or range(1, 10) if "n" in ranks else [0], m or range(1, 10) if "m" in ranks else [0]):
        if one == other and one:
            continue
        for chosen in product("bcd", repeat=len(suits)):
            suit = dict(zip(sorted(suits), chosen, strict=True))
            apart = [suit[letter] for letter in suit if letter not in "xy"]
            if len(set(apart)) < len(apart) or any(suit.get(letter, letter) != letter for letter in "bcd"):
                continue
            for winds in permutations("NEWS", sum(letter in faces for letter in "XZVU")):
                for dragons in permutations("RGO", sum(letter in faces for letter in "ABC")):
                    for others in product("RGO", repeat=len(shunned)):
                        if any(DRAGON[suit[s]] == dragon for s, dragon in zip(shunned, others, strict=True)):
                            continue
                        yield (
                            suit
                            | {"n": str(one), "m": str(other)}
                            | dict(zip([letter for letter in "XZVU" if letter in faces], winds, strict=True))
                            | dict(zip([letter for letter in "ABC" if letter in faces], dragons, strict=True))
                            | {f"-{s}": dragon for s, dragon in zip(shunned, others, strict=True)}
                        )


def tile(face: str, values: dict[str, str], year: int) -> str:
    """Return the code that a face becomes; of no tile if the rank is out of range."""
    if face in values:
        return values[face]
    if face.startswith("D(-"):
        return values[face[2:4]]
    if face.startswith("D("):
        return DRAGON[values[face[2]]]
    if "." not in face:
        return face
    rank, suit = face.split(".")
    if rank.startswith("Y"):
        rank = str(year)[int(rank[1]) - 1]
        return "O" if rank == "0" else rank + values[suit]
    spelled = rank.replace("n", values["n"]).replace("m", values["m"])
    return f"{sum(map(int, re.findall(r'[+-]?[0-9]+', spelled)))}{values[suit]}"


def can_be(wanted: Counter[tuple[str, bool]]) -> bool:
    """Whether the set holds what is wanted, with at most eight jokers in the larger groups."""
    jokers = 0
    for kind, copies in COPIES.items():
        if wanted[kind, False] > copies:
            return False
        jokers += max(0, wanted[kind, False] + wanted[kind, True] - copies)
    return jokers <= 8
