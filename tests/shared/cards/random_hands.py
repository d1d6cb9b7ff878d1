"""Hands as somebody might write them on a card of their own: outlines with every freedom that the notation has.

Seeded and endless. They are drawn from a grammar of this file alone, so that they owe nothing to the shipped cards.
"""

import random
from collections.abc import Iterator

from shared.cards.card import Hand
from shared.cards.expand import count_choices, expand_groups
from shared.cards.notation import parse_hand

YEAR = 2026
RANKS = (
    "n", "n n+1", "n n+1 n+2", "n n+1 n+2 n+3", "n n+2", "n n+2 n+4", "n n+3 n+6", "n n+1 n+3", "n-1 n n+1",
    "n m", "n n+1 m", "n n+1 m m+1", "n m n+m", "n 10-n", "n 9-n", "n m 15-n-m", "m n m+n",
    "1 2 3", "2 4 6 8", "1 9", "3 6 9", "5", "1 5 9", "n 5", "n n+1 9", "1 m", "7 n-2 n",
    "Y1 Y2 Y3 Y4", "Y1 Y2 Y3 Y4 n", "Y1 Y4", "Y1 Y2 Y3 Y4 5",
)  # fmt: skip
LISTS = (None, None, None, None, (1, 3, 5, 7, 9), (2, 4, 6, 8), (1, 2, 3), (4,), (2, 5))
SUITS = ("p", "p", "p", "pq", "pq", "pqr", "px", "pxy", "b", "bp", "bc", "pqx", "x", "bx", "dpx")
EXTRAS = (
    "", "", "", "D(p)", "D(p) D(q)", "D(q)", "D(r)", "D(-p)", "A", "A B", "R", "G O", "R G O", "D(x)", "A R", "D(p) G",
    "X", "X Z", "X Z V", "N S", "N E W S", "X N", "X Z V U", "D(q) D(r)", "A D(p)",
)  # fmt: skip


def hands(seed: int) -> Iterator[Hand]:
    """Yield hands without faults, for ever."""
    dice = random.Random(seed)
    while True:
        rows = [_row(dice) for _ in range(dice.choice((1, 1, 1, 1, 2)))]
        text = " or ".join(rows)
        n, m = (dice.choice(LISTS) if letter in text else None for letter in "nm")
        hand = Hand("h", "s", text, dice.random() < 0.1, 25, n, m, jokers=dice.random() > 0.1)
        alternatives, faults = parse_hand(text)
        if faults or not all(0 < count_choices(row, n, m) <= 3_000 for row in alternatives):
            continue
        if all(expand_groups(row, n, YEAR, m, hand.jokers) for row in alternatives):
            yield hand


def _row(dice: random.Random) -> str:
    suits = dice.choice(SUITS)
    faces = [f"{rank}.{dice.choice(suits)}" for rank in dice.choice(RANKS).split()]
    faces += [f"{face[:-1]}{dice.choice(suits)}" for face in faces if dice.random() < 0.3]
    extra = dice.choice(EXTRAS).split()
    faces = faces + extra if dice.random() < 0.7 else extra + faces
    sizes = [dice.choice((1, 2, 2, 3, 3, 4, 4, 5)) for _ in faces]
    left = 14 - sum(sizes)
    groups = [f"{face}^{size}" for face, size in zip(faces, sizes, strict=True)]
    return " ".join(([f"F^{left}"] if left > 0 else []) + groups)
