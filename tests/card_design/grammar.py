"""The ideas of the practice card, and the hands that the notation offers for each of them.

A section is an idea that can be said in one sentence; under it stand outlines. An outline is a row of faces: those
with a count are fixed, the others get every regular set of counts that makes fourteen. After a bar stand the faces
that may fill up (with two, three or four tiles; "-" for none), then the sizes that the free groups may have. Nothing
here is random and nothing is measured.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise, product

from shared.cards import parse_groups
from shared.cards.notation import HAND_SIZE


@dataclass(frozen=True, slots=True)
class Idea:
    """A section of the card to be: its name, its one sentence, and its outlines."""

    name: str
    about: str
    outlines: tuple[str, ...]


IDEAS = (
    Idea(
        "Stairs",
        "Neighbouring ranks, one step at a time, in one suit or across suits.",
        (
            "n.p n+1.p n+2.p | F | 2-4",
            "n.p n+1.q n+2.r | F | 2-4",
            "n.p n+1.p n+2.p n+3.p | F - | 2-4",
            "n.p n+1.p n+2.q n+3.q | F - | 2-4",
            "n.p n+1.p n+2.p n+3.p n+4.p | F - | 1-4",
            "n.p n+1.q n+2.p n+3.q n+4.p | F - | 1-4",
            "n.p n+1.p n+2.p n+3.q n+4.q n+5.q | F - | 1-4",
            "n.p n+1.p n+2.p n+3.p n+4.p n+5.p n+6.p | - | 2-2",
        ),
    ),
    Idea(
        "Strides",
        "Ranks with equal gaps: every second, every third or every fourth.",
        (
            "n.p n+2.p n+4.p | F | 2-4",
            "n.p n+2.q n+4.r | F | 2-4",
            "n.p n+3.q n+6.r | F | 2-4",
            "n.p n+2.q n+4.q n+6.p | F - | 2-4",
            "2.p 4.p 6.p 8.p | F - | 1-4",
            "1.p 3.p 5.p 7.p 9.p | F - | 1-4",
            "3.p 6.p 9.p 3.q 6.q 9.q | F - | 1-4",
            "1.p 5.p 9.p 1.q 5.q 9.q | F - | 1-4",
            "n.p n+2.p n+4.p n.q n+2.q n+4.q | F D(r) | 2-2",
        ),
    ),
    Idea(
        "Echoes",
        "One rank, or two, heard again in other suits.",
        (
            "n.p n.q n.r | F | 3-4",
            "n.p n.q n.r | R G O | 2-4",
            "n.p n.q D(r) | F | 2-4",
            "n.p n.q n+4.p n+4.q | F - | 2-4",
            "n.p n.q n+1.q n+1.r | F - | 2-4",
            "n.p n.q n.r n+5.p n+5.q n+5.r | F - | 1-4",
            "n.p n.q n.r R G O | F - | 1-4",
            "n.p n.q n.r n+1.p n+1.q n+1.r | F | 2-2",
        ),
    ),
    Idea(
        "Mirrors",
        "Ranks that face each other across the five, so that two of them add up to ten.",
        (
            "1.p 9.p 1.q 9.q | F - | 1-4",
            "2.p 8.q 2.q 8.p | F - | 1-4",
            "3.p 5.q 7.p | F - | 2-4",
            "4.p 5.q 5.r 6.p | F - | 1-4",
            "1.p 2.q 8.q 9.p | F - | 1-4",
            "3.p 4.q 6.q 7.p | F - | 1-4",
            "2.p 3.q 5.r 7.q 8.p | F - | 1-4",
            "4.p 6.p 4.q 6.q 4.r 6.r | F - | 1-4",
            "1.p 2.p 3.p 4.p 5.p 6.p 7.p 8.p 9.p | F - | 1-2",
        ),
    ),
    Idea(
        "Banners",
        "Each suit marches with its own dragon: green with bams, red with craks, white with dots.",
        (
            "n.p D(p) n.q D(q) | F - | 2-4",
            "n.p n+1.p D(p) | F | 2-4",
            "n.p D(p) n.q D(q) n.r D(r) | F - | 1-4",
            "n.p n+1.p n+2.p D(p) | F - | 2-4",
            "n.p D(p) n+1.q D(q) n+2.r D(r) | F - | 1-4",
            "D(p) n.p n+2.p n+4.p | F - | 2-4",
            "n.p n+2.p D(p) n.q n+2.q D(q) | F - | 1-4",
            "n.p n+1.p D(p) n.q n+1.q D(q) | F | 2-2",
        ),
    ),
    Idea(
        "Compass",
        "Two winds or all four, and what they blow along.",
        (
            "N E W S | F - | 2-4",
            "X Z R G O | F - | 2-4",
            "N n.p n+1.p S | F - | 2-4",
            "E n.p n.q W | F - | 2-4",
            "N E n.p n.q W S | F - | 1-4",
            "N S n.p n+1.p n+2.p E W | F - | 1-4",
            "X D(p) Z | F | 2-4",
            "N E R W S | F - | 1-4",
            "N E W S n.p n.q | F | 2-2",
        ),
    ),
    Idea(
        "Calendar",
        "The digits of the year; a white dragon is the zero.",
        (
            "Y1.p^1 Y2.p^1 Y3.p^1 Y4.p^1 n.q n.r | F | 2-4",
            "Y1.p^1 Y2.p^1 Y3.p^1 Y4.p^1 n.q n+1.q n+2.q | F - | 2-4",
            "Y1.p Y2.p Y4.q | F | 2-4",
            "Y1.p Y2.p Y3.q Y4.q | F - | 1-4",
            "Y1.p Y1.q Y2.p Y4.p Y4.q | F - | 1-4",
            "Y4.p Y4.q Y4.r Y2.p | F - | 1-4",
            "Y1.p Y2.p Y4.p D(p) | F - | 1-4",
            "Y1.p^1 Y2.p^1 Y3.p^1 Y4.p^1 X Z | F - | 2-4",
            "Y1.p^1 Y2.p^1 Y3.p^1 Y4.p^1 D(q) D(r) | F - | 2-4",
        ),
    ),
    Idea(
        "Heaps",
        "One group of five or more, so jokers are welcome and in most hands needed.",
        (
            "n.p n+1.p n+2.p n+3.p | F - | 1-5",
            "n.p n+1.q n+2.r | F | 2-5",
            "n.p n+1.p n.q n+1.q | F - | 1-5",
            "n.p D(p) n.q D(q) | F - | 1-5",
            "D(p)^5 n.p n.q n.r | - | 2-4",
            "F^5 n.p n+1.p n+2.p | - | 2-4",
            "F^5 n.p n.q n.r | - | 2-4",
            "F^6 n.p D(p) n.q D(q) | - | 1-4",
            "N E n.p W S | F - | 1-5",
        ),
    ),
)

FILL = (2, 3, 4)


def offers(idea: Idea, outline: str) -> Iterator[str]:
    """Yield the groups of every hand that an outline offers, each without a fault."""
    row, fillers, sizes = (part.strip() for part in outline.split("|"))
    low, high = map(int, sizes.split("-"))
    for filler in fillers.split():
        for count in FILL if filler != "-" else (0,):
            for groups in _with_counts(row.split(), HAND_SIZE - count, range(low, high + 1)):
                text = " ".join(([f"{filler}^{count}"] if count else []) + groups)
                heap = any(int(group.rpartition("^")[2]) >= 5 for group in text.split())
                if heap == (idea.name == "Heaps") and not parse_groups(text)[1]:
                    yield text


def _with_counts(row: list[str], total: int, sizes: range) -> Iterator[list[str]]:
    free = [face for face in row if "^" not in face]
    left = total - sum(int(face.rpartition("^")[2]) for face in row if "^" in face)
    for counts in product(sizes, repeat=len(free)):
        if sum(counts) == left and is_regular(counts):
            given = iter(counts)
            yield [face if "^" in face else f"{face}^{next(given)}" for face in row]


def is_regular(counts: tuple[int, ...]) -> bool:
    """Tell whether counts are easy to see and to keep in mind.

    They are the same from both ends, climb or fall by one, come in two even halves, or are equal but for one end.
    """
    half = len(counts) // 2
    steps = {after - before for before, after in pairwise(counts)}
    return (
        counts == counts[::-1]
        or steps in ({1}, {-1})
        or (len(counts) == 2 * half and len(set(counts[:half])) == len(set(counts[half:])) == 1)
        or (len(counts) > 2 and 1 in (len(set(counts[1:])), len(set(counts[:-1]))))
    )
