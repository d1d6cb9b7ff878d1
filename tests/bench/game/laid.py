"""Games laid out by hand for tests: small cards of our own, racks and walls in tile codes, the rest filled up."""

from collections import Counter
from functools import cache

import numpy as np

from shared.cards import Card, read_card
from shared.rules.tiles import COPIES, INDEX, KINDS, full_set
from shared.rules.typed_tiles import typed
from tests.bench.game.hands import Hands, Ints, hands_of
from tests.bench.game.play import Counts, Games, Move, recorded
from tests.bench.game.referee import Referee, Variant

SIZES = (14, 13, 13, 13)
LADDER = "1.p^2 2.p^4 3.p^4 4.p^4"
"""What seats go for that are not to want what the test is about: one suit a seat."""


@cache
def card_of(*hands: str, with_ladder: bool = True) -> Card:
    """Return a card of these hands, and as a rule the ladder as the last; a hand ending in C is concealed."""
    lines = ['[card]\ntitle = "Laid"\nyear = 2026\nnote = ""\n[[section]]\nname = "All"\nabout = "Laid for a test."']
    for number, hand in enumerate((*hands, LADDER) if with_ladder else hands):
        concealed = "true" if hand.endswith(" C") else "false"
        groups = hand.removesuffix(" C")
        lines.append(f'[[section.hand]]\nid = "h{number}"\ngroups = "{groups}"\nconcealed = {concealed}\nvalue = 25\n')
    card = read_card("\n".join(lines).encode())
    assert isinstance(card, Card), card
    return card


def ladder(suit: str, size: int = 13) -> str:
    """Return a rack one tile short of the ladder in a suit, its last four."""
    tiles = [f"1{suit}"] * 2 + [f"2{suit}"] * 4 + [f"3{suit}"] * 4 + [f"4{suit}"] * 3
    return " ".join(tiles[:size])


def lay(racks: tuple[str, str, str, str], wall: str = "", last: str = "4b 4c 4d") -> tuple[Counts, Ints]:
    """Return racks, each filled up to its size, and a wall that begins with some tiles and ends with others.

    Racks are filled with middle ranks, which the ladder has no use for.
    """
    held = [Counter(typed(rack)) for rack in racks]
    first, end = list(typed(wall)), list(typed(last))
    left = Counter(full_set()) - sum(held, Counter(first) + Counter(end))
    assert Counter(full_set()) >= sum(held, Counter(first) + Counter(end)), "tiles are laid more often than there are"
    fill = [kind for kind in KINDS if kind[0] in "56789" for _ in range(left[kind])]
    for rack, size in zip(held, SIZES, strict=True):
        while rack.total() < size:
            rack[fill.pop()] += 1
    left = Counter({kind: COPIES[kind] for kind in KINDS}) - sum(held, Counter(first) + Counter(end))
    middle = [kind for kind in KINDS for _ in range(left[kind])]
    counts = np.array([[rack[kind] for kind in KINDS] for rack in held], dtype=np.uint8)
    return counts, np.array([INDEX[tile] for tile in (*first, *middle, *end)], dtype=np.int32)


def watched(card: Card, racks: Counts, wall: Ints) -> tuple[Games, list[tuple[int, ...]]]:
    """Play a game under the referee's eyes and return it with its record, kinds as tile codes where they are tiles."""
    hands: Hands = hands_of(card)
    game, record = recorded(hands, racks, wall)
    held = [Counter(np.repeat(np.arange(len(KINDS)), seat).tolist()) for seat in racks]
    Referee(Variant.all_of(card), held, wall.tolist()).follow(record)
    return game, record


def told(record: list[tuple[int, ...]], most: int = 6) -> list[str]:
    """Return the first moves of a record in words: "0 discards N", "2 shows N 3 with 1"."""
    said = []
    for move, seat, kind, more, other in record[:most]:
        match Move(move):
            case Move.DRAW:
                said.append(f"{seat} draws {KINDS[kind]}")
            case Move.DISCARD:
                said.append(f"{seat} discards {KINDS[kind]}")
            case Move.GROUP:
                said.append(f"{seat} shows {KINDS[kind]} {more} with {other}")
            case Move.EXCHANGE:
                said.append(f"{seat} gives {KINDS[kind]} for a joker of {more}")
            case Move.WIN:
                said.append(f"{seat} wins {('', 'on its turn', 'by a call')[more]}")
            case Move.WALL:
                said.append("the wall is empty")
    return said
