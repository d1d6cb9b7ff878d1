"""From the hands of a card to their concrete variants: every choice of suits, of n and of winds, spelled out.

Pure and bounded by the notation: six orders of suits, nine values of n and twelve choices of winds make at
most 648 variants of one hand. Impossible variants are left out, equal ones are kept once.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import permutations, product
from operator import add

from shared.cards.card import Card, Hand, Variant
from shared.cards.notation import (
    SUIT_LETTERS,
    WIND_LETTERS,
    Face,
    Fixed,
    Group,
    Ranked,
    Relative,
    SomeWind,
    SuitDragon,
    YearDigit,
    parse_groups,
)
from shared.rules.tiles import COPIES, DRAGON_OF_SUIT, INDEX, JOKER, KINDS, SUITS, Tile, parse_tile

Counts = tuple[tuple[int, ...], tuple[int, ...]]
"""What a variant wants: counts by kind in singles and pairs, and in groups of three or more."""

_COPIES = tuple(COPIES[kind] for kind in KINDS)
_WINDS: tuple[Tile, ...] = ("N", "E", "W", "S")


@dataclass(frozen=True, slots=True)
class Choice:
    """One way to fix what the notation leaves free."""

    suits: dict[str, str]
    winds: dict[str, Tile]
    n: int


def expand(card: Card) -> tuple[Variant, ...]:
    """Return the variants of all hands, in the order of the card.

    Raises:
        ValueError: a hand's groups cannot be read; a card from `read_card` never does this.
    """
    return tuple(
        Variant(index, pairs, groups)
        for index, hand in enumerate(card.hands)
        for pairs, groups in expand_hand(hand, card.year)
    )


def expand_hand(hand: Hand, year: int) -> tuple[Counts, ...]:
    """Return what each variant of one hand wants, equal ones once and impossible ones left out.

    Raises:
        ValueError: the hand's groups cannot be read.
    """
    groups, faults = parse_groups(hand.groups)
    if faults:
        raise ValueError(f"{hand.id}: {faults[0].text}")
    return expand_groups(groups, hand.n, year)


@lru_cache(maxsize=256)
def expand_groups(groups: tuple[Group, ...], n: tuple[int, ...] | None, year: int) -> tuple[Counts, ...]:
    """Return what each variant of the groups wants. The counts need not add up to 14.

    A card's hands are expanded once to find faults and once to be measured, hence the memory.
    """
    wanted = (count_tiles(groups, choice, year) for choice in choices(groups, n))
    return tuple(dict.fromkeys(counts for counts in wanted if is_possible(counts)))


def values_of_n(groups: tuple[Group, ...]) -> tuple[int, ...]:
    """Return every n that keeps all ranks within 1-9; empty when the groups do not use n."""
    plus = [group.face.plus for group in groups if isinstance(group.face, Relative)]
    return tuple(range(1, 10 - max(plus))) if plus else ()


def choices(groups: tuple[Group, ...], n: tuple[int, ...] | None) -> Iterator[Choice]:
    """Yield every way to fix suits, winds and n for the letters that the groups use."""
    faces = [group.face for group in groups]
    letters = {face.suit for face in faces if isinstance(face, Ranked | Relative | YearDigit | SuitDragon)}
    winds = {face.letter for face in faces if isinstance(face, SomeWind)}
    suit_letters = [letter for letter in SUIT_LETTERS if letter in letters]
    wind_letters = [letter for letter in WIND_LETTERS if letter in winds]
    values = values_of_n(groups) if n is None else n
    for value, suit_choice, wind_choice in product(
        values or (0,), permutations(SUITS, len(suit_letters)), permutations(_WINDS, len(wind_letters))
    ):
        yield Choice(
            dict(zip(suit_letters, suit_choice, strict=True)),
            dict(zip(wind_letters, wind_choice, strict=True)),
            value,
        )


def count_tiles(groups: tuple[Group, ...], choice: Choice, year: int) -> Counts:
    """Return the counts by kind that the groups want under one choice."""
    pairs, larger = [0] * len(KINDS), [0] * len(KINDS)
    for group in groups:
        counts = pairs if group.count < 3 else larger
        counts[INDEX[_tile_of(group.face, choice, year)]] += group.count
    return tuple(pairs), tuple(larger)


def _tile_of(face: Face, choice: Choice, year: int) -> Tile:
    match face:
        case Fixed(tile):
            return tile
        case SomeWind(letter):
            return choice.winds[letter]
        case SuitDragon(letter):
            return DRAGON_OF_SUIT[choice.suits[letter]]
        case Ranked(rank, letter):
            return parse_tile(f"{rank}{choice.suits[letter]}")
        case Relative(plus, letter):
            return parse_tile(f"{choice.n + plus}{choice.suits[letter]}")
        case YearDigit(place, letter):
            digit = str(year)[place - 1]
            return parse_tile("O" if digit == "0" else f"{digit}{choice.suits[letter]}")


def is_possible(counts: Counts) -> bool:
    """Tell whether the set can fill the counts: jokers in none but the larger groups."""
    return not _why_impossible(counts)


def first_impossible(groups: tuple[Group, ...], n: tuple[int, ...] | None, year: int) -> tuple[int, str]:
    """Return the index of the group with which an impossible hand becomes so, and why in a sentence.

    All choices fail, so the first of them is taken as the example.
    """
    example = next(choices(groups, n))
    for index in range(len(groups)):
        if why := _why_impossible(count_tiles(groups[: index + 1], example, year)):
            return index, why
    raise ValueError("the groups are possible")


def _why_impossible(counts: Counts) -> str:
    if max(map(add, *counts)) <= min(_COPIES):
        return ""  # what nearly every variant is; only a shortcut
    jokers = 0
    for copies, pair, larger in zip(_COPIES, *counts, strict=True):
        if pair > copies:
            return (
                f"With this group the hand needs {pair} real tiles of a kind that has {copies}. Only groups "
                "of three or more take jokers: join some groups, or write another face."
            )
        jokers += max(pair + larger - copies, 0)
    if jokers > COPIES[JOKER]:
        return (
            f"With this group the hand needs {jokers} jokers, and the set has {COPIES[JOKER]}. Make the "
            "group smaller, or write another face."
        )
    return ""
