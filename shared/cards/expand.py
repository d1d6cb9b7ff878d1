"""From the hands of a card to their concrete variants: every choice that the notation leaves, spelled out.

Pure. A choice fixes the suits, n and m, the winds and the dragons; it turns each group into tiles of one kind.
Impossible variants are left out, equal ones are kept once. `count_choices` says beforehand how many choices a row
has, so that a file made to keep the reader busy can be refused.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import permutations, product
from math import perm, prod
from operator import add
from typing import get_args

from shared.cards.card import Card, Hand, Variant
from shared.cards.faces import (
    ANY_SUIT_LETTERS,
    DRAGON_LETTERS,
    SUIT_LETTERS,
    WIND_LETTERS,
    Face,
    Fixed,
    Groups,
    InSuit,
    OtherDragon,
    Ranked,
    Relative,
    SomeDragon,
    SomeWind,
    SuitDragon,
    YearDigit,
)
from shared.cards.notation import parse_hand
from shared.rules.tiles import COPIES, DRAGON_OF_SUIT, INDEX, JOKER, KINDS, SUITS, Tile, parse_tile

Counts = tuple[tuple[int, ...], tuple[int, ...]]
"""What a variant wants: counts by kind in singles and pairs, and in groups of three or more."""
Ranks = tuple[int, ...] | None
"""The values that a free rank may take; None for all that fit."""

_COPIES = tuple(COPIES[kind] for kind in KINDS)
_WINDS: tuple[Tile, ...] = ("N", "E", "W", "S")
_DRAGONS: tuple[Tile, ...] = ("R", "G", "O")
_SUITED: dict[tuple[int, str], Tile] = {
    (rank, suit): parse_tile(f"{rank}{suit}") for rank in range(1, 10) for suit in SUITS
}


@dataclass(frozen=True, slots=True)
class Pattern:
    """What the notation of a hand says: its rows, and what holds for all of them."""

    rows: tuple[Groups, ...]
    n: Ranks = None
    m: Ranks = None
    jokers: bool = True


@dataclass(frozen=True, slots=True)
class Choice:
    """One way to fix what the notation leaves free.

    `suits`, `winds` and `dragons` go by letter; `others` are the dragons that do not go with the suit of a letter.
    """

    suits: dict[str, str]
    winds: dict[str, Tile]
    n: int = 0
    m: int = 0
    dragons: dict[str, Tile] | None = None
    others: dict[str, Tile] | None = None

    def tile_of(self, face: Face, year: int) -> Tile:
        """Return the tile that a face stands for."""
        match face:
            case Fixed(tile):
                return tile
            case SomeWind(letter):
                return self.winds[letter]
            case SomeDragon(letter):
                return (self.dragons or {})[letter]
            case SuitDragon(letter):
                return DRAGON_OF_SUIT[self.suits[letter]]
            case OtherDragon(letter):
                return (self.others or {})[letter]
            case Ranked(rank, letter):
                return _SUITED[rank, self.suits[letter]]
            case Relative():
                return _SUITED[face.rank(self.n, self.m), self.suits[face.suit]]
            case YearDigit(place, letter):
                digit = int(str(year)[place - 1])
                return _SUITED[digit, self.suits[letter]] if digit else "O"


@lru_cache(maxsize=1024)
def pattern_of(hand: Hand) -> Pattern:
    """Return what a hand's notation says.

    Raises:
        ValueError: the hand's groups cannot be read.
    """
    alternatives, faults = parse_hand(hand.groups)
    if faults:
        raise ValueError(f"{hand.id}: {faults[0].text}")
    return Pattern(alternatives, hand.n, hand.m, hand.jokers)


def expand(card: Card) -> tuple[Variant, ...]:
    """Return the variants of all hands, in the order of the card.

    Raises:
        ValueError: a hand's groups cannot be read; a card from `read_card` never does this.
    """
    found = []
    for index, hand in enumerate(card.hands):
        pattern, values = pattern_of(hand), dict[Counts, int]()
        for number, row in enumerate(pattern.rows):
            for counts in expand_pattern(replace(pattern, rows=(row,)), card.year):
                values[counts] = max(values.get(counts, 0), hand.row_value(number))
        found += [Variant(index, pairs, groups, value) for (pairs, groups), value in values.items()]
    return tuple(found)


def expand_hand(hand: Hand, year: int) -> tuple[Counts, ...]:
    """Return what each variant of one hand wants, equal ones once and impossible ones left out.

    Raises:
        ValueError: the hand's groups cannot be read.
    """
    return expand_pattern(pattern_of(hand), year)


def expand_pattern(pattern: Pattern, year: int) -> tuple[Counts, ...]:
    """Return what each variant of a pattern wants, row by row, equal ones once and impossible ones left out."""
    found = (expand_groups(row, pattern.n, year, pattern.m, pattern.jokers) for row in pattern.rows)
    return tuple(dict.fromkeys(counts for row in found for counts in row))


@lru_cache(maxsize=256)
def expand_groups(groups: Groups, n: Ranks, year: int, m: Ranks = None, jokers: bool = True) -> tuple[Counts, ...]:
    """Return what each variant of one row of groups wants. The counts need not add up to 14.

    A card's hands are expanded once to find faults and once to be measured, hence the memory.
    """
    sizes = tuple(group.count for group in groups)
    wanted = (counts_of(tiles, sizes, jokers) for tiles in instances(groups, n, year, m))
    return tuple(dict.fromkeys(counts for counts in wanted if is_possible(counts)))


def instances(groups: Groups, n: Ranks, year: int, m: Ranks = None) -> Iterator[tuple[Tile, ...]]:
    """Yield the tile of every group under every choice; impossible and equal ones too."""
    faces = [group.face for group in groups]
    for choice in choices(groups, n, m):
        yield tuple([choice.tile_of(face, year) for face in faces])


def counts_of(tiles: tuple[Tile, ...], sizes: tuple[int, ...], jokers: bool = True) -> Counts:
    """Return the counts by kind that groups of these tiles and sizes want."""
    pairs, larger = [0] * len(KINDS), [0] * len(KINDS)
    for tile, size in zip(tiles, sizes, strict=True):
        (larger if size >= 3 and jokers else pairs)[INDEX[tile]] += size
    return tuple(pairs), tuple(larger)


def letters_of(groups: Groups) -> set[str]:
    """Return every letter of the groups that stands for something free, and the suits called by name."""
    faces = [group.face for group in groups]
    found = {face.suit for face in faces if isinstance(face, get_args(InSuit))}
    found |= {face.letter for face in faces if isinstance(face, SomeWind | SomeDragon)}
    return found.union(*(face.letters for face in faces if isinstance(face, Relative)))


def ranks_of(groups: Groups, n: Ranks, m: Ranks) -> list[tuple[int, int]]:
    """Return the values of n and m that keep all ranks within 1-9; 0 for one that is not used.

    Where the groups use both, the two differ.
    """
    relative = {face for group in groups if isinstance(face := group.face, Relative)}
    letters = "".join(face.letters for face in relative)
    return [
        (one, other)
        for one in (n or range(1, 10) if "n" in letters else (0,))
        for other in (m or range(1, 10) if "m" in letters else (0,))
        if one != other or not one
        if all(1 <= face.rank(one, other) <= 9 for face in relative)
    ]


def count_choices(groups: Groups, n: Ranks, m: Ranks = None) -> int:
    """Return how many choices the groups leave, at most 60 million for any row that can be read."""
    letters, named, others = _free(groups)
    return prod(
        (
            len(ranks_of(groups, n, m)),
            perm(len(SUITS) - len(named), len(letters & set(SUIT_LETTERS))),
            len(SUITS) ** len(letters & set(ANY_SUIT_LETTERS)),
            perm(len(_WINDS), len(letters & set(WIND_LETTERS))),
            perm(len(_DRAGONS), len(letters & set(DRAGON_LETTERS))),
            (len(_DRAGONS) - 1) ** len(others),
        )
    )


def _free(groups: Groups) -> tuple[set[str], list[str], list[str]]:
    """Return all letters, the suits called by name, and the suits whose dragon is shunned."""
    letters = letters_of(groups)
    shunned = {group.face.suit for group in groups if isinstance(group.face, OtherDragon)}
    return letters, [suit for suit in SUITS if suit in letters], sorted(shunned)


def choices(groups: Groups, n: Ranks, m: Ranks = None) -> Iterator[Choice]:
    """Yield every way to fix suits, ranks, winds and dragons for the letters that the groups use."""
    letters, named, shunned = _free(groups)
    suit_letters = [letter for letter in SUIT_LETTERS if letter in letters]
    any_letters = [letter for letter in ANY_SUIT_LETTERS if letter in letters]
    wind_letters = [letter for letter in WIND_LETTERS if letter in letters]
    dragon_letters = [letter for letter in DRAGON_LETTERS if letter in letters]
    unnamed = [suit for suit in SUITS if suit not in named]
    own = dict(zip(named, named, strict=True))
    for (one, other), different, alike, winds, dragons in product(
        ranks_of(groups, n, m),
        permutations(unnamed, len(suit_letters)),
        product(SUITS, repeat=len(any_letters)),
        permutations(_WINDS, len(wind_letters)),
        permutations(_DRAGONS, len(dragon_letters)),
    ):
        suits = own | dict(zip(suit_letters, different, strict=True)) | dict(zip(any_letters, alike, strict=True))
        allowed = [[tile for suit, tile in DRAGON_OF_SUIT.items() if suit != suits[letter]] for letter in shunned]
        for others in product(*allowed):
            yield Choice(
                suits,
                dict(zip(wind_letters, winds, strict=True)),
                one,
                other,
                dict(zip(dragon_letters, dragons, strict=True)),
                dict(zip(shunned, others, strict=True)),
            )


def is_possible(counts: Counts) -> bool:
    """Tell whether the set can fill the counts: jokers in none but the larger groups."""
    return not _why_impossible(counts)


def first_impossible(groups: Groups, n: Ranks, year: int, m: Ranks = None, jokers: bool = True) -> tuple[int, str]:
    """Return the index of the group with which an impossible row becomes so, and why in a sentence.

    All choices fail, so the first of them is taken as the example.
    """
    for index in range(len(groups)):
        if not ranks_of(groups[: index + 1], n, m):
            return index, (
                "With this group no choice of ranks keeps every rank from 1 to 9. Bring the ranks closer together, "
                "or list other values."
            )
    example = next(instances(groups, n, year, m))
    sizes = tuple(group.count for group in groups)
    for index in range(1, len(groups) + 1):
        if why := _why_impossible(counts_of(example[:index], sizes[:index], jokers), jokers):
            return index - 1, why
    raise ValueError("the groups are possible")


def _why_impossible(counts: Counts, takes_jokers: bool = True) -> str:
    if max(map(add, *counts)) <= min(_COPIES):
        return ""  # what nearly every variant is; only a shortcut
    jokers = 0
    for copies, pair, larger in zip(_COPIES, *counts, strict=True):
        if pair > copies:
            mend = (
                "Only groups of three or more take jokers: join some groups, or write another face."
                if takes_jokers
                else "The hand takes no jokers: make the group smaller, or write another face."
            )
            return f"With this group the hand needs {pair} real tiles of a kind that has {copies}. {mend}"
        jokers += max(pair + larger - copies, 0)
    if jokers > COPIES[JOKER]:
        return (
            f"With this group the hand needs {jokers} jokers, and the set has {COPIES[JOKER]}. Make the "
            "group smaller, or write another face."
        )
    return ""
