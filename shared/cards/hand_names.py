"""A name to say for every hand of a card, made from its pattern: "run 3-4-3, one suit".

A name says what kind of hand it is, the sizes of its groups, and its suits; two hands that would be called the same
get numbers, in the order of what they want, so that texts and the order of the card change no name.
"""

import itertools
from collections import defaultdict
from functools import lru_cache

from shared.cards.card import Card, Hand
from shared.cards.digest import hand_keys
from shared.cards.example import Example, columns_of
from shared.cards.expand import Pattern, pattern_of
from shared.cards.faces import YearDigit
from shared.cards.freedom import NUMBERS
from shared.cards.picture import examples
from shared.rules.tiles import rank, suit

MOST = 32
"""Characters of a name."""


@lru_cache(maxsize=8)
def names_of(card: Card) -> tuple[str, ...]:
    """Return the name of each hand in the order of the card; no two are alike.

    Raises:
        ValueError: a hand's groups cannot be read; a card from `read_card` never does this.
    """
    bare = [bare_name(hand, card.year) for hand in card.hands]
    alike: dict[str, list[int]] = defaultdict(list)
    for index, name in enumerate(bare):
        alike[name].append(index)
    keys = hand_keys(card)
    names = list(bare)
    taken = {name for name, own in alike.items() if len(own) == 1}
    for name, own in alike.items():
        if len(own) == 1:
            continue
        number = 0
        for index in sorted(own, key=keys.__getitem__):
            number += 1
            while _numbered(name, number) in taken:
                number += 1
            names[index] = _numbered(name, number)
            taken.add(names[index])
    return tuple(names)


def _numbered(name: str, number: int) -> str:
    return name if number == 1 else f"{_cut(name, MOST - len(f' {number}'))} {number}"


def _cut(name: str, most: int) -> str:
    """Return a name in so many characters, with no torn word at its end if it has more than one."""
    if len(name) <= most:
        return name
    whole, space, _ = name[: most + 1].rpartition(" ")
    return (whole.removesuffix(" and") if space else name[:most]).rstrip(" ,+-")


def bare_name(hand: Hand, year: int) -> str:
    """Return what a hand would be called if it stood alone, in at most 32 characters."""
    pattern, shown = pattern_of(hand), examples(hand, year)
    kind, beside = _kind(shown[0], pattern, year)
    first = f"{kind} {_sizes(shown[0], kind, bool(beside))}".rstrip() + "".join(f" and {word}" for word in beside)
    ends = _ends(shown[0], len(shown), hand)
    for count in range(len(ends), -1, -1):
        name = ", ".join([first, *ends[:count]])
        if len(name) <= MOST:
            return name
    return _cut(first, MOST)


def _kind(example: Example, pattern: Pattern, year: int) -> tuple[str, list[str]]:
    """Return the first word, what the hand is built of, and what stands beside its ranks."""
    columns = columns_of(example.groups, pattern.n, year, pattern.m)
    ranks = dict.fromkeys(
        rank(tile) or 0
        for tile, column, group in zip(example.tiles, columns.ranks, example.groups, strict=True)
        if column and not isinstance(group.face, YearDigit)
    )
    moving = any(len(set(column)) > 1 for column in columns.ranks)
    has_year = any(isinstance(group.face, YearDigit) for group in example.groups)
    others = [word for word, there in (("winds", any(columns.winds)), ("dragons", any(columns.dragons))) if there]
    if ranks:
        return _ranks_kind(list(ranks), moving), ["year"] * has_year + others
    if has_year:
        return "year", others
    return " and ".join(others) or "flowers", []


def _ranks_kind(ranks: list[int], moving: bool) -> str:
    ordered = sorted(ranks)
    gaps = {after - before for before, after in itertools.pairwise(ordered)}
    if not moving:
        return "".join(map(str, ranks)) if len(ranks) > 1 else f"{ranks[0]}s"
    if len(ranks) == 1:
        return "like"
    if gaps == {1}:
        return "run"
    if len(gaps) == 1 and len(ranks) > 2:
        return f"steps of {NUMBERS[next(iter(gaps))]}"
    return f"{NUMBERS[len(ranks)]} ranks"


def _sizes(example: Example, kind: str, only_ranks: bool) -> str:
    """Return the sizes of the groups that the first word is about."""
    sizes = [
        group.count
        for group, tile in zip(example.groups, example.tiles, strict=True)
        if (tile != "F" or kind == "flowers")
        if not only_ranks or rank(tile) or isinstance(group.face, YearDigit)
        if not (isinstance(group.face, YearDigit) and (group.count == 1 or kind != "year"))
    ]
    if len(sizes) > 2 and len(set(sizes)) == 1:
        words = {1: "singles", 2: "pairs", 3: "pungs", 4: "kongs", 5: "quints"}
        if sizes[0] in words:
            return f"{NUMBERS[len(sizes)] if len(sizes) < len(NUMBERS) else len(sizes)} {words[sizes[0]]}"
    return "-".join(map(str, sizes))


def _ends(example: Example, rows: int, hand: Hand) -> list[str]:
    """Return what else tells the hand apart, the most telling first."""
    suits = {suit(tile) for tile, zero in zip(example.tiles, example.zeros, strict=True) if suit(tile) and not zero}
    flowers = sum(group.count for group, tile in zip(example.groups, example.tiles, strict=True) if tile == "F")
    ends = [f"{NUMBERS[len(suits)]} suit{'' if len(suits) == 1 else 's'}"] if suits else []
    ends += [f"{NUMBERS[rows]} ways"] if rows > 1 else []
    ends += [f"{flowers} F"] if flowers else []
    return ends + (["no jokers"] if not hand.jokers else [])
