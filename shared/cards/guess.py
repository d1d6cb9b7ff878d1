"""From one example of a hand to what it may stand for, likeliest first.

Somebody who copies a hand from paper types an example, "FFFF 111b 2222b 333b", and chooses what is free about it. Each
proposal is made of one reading of the ranks, one of the suits, one of the dragons and one of the winds; every reading
has a weight, and the weights add up. The weights are a judgement, made with the practice card at hand; a bench says how
often the true hand is among the first four on hands that had no part in it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise, product

from shared.cards.example import Example, example_with
from shared.cards.expand import Pattern, Ranks, count_choices, expand_groups
from shared.cards.faces import (
    DRAGON_LETTERS,
    SUIT_LETTERS,
    WIND_LETTERS,
    Face,
    Fixed,
    Group,
    Ranked,
    Relative,
    SomeDragon,
    SomeWind,
    SuitDragon,
    YearDigit,
)
from shared.cards.freedom import Freedom, freedom_of
from shared.rules.tiles import DRAGON_OF_SUIT, Tile, rank, suit

MOST = 8
"""Proposals for one example."""
_MOST_CHOICES = 20_000
_ODD, _EVEN = (1, 3, 5, 7, 9), (2, 4, 6, 8)
_SUIT_OF_DRAGON = {dragon: one for one, dragon in DRAGON_OF_SUIT.items()}
TypedGroups = Sequence[tuple[Tile, int]]
"""Groups as they were typed: a tile and how many of it."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """What an example may stand for.

    Attributes:
        pattern: one row of groups with the values of n and m.
        example: what the words speak of: the example that was typed, unless another one says it more clearly.
        freedom: what is free about it, in words.
        ways: how many variants it has.
    """

    pattern: Pattern
    example: Example
    freedom: Freedom
    ways: int

    def __str__(self) -> str:
        """The words with the number of ways: "any three ranks in a row, one suit: 21 ways"."""
        return f"{self.freedom}: {self.ways} {'way' if self.ways == 1 else 'ways'}"


@dataclass(frozen=True, slots=True)
class _Reading:
    """One reading of some groups: their faces by place, what n and m may be, and its weight."""

    faces: dict[int, Face]
    weight: float
    n: Ranks = None
    m: Ranks = None


def guess(groups: TypedGroups, year: int, years: Sequence[int] = (), jokers: bool = True) -> tuple[Proposal, ...]:
    """Return what an example may stand for, the likeliest first; the last is always exactly these tiles.

    Args:
        groups: the example as it was typed; the counts need not add up to 14.
        year: the year of the card.
        years: the places in `groups` where four digits of the year begin.
        jokers: whether the hand may hold jokers.

    The set may not be able to fill the example; then there is no proposal.
    """
    tiles, sizes = tuple(tile for tile, _ in groups), tuple(count for _, count in groups)
    ranked = sorted(_readings(groups, year, years), key=lambda found: -found[0])
    seen: set[frozenset[object]] = set()
    found: list[Proposal] = []
    exact = _exactly(groups, jokers, year, years)
    for _, faces, n, m in ranked:
        row = tuple(Group(face, size) for face, size in zip(faces, sizes, strict=True))
        if count_choices(row, n, m) > _MOST_CHOICES:
            continue
        variants = frozenset(expand_groups(row, n, year, m, jokers))
        if variants and variants not in seen:
            seen.add(variants)
            found.append(_proposal(Pattern((row,), n, m, jokers), tiles, len(variants), year))
        if len(found) == MOST:
            break
    if exact is None:
        return ()
    if not any(proposal.ways == 1 for proposal in found):
        found = [*found[: MOST - 1], exact]
    return tuple(found)


def _proposal(pattern: Pattern, tiles: tuple[Tile, ...], ways: int, year: int) -> Proposal:
    example = example_with(pattern.rows[0], tiles, pattern.n, year, pattern.m, pattern.jokers)
    words = freedom_of(example, pattern.n, year, pattern.m, pattern.jokers)
    return Proposal(pattern, example, words, ways)


def _exactly(groups: TypedGroups, jokers: bool, year: int, years: Sequence[int]) -> Proposal | None:
    """Return the proposal of exactly these tiles; None if the set cannot fill them."""
    digits = {start + place: place for start in years for place in range(4)}
    row = tuple(
        Group(YearDigit(digits[at] + 1, _year_suit(groups, at, digits)) if at in digits else fixed_face(tile), count)
        for at, (tile, count) in enumerate(groups)
    )
    ways = len(expand_groups(row, None, year, None, jokers))
    return _proposal(Pattern((row,), jokers=jokers), tuple(tile for tile, _ in groups), ways, year) if ways else None


def fixed_face(tile: Tile) -> Face:
    """Return the face that stands for one tile and no other."""
    number, own = rank(tile), suit(tile)
    return Ranked(number, own) if number and own else Fixed(tile)


def _year_suit(groups: TypedGroups, at: int, digits: dict[int, int]) -> str:
    start = at - digits[at]
    return next(own for tile, _ in groups[start : start + 4] if (own := suit(tile)))


def _readings(
    groups: TypedGroups, year: int, years: Sequence[int]
) -> Iterator[tuple[float, tuple[Face, ...], Ranks, Ranks]]:
    """Yield every combination of readings: its weight, the face of each group, and what n and m may be."""
    digits = {start + place: place for start in years for place in range(4)}
    tiles = [tile for tile, _ in groups]
    for suit_weight, letters in _suits(tiles):
        used = {letter for own, letter in letters.items() if any(suit(tile) == own for tile in tiles)}
        typed = {at: YearDigit(place + 1, letters[_year_suit(groups, at, digits)]) for at, place in digits.items()}
        for ranks in _ranks(tiles, typed, letters, year):
            left = [at for at in range(len(tiles)) if at not in typed and at not in ranks.faces]
            for dragons, winds in product(_dragons(tiles, left, letters, used), _winds(tiles, left)):
                faces = typed | ranks.faces | dragons.faces | winds.faces
                weight = suit_weight + ranks.weight + dragons.weight + winds.weight
                yield weight, tuple(faces.get(at, Fixed(tiles[at])) for at in range(len(tiles))), ranks.n, ranks.m


def _suits(tiles: Sequence[Tile]) -> Iterator[tuple[float, dict[str, str]]]:
    """Yield readings of the suits: their weight and the letter of each suit of the example."""
    shown = list(dict.fromkeys(own for tile in tiles if (own := suit(tile))))
    yield 0.0, dict(zip(shown, SUIT_LETTERS, strict=False))
    if not shown:
        return
    yield -3.5, {own: own for own in shown}
    if len(shown) == 2:
        yield -3.0, {shown[0]: "p", shown[1]: "x"}
    if len(shown) == 3:
        yield -4.5, {shown[0]: "p", shown[1]: "x", shown[2]: "y"}


# ---- ranks


def _ranks(
    tiles: Sequence[Tile], typed: dict[int, YearDigit], letters: dict[str, str], year: int
) -> Iterator[_Reading]:
    """Yield readings of the ranks."""
    at = {place: number for place, tile in enumerate(tiles) if place not in typed and (number := rank(tile))}
    own = {place: letters[suit(tiles[place]) or ""] for place in at}
    shown = sorted(set(at.values()))

    fixed = {place: Ranked(number, own[place]) for place, number in at.items()}
    if not shown:
        yield _Reading({}, 0.0)
        return
    yield from _years(tiles, at, own, year, typed)
    low = shown[0]
    moving = {place: Relative(number - low, own[place]) for place, number in at.items()}
    yield _Reading(dict(fixed), _weight_fixed(shown))
    yield _Reading(dict(moving), _weight_moving(shown))
    span = shown[-1] - low
    for numbers in (_ODD, _EVEN):
        if low in numbers and all(number in numbers for number in shown):
            starts = tuple(number for number in numbers if number + span <= 9)
            yield _Reading(dict(moving), _weight_moving(shown) - (1.2 if len(shown) == 1 else 2.5), starts)
        elif low in numbers:
            starts = tuple(number for number in numbers if number + span <= 9)
            yield _Reading(dict(moving), _weight_moving(shown) - 4.0, starts)
    if len(shown) == 2:
        yield from _two_ranks(at, own, shown)
    if len(shown) == 3 and shown[0] + shown[1] == shown[2]:
        sums = {shown[0]: (0, 1, 0), shown[1]: (0, 0, 1), shown[2]: (0, 1, 1)}
        made = {place: Relative(sums[n][0], own[place], sums[n][1], sums[n][2]) for place, n in at.items()}
        yield _Reading(dict(made), -2.2 if shown != [1, 2, 3] else -3.2)


def _two_ranks(at: dict[int, int], own: dict[int, str], shown: list[int]) -> Iterator[_Reading]:
    """Yield readings of two ranks that do not move together."""
    apart = {place: Relative(0, own[place], int(n == shown[0]), int(n == shown[1])) for place, n in at.items()}
    gap = shown[1] - shown[0]
    yield _Reading(dict(apart), -1.6 if gap == 1 else -1.0 if gap > 2 else -1.3)
    total = sum(shown)
    tied = {
        place: Relative(0, own[place]) if n == shown[0] else Relative(total, own[place], -1) for place, n in at.items()
    }
    yield _Reading(dict(tied), -1.2 if total == 10 else -3.0)
    for numbers in (_ODD, _EVEN):
        if set(shown) <= set(numbers):
            yield _Reading(dict(apart), -2.8, numbers, numbers)


def _years(
    tiles: Sequence[Tile], at: dict[int, int], own: dict[int, str], year: int, typed: dict[int, YearDigit]
) -> Iterator[_Reading]:
    """Yield the reading in which all ranks, and a white dragon beside them, are digits of the year."""
    digits = str(year)
    first = {digit: place for place, digit in reversed(list(enumerate(digits, 1)))}
    zeros = [place for place, tile in enumerate(tiles) if tile == "O" and place not in typed] if "0" in digits else []
    if not all(str(number) in digits for number in at.values()):
        return
    letter = own[next(iter(at))]
    made: dict[int, Face] = {place: YearDigit(first[str(number)], own[place]) for place, number in at.items()}
    made |= {place: YearDigit(first["0"], letter) for place in zeros}
    yield _Reading(made, 0.5 if zeros or len(set(at.values())) > 2 else -2.5)


def _weight_fixed(shown: list[int]) -> float:
    """Return how likely ranks are to stand as they are: more if they are even, odd, or run from end to end."""
    if len(shown) == 1:
        return -2.5
    gaps = {after - before for before, after in pairwise(shown)}
    if set(shown) in ({2, 4, 6, 8}, {1, 3, 5, 7, 9}, {3, 6, 9}, {1, 9}, {1, 5, 9}):
        return 0.0
    if shown[0] + shown[-1] == 10:
        return -0.3
    return -1.0 if gaps != {1} else -1.6


def _weight_moving(shown: list[int]) -> float:
    """Return how likely ranks are to move together: most if they are alike or in a row."""
    if len(shown) == 1:
        return 0.0
    gaps = [after - before for before, after in pairwise(shown)]
    if set(gaps) == {1}:
        return 0.0
    if len(set(gaps)) == 1:
        return -0.5 if set(shown) != {2, 4, 6, 8} else -1.5
    return -1.5


# ---- dragons and winds


def _dragons(tiles: Sequence[Tile], left: list[int], letters: dict[str, str], used: set[str]) -> Iterator[_Reading]:
    """Yield readings of the dragons."""
    places = [place for place in left if tiles[place] in _SUIT_OF_DRAGON]
    kinds = list(dict.fromkeys(tiles[place] for place in places))
    if not kinds:
        yield _Reading({}, 0.0)
        return
    free = [letter for letter in SUIT_LETTERS if letter not in used]
    options: list[list[tuple[float, Face]]] = []
    spare = iter(free)
    some = iter(DRAGON_LETTERS)
    for kind in kinds:
        ways: list[tuple[float, Face]] = [(_weight_fixed_dragon(kinds, used), Fixed(kind))]
        letter = letters.get(_SUIT_OF_DRAGON[kind], "")
        if letter in SUIT_LETTERS or letter in ("x", "y"):
            ways.append((0.0, SuitDragon(letter)))
        elif (other := next(spare, "")) and letter == "":
            ways.append((0.0 if used else -0.3, SuitDragon(other)))
        ways.append((-2.0 if used else -0.3, SomeDragon(next(some))))
        options.append(ways)
    for chosen in product(*options):
        of_kind = dict(zip(kinds, chosen, strict=True))
        sorts = {type(face) for _, face in chosen}
        weight = sum(weight for weight, _ in chosen) - 1.5 * (len(sorts) - 1)
        yield _Reading({place: of_kind[tiles[place]][1] for place in places}, weight)


def _weight_fixed_dragon(kinds: list[Tile], used: set[str]) -> float:
    if len(kinds) == 3:
        return 0.3 if len(used) < 3 else 0.0
    return -0.8 if used else -0.6


def _winds(tiles: Sequence[Tile], left: list[int]) -> Iterator[_Reading]:
    """Yield readings of the winds: as they stand, or all of them any."""
    places = [place for place in left if tiles[place] in "NEWS"]
    kinds = list(dict.fromkeys(tiles[place] for place in places))
    if not kinds:
        yield _Reading({}, 0.0)
        return
    opposite = set(kinds) in ({"N", "S"}, {"E", "W"})
    yield _Reading({}, {1: -0.7, 2: -0.4 if opposite else -1.0, 3: -0.7, 4: 0.0}[len(kinds)])
    of_kind = dict(zip(kinds, WIND_LETTERS, strict=False))
    weight = {1: -0.3, 2: -0.8 if opposite else -0.3, 3: -0.7, 4: -2.5}[len(kinds)]
    yield _Reading({place: SomeWind(of_kind[tiles[place]]) for place in places}, weight)
