"""The ideas of the practice card, and the hands that the notation offers for each of them.

A section is an idea that can be said in one sentence; under it stand outlines. An outline is a row of faces: those
with a count are fixed, the others get every regular set of counts that makes fourteen. After a bar stand the faces
that may fill up (with two, three or four tiles; "-" for none), then the sizes that the free groups may have, then the
ranks that n may be if not all. Nothing here is random and nothing is measured.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise, product

from shared.cards import Hand, parse_groups
from shared.cards.card import DEFAULT_VALUE
from shared.cards.hand_names import MOST, bare_name
from shared.cards.notation import HAND_SIZE
from shared.cards.tell import rows_of


@dataclass(frozen=True, slots=True)
class Idea:
    """A section of the card to be: its name, its one sentence, and its outlines."""

    name: str
    about: str
    outlines: tuple[str, ...]


PAIRS = "Pairs"
RANKS = {"odd": (1, 3, 5, 7, 9), "even": (2, 4, 6, 8), "unlike": (1, 2, 3, 4, 6, 7, 8, 9)}
"""Lists of n that an outline can ask for by name; "unlike" keeps n and ten less n apart."""
HEAVY_WORDS = ("may be", "groups", "goes with", "shown as", "move together", "also")
"""What stands in the words of hands that take a list, or a second reading."""
MOST_WORDS = 78
"""Characters that the words of a hand may have."""

IDEAS = (
    Idea(
        "Neighbours",
        "Ranks that stand next to each other, in one suit or from suit to suit.",
        (
            "n.p n+1.p n+2.p | F - | 3-5",
            "n.p n+1.q n+2.r | F - | 3-5",
            "n.p n+1.q n+2.p | F - | 3-5",
            "n.p n+1.p n+2.p n+3.p | F - | 2-5",
            "n.p n+1.p n+2.q n+3.q | F - | 3-4",
            "n.p n+1.p n.q n+1.q | F - | 2-5",
            "n.p n+1.p n+2.p n+3.p n+4.p | F - | 2-4",
            "n.p n+1.p n+2.p n+3.q n+4.q n+5.q | F - | 2-3",
        ),
    ),
    Idea(
        "Skipped ranks",
        "Ranks with one left out between them, or two.",
        (
            "n.p n+2.p n+4.p | F - | 3-5",
            "n.p n+2.q n+4.r | F - | 3-5",
            "n.p n+3.q n+6.r | F - | 3-5",
            "n.p n+2.p n.q n+2.q | F - | 2-4",
            "2.p 4.p 6.p 8.p | F - | 2-5",
            "2.p 4.q 6.q 8.p | F - | 2-5",
            "1.p 3.p 5.p 7.p 9.p | F - | 1-4",
            "3.p 6.p 9.p 3.q 6.q 9.q | F - | 1-4",
        ),
    ),
    Idea(
        "One rank",
        "The same rank in two or three suits; some hands have two such ranks.",
        (
            "n.p n.q n.r | F - | 3-5 | odd",
            "n.p n.q n.r | F - | 3-5 | even",
            "n.p n.q n.r A | F - | 2-5",
            "n.p n.q D(r) | F - | 3-5",
            "n.p n.q m.p m.q | F - | 2-4",
            "n.p n.q n+1.q n+1.r | F - | 2-4",
            "n.p n.q n.r R G O | F - | 1-4",
        ),
    ),
    Idea(
        "Ten together",
        "Two ranks that add up to ten: 1 and 9, 2 and 8, 3 and 7 or 4 and 6.",
        (
            "n.p 10-n.p n.q 10-n.q | F - | 2-5 | unlike",
            "n.p n.q 10-n.r | F - | 3-5 | unlike",
            "n.p 10-n.q D(r) | F - | 3-5 | unlike",
            "n.p 10-n.p D(p) | F - | 3-5 | unlike",
            "n.p 10-n.p X | F - | 3-5 | unlike",
            "n.p n.q n.r 10-n.p 10-n.q 10-n.r | F - | 1-4 | unlike",
            "n.p 10-n.q X Z | F - | 3-4 | unlike",
        ),
    ),
    Idea(
        "Own dragons",
        "A suit comes with its own dragon: green with bams, red with craks, white with dots.",
        (
            "n.p D(p) n.q D(q) | F - | 2-5",
            "n.p n+1.p D(p) | F - | 3-5",
            "n.p D(p)^2 n.q D(q)^2 n.r D(r)^2 | F - | 2-4",
            "n.p n+1.p n+2.p D(p) | F - | 2-5",
            "n.p^2 D(p) n+1.q^2 D(q) n+2.r^2 D(r) | F - | 2-4",
            "D(p) n.p n+2.p n+4.p | F - | 2-5",
            "n.p^2 n+2.p^2 D(p) n.q^2 n+2.q^2 D(q) | F - | 2-4",
            "n.p^4 D(p)^3 m.q^4 D(q)^3 | - | 3-4",
        ),
    ),
    Idea(
        "Winds",
        "Winds, alone or with other tiles beside them.",
        (
            "N E W S | F - | 2-5",
            "X Z A B | F - | 3-4",
            "N n.p n+1.p S | F - | 3-4",
            "E n.p n.q W | F - | 3-4",
            "N^1 E^1 W^1 S^1 n.p n.q | F - | 3-5",
            "X n.p n.q n.r | F - | 3-5",
            "X A Z | F - | 3-5",
            "X Z R G O | F - | 2-4",
        ),
    ),
    Idea(
        "The year",
        "The digits of the year; a white dragon is the zero.",
        (
            "Y1.p^1 Y2.p^1 Y3.p^1 Y4.p^1 n.q n.r | F - | 3-5",
            "Y1.p^1 Y2.p^1 Y3.p^1 Y4.p^1 n.q n+1.q n+2.q | F - | 2-4",
            "Y1.p^1 Y2.p^1 Y3.p^1 Y4.p^1 n.p n.q n.r | F - | 2-4",
            "Y1.p Y2.p Y4.q | F - | 3-5",
            "Y1.p Y1.q Y2.p Y4.p Y4.q | F - | 1-4",
            "Y1.p Y2.p Y4.p D(p) | F - | 1-5",
            "Y1.p^1 Y2.p^1 Y3.p^1 Y4.p^1 X Z | F - | 2-5",
            "Y1.p^1 Y2.p^1 Y3.p^1 Y4.p^1 D(q) D(r) | F - | 2-5",
        ),
    ),
    Idea(
        PAIRS,
        "No group has more than two tiles, so no joker helps: for racks full of pairs.",
        (
            "n.p n+1.p n+2.p n+3.p X Z V | - | 2-2",
            "n.p n+2.p n+4.p n.q n+2.q n+4.q | F D(r) | 2-2",
            "n.p n+1.p n+2.p n.q n+1.q n+2.q | F D(r) | 2-2",
            "n.p n.q n.r m.p m.q m.r | F | 2-2",
            "n.p n+1.p D(p) n.q n+1.q D(q) | F | 2-2",
            "Y1.p^1 Y2.p^1 Y3.p^1 Y4.p^1 n.q n+1.q n.r n+1.r | F | 2-2",
            "N E W S n.p n.q | F R O | 2-2",
            "n.p n+2.p n+4.p n.q n+2.q n+4.q n.r n+2.r n+4.r | - | 1-2",
        ),
    ),
)

FILL = (2, 3, 4)


@dataclass(frozen=True, slots=True)
class Candidate:
    """A hand of the grammar: its groups and its list of n, if it has one."""

    groups: str
    n: tuple[int, ...] | None

    def as_hand(self, name: str, section: str) -> Hand:
        """Return it as a hand of a section; it is concealed if at most one of its groups has more than two tiles."""
        large = sum(int(group.rpartition("^")[2]) > 2 for group in self.groups.split())
        return Hand(name, section, self.groups, large <= 1, DEFAULT_VALUE, self.n)


def offers(idea: Idea, outline: str) -> Iterator[Candidate]:
    """Yield every hand that an outline offers, each without a fault."""
    row, fillers, sizes, *ranks = (part.strip() for part in outline.split("|"))
    low, high = map(int, sizes.split("-"))
    n = RANKS[ranks[0]] if ranks else None
    for filler in fillers.split():
        for count in (0,) if filler == "-" else (2,) if idea.name == PAIRS else FILL:
            for groups in _with_counts(row.split(), HAND_SIZE - count, range(low, high + 1)):
                text = " ".join(([f"{filler}^{count}"] if count else []) + groups)
                small = all(int(group.rpartition("^")[2]) <= 2 for group in text.split())
                if small == (idea.name == PAIRS) and not parse_groups(text)[1]:
                    yield Candidate(text, n)


def reads_well(hand: Hand, year: int) -> bool:
    """Tell whether a hand can be said in few words: its name in full but for flowers, its freedom without a list."""
    whole = bare_name(hand, year, most=200).split(", ")[0]
    words = str(rows_of(hand, year)[0].freedom)
    return len(whole) <= MOST and len(words) <= MOST_WORDS and not any(heavy in words for heavy in HEAVY_WORDS)


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
