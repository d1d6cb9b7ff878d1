"""What is free about a hand, in words: "any three ranks in a row, one suit".

The words go with the example of the hand and speak of the ranks and suits that it shows. Each wording means one exact
set of choices, which is worked out here and compared with what the hand allows: a wording that would say too much or
too little is never used. Where none of the short ones fits, the choices are listed, so that every hand has true words.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise, permutations, product

from shared.cards.example import DRAGONS, Columns, Example, columns_of
from shared.cards.expand import Ranks
from shared.cards.faces import Relative, YearDigit
from shared.rules.tiles import DRAGON_OF_SUIT, Tile, rank, suit

NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
SUIT_NAMES = {"b": "bams", "c": "craks", "d": "dots"}
DRAGON_NAMES = {"R": "red", "G": "green", "O": "white"}
WIND_NAMES = {"N": "north", "E": "east", "W": "west", "S": "south"}

ODD, EVEN, ALL = frozenset((1, 3, 5, 7, 9)), frozenset((2, 4, 6, 8)), frozenset(range(1, 10))
_GROUPS = "groups"
Vectors = frozenset[tuple[object, ...]]


@dataclass(frozen=True, slots=True)
class Freedom:
    """What is free about a row of groups; "" where there is nothing to say."""

    year: str = ""
    ranks: str = ""
    suits: str = ""
    dragons: str = ""
    winds: str = ""
    jokers: str = ""

    @property
    def clauses(self) -> tuple[str, ...]:
        """What there is to say, part by part."""
        said = (self.year, self.ranks, self.suits, self.dragons, self.winds, self.jokers)
        return tuple(clause for clause in said if clause)

    def __str__(self) -> str:
        """All of it in one line.

        >>> str(Freedom(ranks="any one rank", suits="two suits"))
        'any one rank, two suits'
        """
        joint = "; " if any("," in clause for clause in self.clauses) else ", "
        return joint.join(self.clauses) or "exactly these tiles"


@lru_cache(maxsize=1024)
def freedom_of(example: Example, n: Ranks, year: int, m: Ranks = None, jokers: bool = True) -> Freedom:
    """Return what is free about a row of groups, told of its example."""
    columns = columns_of(example.groups, n, year, m)
    ranks, suits, dragons = _ranks(example, columns), _suits(example, columns), ""
    if suits is not None:
        dragons = _dragons(example, columns) or ""
    if suits is None or _needs_list(example, columns):
        suits, dragons = _listed_suits(example, columns), ""
    if not any(map(_moves, columns.ranks + columns.suits)):
        ranks, suits = "", suits if suits.startswith(_GROUPS) else ""  # the example says which they are
    return Freedom(_year(example, year), ranks, suits, dragons, _winds(example, columns), "" if jokers else "no jokers")


def listed(items: list[str], joint: str = "and") -> str:
    """Return items as a list in a sentence.

    >>> listed(["1", "3", "5"], "or")
    '1, 3 or 5'
    """
    return f" {joint} ".join([", ".join(items[:-1]), items[-1]] if len(items) > 1 else items)


def _moves(column: tuple[object, ...]) -> bool:
    return len(set(column)) > 1


def _year(example: Example, year: int) -> str:
    digits = [group.face.place for group in example.groups if isinstance(group.face, YearDigit)]
    if not digits:
        return ""
    return f"the year {year}" if digits == [1, 2, 3, 4] else f"digits of the year {year}"


# ---- ranks


def _ranks(example: Example, columns: Columns) -> str:
    """Return the words about ranks."""
    shown: dict[tuple[int, ...], int] = {}
    groups: dict[tuple[int, ...], list[int]] = {}
    own = set()
    for index, (column, tile) in enumerate(zip(columns.ranks, example.tiles, strict=True)):
        if column:
            shown.setdefault(column, rank(tile) or 0)
            groups.setdefault(column, []).append(index + 1)
            if not isinstance(example.groups[index].face, YearDigit):
                own.add(column)
    free = [column for column in shown if _moves(column)]
    fixed = sorted({shown[column] for column in own if not _moves(column)})
    stays = [str(number) for number in fixed]
    if not free:
        return f"only {listed(stays)}" if fixed else ""
    vectors: Vectors = frozenset(zip(*free, strict=True))
    if "rank" not in example.clear:
        numbers = listed([str(number) for column in free for number in groups[column][:1]])
        also = [column for column in free if len(groups[column]) > 1]
        alike = [f", rank of {listed([str(number) for number in groups[column]])} alike" for column in also]
        return f"ranks of groups {numbers}: {_all_of(vectors)}{''.join(alike)}"
    at = tuple(shown[column] for column in free)
    wordings = _rank_wordings(at, vectors, _blocks(example, columns, free))
    found = next((words for words, meant in wordings if meant == vectors), "")
    words = found or f"{'-'.join(map(str, at))} may be {_all_of(vectors)}"
    if not fixed:
        return words
    return f"{words}, {listed(stays)} {'stays' if len(stays) == 1 else 'stay'}"


def _all_of(vectors: Vectors) -> str:
    return listed(["-".join(map(str, vector)) for vector in sorted(vectors, key=str)], "or")


def _blocks(example: Example, columns: Columns, free: list[tuple[int, ...]]) -> dict[str, list[int]]:
    """Return which of the free ranks count up from n and which from m, the bare letter first."""
    blocks: dict[str, list[tuple[int, int]]] = {"n": [], "m": []}
    for place, column in enumerate(free):
        face = example.groups[columns.ranks.index(column)].face
        if isinstance(face, Relative) and len(face.letters) == 1 and face.n_times + face.m_times == 1:
            blocks[face.letters].append((abs(face.plus), place))
    return {letter: [place for _, place in sorted(found)] for letter, found in blocks.items()}


def _rank_wordings(
    at: tuple[int, ...], vectors: Vectors, blocks: dict[str, list[int]]
) -> Iterator[tuple[str, Vectors]]:
    """Yield wordings for ranks of which the example shows these, each with the set that it means.

    What the hand allows is only looked at to choose numbers for a wording.
    """
    yield from _one_shift(at)
    if len(at) == 2:
        yield from _two_ranks(at)
    if len(at) == 3:
        yield from _three_ranks(at)
    first, second = blocks["n"], blocks["m"]
    if first and second and len(first) + len(second) == len(at):
        yield _two_shifts(at, vectors, first, second)


@lru_cache(maxsize=64)
def _one_shift(at: tuple[int, ...]) -> tuple[tuple[str, Vectors], ...]:
    """Return wordings in which all ranks move together, each from some starts.

    Kept, because most hands of a card show one of few such examples.
    """
    low, high = min(at), max(at)
    every = range(1, 10 - (high - low))
    ranks = sorted(at)
    gaps = {after - before for before, after in pairwise(ranks)}
    if len(at) == 1:
        base = "any one rank"
    elif gaps == {1}:
        base = f"any {NUMBERS[len(at)]} ranks in a row"
    elif len(gaps) == 1:
        base = f"any {NUMBERS[len(at)]} ranks {NUMBERS[next(iter(gaps))]} apart"
    else:
        base = f"{'-'.join(map(str, ranks))} move together"
    wordings = []
    for mask in range(1, 1 << len(every)):
        starts = [start for place, start in enumerate(every) if mask >> place & 1]
        meant: Vectors = frozenset(tuple(start + number - low for number in at) for start in starts)
        wordings.append((_from(base, starts, list(every), len(at)), meant))
    return tuple(wordings)


def _from(base: str, starts: list[int], every: list[int], count: int) -> str:
    if starts == every:
        return base
    for word, numbers in (("odd", ODD), ("even", EVEN)):
        if starts == [start for start in every if start in numbers] and len(starts) > 1:
            return f"one {word} rank" if count == 1 else f"{base} from an {word} one up"
    some = listed([str(start) for start in starts], "or")
    return f"one rank: {some}" if count == 1 else f"{base} from {some} up"


def _two_ranks(at: tuple[int, ...]) -> Iterator[tuple[str, Vectors]]:
    total = sum(at)
    pairs = [(one, total - one) for one in range(1, 10) if 1 <= total - one <= 9]
    apart = [pair for pair in pairs if pair[0] != pair[1]]
    yield f"any two ranks that add up to {total}", frozenset(apart)
    if len(pairs) > len(apart):
        half = total // 2
        yield f"any two ranks that add up to {total}, also {half} and {half}", frozenset(pairs)
    for word, numbers in (("", ALL), ("odd ", ODD), ("even ", EVEN)):
        yield f"any two different {word}ranks", frozenset(permutations(sorted(numbers), 2))
    for size in range(2, 9):
        for some in _subsets(size):
            if set(at) <= set(some):
                yield (
                    f"two different ranks of {listed([str(number) for number in some])}",
                    frozenset(permutations(some, 2)),
                )


@lru_cache(maxsize=16)
def _subsets(size: int) -> tuple[tuple[int, ...], ...]:
    return tuple(
        tuple(number for number in range(1, 10) if mask >> number & 1)
        for mask in range(2, 1 << 10, 2)
        if mask.bit_count() == size
    )


def _three_ranks(at: tuple[int, ...]) -> Iterator[tuple[str, Vectors]]:
    for place in range(3):
        others = [other for other in range(3) if other != place]
        pair = tuple(at[other] for other in others)
        apart = list(permutations(range(1, 10), 2))
        if sum(pair) == at[place]:
            meant = frozenset(_woven(one, other, one + other, place) for one, other in apart if one + other <= 9)
            yield "any two different ranks and their sum", meant
        total = sum(at)
        meant = frozenset(
            _woven(one, other, total - one - other, place) for one, other in apart if 1 <= total - one - other <= 9
        )
        yield f"any three ranks that add up to {total}, {pair[0]} and {pair[1]} not alike", meant


def _woven(one: int, other: int, third: int, place: int) -> tuple[int, ...]:
    vector = [one, other]
    vector.insert(place, third)
    return tuple(vector)


def _two_shifts(at: tuple[int, ...], vectors: Vectors, first: list[int], second: list[int]) -> tuple[str, Vectors]:
    """Return the wording in which two sets of ranks move apart from each other; the first of each must differ."""

    def moved(places: list[int]) -> tuple[str, list[dict[int, int]]]:
        ranks = [at[place] for place in places]
        low = min(ranks)
        starts = sorted({min(int(str(vector[place])) for place in places) for vector in vectors})
        every = list(range(1, 10 - max(ranks) + low))
        base = f"{ranks[0]} is any" if len(ranks) == 1 else f"{'-'.join(map(str, ranks))} move together"
        return _from_start(base, starts, every, len(ranks)), [
            {place: at[place] + start - low for place in places} for start in starts
        ]

    (words, one), (others, other) = moved(first), moved(second)
    pairs = [mine | yours for mine, yours in product(one, other)]
    apart = [pair for pair in pairs if pair[first[0]] != pair[second[0]]]
    unlike = f", {at[first[0]]} and {at[second[0]]} not alike" if len(apart) < len(pairs) else ""
    meant = frozenset(tuple(each[place] for place in range(len(at))) for each in apart)
    return f"{words}, {others}{unlike}", meant


def _from_start(base: str, starts: list[int], every: list[int], count: int) -> str:
    """Return words for the ranks from which one set moves: "4 is any even rank", "1-2 move together from 1 or 3 up"."""
    if count > 1:
        return _from(base, starts, every, count)
    if starts == every:
        return f"{base} rank"
    word = next((word for word, numbers in (("odd", ODD), ("even", EVEN)) if set(starts) == numbers), "")
    return f"{base} {word} rank" if word else f"{base} of {listed([str(start) for start in starts], 'or')}"


# ---- suits and dragons


def _suits(example: Example, columns: Columns) -> str | None:
    """Return the words about suits; None if there are no short ones."""
    shown: dict[tuple[str, ...], str] = {}
    for column, tile in zip(columns.suits, example.tiles, strict=True):
        if column:
            shown.setdefault(column, suit(tile) or "")
    if not shown:
        return ""
    if "suit" not in example.clear:
        return None
    at, vectors = tuple(shown.values()), frozenset(zip(*shown, strict=True))
    return next((words for words, meant in _suit_wordings(at) if meant == vectors), None)


def _suit_wordings(at: tuple[str, ...]) -> Iterator[tuple[str, Vectors]]:
    """Yield wordings for suits of which the example shows these, each with the set that it means."""
    suits = tuple(SUIT_NAMES)
    many = f"{NUMBERS[len(at)]} suits" if len(at) > 1 else "one suit"
    yield many, frozenset(permutations(suits, len(at)))
    alike = ("one suit", "one or two suits", "one, two or three suits")[len(at) - 1]
    yield alike, frozenset(product(suits, repeat=len(at)))
    yield f"{listed([SUIT_NAMES[one] for one in at])} only", frozenset({at})
    for natures in product("fda", repeat=len(at)):  # fixed, different from all but the last sort, any
        names = {
            nature: [SUIT_NAMES[one] for one, own in zip(at, natures, strict=True) if own == nature] for nature in "fda"
        }
        meant = frozenset(
            vector
            for vector in product(suits, repeat=len(at))
            if all(one == own for one, own, nature in zip(vector, at, natures, strict=True) if nature == "f")
            if _differ([one for one, nature in zip(vector, natures, strict=True) if nature != "a"])
        )
        said = [f"{listed(names['f'])} stay"] if names["f"] else []
        said += [f"any other suit for {listed(names['d'])}"] if names["d"] and names["f"] else []
        said += (
            [f"{listed(names['d'])} any {'suit' if len(names['d']) == 1 else 'two suits'}"]
            if names["d"] and not names["f"]
            else []
        )
        said += [f"{listed(names['a'])} any suit, also one of the others"] if names["a"] else []
        yield ", ".join(said), meant


def _differ(items: list[str]) -> bool:
    return len(set(items)) == len(items)


def _dragons(example: Example, columns: Columns) -> str | None:
    """Return the words about dragons; None if there are no short ones."""
    suits: dict[tuple[str, ...], str] = {}
    for column, tile in zip(columns.suits, example.tiles, strict=True):
        if column:
            suits.setdefault(column, suit(tile) or "")
    shown: dict[tuple[str, ...], Tile] = {}
    for column, tile in zip(columns.dragons, example.tiles, strict=True):
        if column:
            shown.setdefault(column, tile)
    free = [column for column in shown if _moves(column)]
    if not free:
        return ""
    if "dragon" not in example.clear or (suits and "suit" not in example.clear):
        return None
    alone = len(free) == len(shown)
    own = {column: next((at for at, name in suits.items() if _goes_with(at, column)), None) for column in free}
    rest = [column for column in free if own[column] is None]
    owned = [(shown[column], suits[at]) for column, at in own.items() if at is not None]
    said = [_owned(owned, list(suits.values()), alone and not rest)] if owned else []
    if rest:
        choices = frozenset(zip(*suits, *rest, strict=True)) if suits else frozenset(zip(*rest, strict=True))
        names = [DRAGON_NAMES[shown[column]] for column in rest]
        lead = "" if alone and not owned else f"{listed(names)}: "
        found = _rest_wordings(tuple(suits.values()), frozenset(zip(*suits, strict=True)), len(rest))
        words = next((lead + words for words, meant in found if meant == choices), None)
        said.append(words or _listed_dragons(names, choices, frozenset(zip(*suits, strict=True))))
        if not said[-1]:
            return None
    return ", ".join(said)


def _goes_with(at: tuple[str, ...], column: tuple[str, ...]) -> bool:
    return all(DRAGON_OF_SUIT[one] == dragon for one, dragon in zip(at, column, strict=True))


def _owned(owned: list[tuple[Tile, str]], suits: list[str], alone: bool) -> str:
    """Return the words for dragons that go with suits: pairs of dragon and suit as the example shows them."""
    if alone and len(owned) == len(suits):
        return "with its dragon" if len(suits) == 1 else "each with its dragon"
    if alone and len(owned) == 1:
        return f"with the dragon of the suit shown as {SUIT_NAMES[owned[0][1]]}"
    return listed([f"{DRAGON_NAMES[dragon]} goes with the suit shown as {SUIT_NAMES[own]}" for dragon, own in owned])


def _rest_wordings(at: tuple[str, ...], suits: Vectors, count: int) -> Iterator[tuple[str, Vectors]]:
    """Yield wordings for dragons that go with no suit of the hand, each with the set that it means beside the suits."""
    suits = suits or frozenset({()})

    def beside(allowed: Mapping[tuple[object, ...], Iterable[tuple[str, ...]]]) -> Vectors:
        return frozenset((*vector, *dragons) for vector, each in allowed.items() for dragons in each)

    many = NUMBERS[count]
    different = "any dragon" if count == 1 else f"any {many} different dragons"
    yield different, beside({vector: list(permutations(DRAGONS, count)) for vector in suits})
    if count > 1:
        alike = f"any {many} dragons, also alike"
        yield alike, beside({vector: list(product(DRAGONS, repeat=count)) for vector in suits})
    if not at:
        return
    unused = {vector: [DRAGON_OF_SUIT[one] for one in SUIT_NAMES if one not in vector] for vector in suits}
    words = {(1, 1): "the dragon of another suit", (1, 2): "the dragons of the two other suits"}
    left = words.get((len(at), count), "the dragon of the third suit" if len(at) == 2 else "dragons of other suits")
    yield left, beside({vector: list(permutations(dragons, count)) for vector, dragons in unused.items()})
    if count == 1 and len(at) > 1:
        for place, name in enumerate(at):
            others = {
                vector: [(dragon,) for dragon in DRAGONS if dragon != DRAGON_OF_SUIT[str(vector[place])]]
                for vector in suits
            }
            yield f"any dragon but that of the suit shown as {SUIT_NAMES[name]}", beside(others)


def _listed_dragons(names: list[str], choices: Vectors, suits: Vectors) -> str:
    """Return all choices of some dragons; "" if they depend on the suits."""
    alone = {vector[-len(names) :] for vector in choices}
    if len(choices) != len(alone) * max(len(suits), 1):
        return ""
    ways = sorted("-".join(DRAGON_NAMES[str(dragon)] for dragon in vector) for vector in alone)
    return f"{'-'.join(names)} may be {listed(ways, 'or')}"


def _needs_list(example: Example, columns: Columns) -> bool:
    return _dragons(example, columns) is None


def _listed_suits(example: Example, columns: Columns) -> str:
    """Return all choices of suits and dragons, by the number of the group."""
    free = [
        (number, column)
        for number, (suits, dragons) in enumerate(zip(columns.suits, columns.dragons, strict=True), 1)
        if _moves(column := suits or dragons)
    ]
    numbers = listed([str(number) for number, _ in free])
    vectors = sorted(set(zip(*(column for _, column in free), strict=True)))
    return f"{_GROUPS} {numbers}: {listed(['-'.join(vector) for vector in vectors], 'or')}"


# ---- winds


def _winds(example: Example, columns: Columns) -> str:
    """Return the words about winds."""
    shown: dict[str, Tile] = {}
    groups: dict[str, int] = {}
    for number, (column, tile) in enumerate(zip(columns.winds, example.tiles, strict=True), 1):
        if column:
            shown.setdefault(column, tile)
            groups.setdefault(column, number)
    free = [column for column in shown if column not in WIND_NAMES]
    if not free:
        return ""
    many = "any wind" if len(free) == 1 else f"any {NUMBERS[len(free)]} different winds"
    if len(free) == len(shown):
        return many
    if "wind" in example.clear:
        return f"{listed([WIND_NAMES[shown[column]] for column in free])}: {many}"
    return f"groups {listed([str(groups[column]) for column in free])}: {many}"
