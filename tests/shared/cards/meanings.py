"""What the words about a hand mean, read back from the words alone.

Written from the sentences, without the code that makes them: given what the example shows, each sentence becomes a
test of ranks, of suits or of dragons, and everything that passes the test is what the sentence allows.
"""

import re
from collections.abc import Callable
from itertools import product

NUMBER = {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9}
SUIT = {"bams": "b", "craks": "c", "dots": "d"}
DRAGON = {"red": "R", "green": "G", "white": "O"}
GOES = {"b": "G", "c": "R", "d": "O"}
Test = Callable[[tuple[int, ...]], bool]


def items(text: str) -> list[str]:
    """Return the items of "1, 3 or 5" and "bams and craks"."""
    return [item for item in re.split(r", | and | or ", text) if item]


def ranks_allowed(words: str, shown: tuple[int, ...]) -> set[tuple[int, ...]]:
    """Return every way to fill the ranks that the example shows, all of them different, as the words allow."""
    words, _, _stays = words.partition(" @ ")  # never in the words; keeps the parts below simple
    fixed: set[int] = set()
    if found := re.fullmatch(r"(.*?)(?:, )([\d, and]+) stays?", words):
        words, fixed = found[1], {int(item) for item in items(found[2])}
    if found := re.fullmatch(r"only (.+)", words):
        words, fixed = "", {int(item) for item in items(found[1])}
    free = tuple(rank for rank in shown if rank not in fixed)
    passes = _ranks_test(words, free)
    if "move together" in words or len(free) > 4:
        ways = _shifted(words, free)
    else:
        ways = set(product(range(1, 10), repeat=len(free)))
    allowed = {way for way in ways if passes(way)}
    return {tuple(dict(zip(free, way, strict=True)).get(rank, rank) for rank in shown) for way in allowed}


def _shifted(words: str, free: tuple[int, ...]) -> set[tuple[int, ...]]:
    """Return the free ranks moved in the blocks that the words name, or all together."""
    blocks = [tuple(map(int, text.split("-"))) for text in re.findall(r"(\d(?:-\d)*) (?:move together|is any)", words)]
    blocks = blocks or [tuple(sorted(free))]
    ways = [
        [dict(zip(block, (rank + step for rank in block), strict=True)) for step in range(-8, 9)] for block in blocks
    ]
    moved = ({rank: new for part in way for rank, new in part.items()} for way in product(*ways))
    return {tuple(each[rank] for rank in free) for each in moved if all(1 <= new <= 9 for new in each.values())}


def _starts(text: str) -> Callable[[int], bool]:
    if " from an odd one up" in text:
        return lambda low: low % 2 == 1
    if " from an even one up" in text:
        return lambda low: low % 2 == 0
    if found := re.search(r" from ([\d, or]+) up", text):
        listed = {int(item) for item in items(found[1])}
        return lambda low: low in listed
    return lambda low: True


def _ranks_test(words: str, free: tuple[int, ...]) -> Test:
    def together(way: tuple[int, ...]) -> bool:
        return len({new - old for new, old in zip(way, free, strict=True)}) == 1

    if not words:
        return lambda way: way == free
    if found := re.fullmatch(r"[\d-]+ may be (.+)", words):
        listed = {tuple(map(int, item.split("-"))) for item in items(found[1])}
        return lambda way: way in listed
    if words == "any one rank":
        return lambda way: len(way) == 1
    if found := re.fullmatch(r"one (odd|even) rank", words):
        return lambda way: len(way) == 1 and way[0] % 2 == (found[1] == "odd")
    if found := re.fullmatch(r"one rank: (.+)", words):
        return lambda way: len(way) == 1 and str(way[0]) in items(found[1])
    if found := re.fullmatch(r"any (\w+) ranks (in a row|\w+ apart)( from .+ up)?", words):
        gap = 1 if found[2] == "in a row" else NUMBER[found[2].split()[0]]
        start = _starts(words)
        return lambda way: (
            together(way)
            and sorted(way) == [min(way) + gap * step for step in range(NUMBER[found[1]])]
            and start(min(way))
        )
    if found := re.fullmatch(r"any two ranks that add up to (\d+)(?:, also (\d) and (\d))?", words):
        return lambda way: sum(way) == int(found[1]) and (way[0] != way[1] or str(way[0]) == found[2] == found[3])
    if found := re.fullmatch(r"any two different (odd |even |)ranks", words):
        odd = {"odd ": {1}, "even ": {0}, "": {0, 1}}[found[1]]
        return lambda way: len(way) == 2 and way[0] != way[1] and {rank % 2 for rank in way} <= odd
    if found := re.fullmatch(r"two different ranks of (.+)", words):
        return lambda way: len(way) == 2 and way[0] != way[1] and {str(rank) for rank in way} <= set(items(found[1]))
    if words == "any two different ranks and their sum":
        total = free.index(max(free))
        return lambda way: (
            len(set(way)) == 3 and way[total] == sum(rank for place, rank in enumerate(way) if place != total)
        )
    if found := re.fullmatch(r"any three ranks that add up to (\d+), (\d) and (\d) not alike", words):
        one, other = free.index(int(found[2])), free.index(int(found[3]))
        return lambda way: sum(way) == int(found[1]) and way[one] != way[other]
    return _blocks_test(words, free)


def _blocks_test(words: str, free: tuple[int, ...]) -> Test:
    """Read "1-2 move together from 1 or 3 up, 5 is any even rank, 1 and 5 not alike"."""
    unlike = re.search(r"(\d) and (\d) not alike$", words)
    rest = words[: unlike.start()].rstrip(", ") if unlike else words
    block = r"\d(?:-\d)* (?:move together|is any)"
    moves = r"(\d(?:-\d)*) (?:move together( from .+? up)?|is any (odd |even |)(?:rank|of ([\d, or]+?)))"
    found = list(re.finditer(rf"{moves}(?=, {block}|$)", rest))
    if not found or ", ".join(part[0] for part in found) != rest:
        raise ValueError(f"nobody knows what this means: {words}")

    def passes(way: tuple[int, ...]) -> bool:
        new = dict(zip(free, way, strict=True))
        for part in found:
            places = tuple(map(int, part[1].split("-")))
            if len({new[rank] - rank for rank in places}) != 1:
                return False
            if not _starts(part[0])(min(new[rank] for rank in places)):
                return False
            if part[3] and new[places[0]] % 2 != (part[3] == "odd "):
                return False
            if part[4] and str(new[places[0]]) not in items(part[4]):
                return False
        return not unlike or new[int(unlike[1])] != new[int(unlike[2])]

    return passes


def suits_allowed(words: str, shown: tuple[str, ...]) -> set[tuple[str, ...]]:
    """Return every way to fill the suits that the example shows, all of them different, as the words allow."""
    ways = set(product("bcd", repeat=len(shown)))
    if not shown:
        return ways
    if words in ("one suit", "two suits", "three suits"):
        assert NUMBER[words.split()[0]] == len(shown)
        return {way for way in ways if len(set(way)) == len(way)}
    if words in ("one or two suits", "one, two or three suits"):
        assert len(shown) == words.count(",") + 2
        return ways
    if found := re.fullmatch(r"(.+) only", words):
        return {tuple(SUIT[item] for item in items(found[1]))}
    some = r"(?:bams|craks|dots)(?:(?:, | and )(?:bams|craks|dots))*"
    found_ = re.fullmatch(
        rf"(?:(?P<stay>{some}) stay)?(?:, )?(?:any other suit for (?P<other>{some})|(?P<any>{some}) any "
        rf"(?:suit|two suits))?(?:, )?(?:(?P<all>{some}) any suit, also one of the others)?",
        words,
    )
    if not found_:
        raise ValueError(f"nobody knows what this means: {words}")
    named = {key: {SUIT[item] for item in items(text or "")} for key, text in found_.groupdict().items()}
    assert set.union(*named.values()) == set(shown), words
    bound = [place for place, suit in enumerate(shown) if suit not in named["all"]]
    return {
        way
        for way in ways
        if all(new == old for new, old in zip(way, shown, strict=True) if old in named["stay"])
        if len({way[place] for place in bound}) == len(bound)
    }


def dragons_allowed(
    words: str, suits: set[tuple[str, ...]], suits_shown: tuple[str, ...], shown: tuple[str, ...]
) -> set[tuple[str, ...]]:
    """Return every way to fill suits and then the free dragons of the example, as the words allow."""
    allowed = set()
    for way in suits:
        suit = dict(zip(suits_shown, way, strict=True))
        for dragons in product("RGO", repeat=len(shown)):
            if _dragons_pass(words, suit, dict(zip(shown, dragons, strict=True))):
                allowed.add(way + dragons)
    return allowed


def _dragons_pass(words: str, suit: dict[str, str], new: dict[str, str]) -> bool:
    owned: set[str] = set()
    if words in ("with its dragon", "each with its dragon"):
        return len(suit) == len(new) and all(new[GOES[old]] == GOES[now] for old, now in suit.items())
    if found := re.fullmatch(r"with the dragon of the suit shown as (\w+)", words):
        (dragon,) = new.values()
        return dragon == GOES[suit[SUIT[found[1]]]]
    for part in re.finditer(r"(\w+) goes with the suit shown as (\w+)", words):
        owned.add(DRAGON[part[1]])
        if new[DRAGON[part[1]]] != GOES[suit[SUIT[part[2]]]]:
            return False
    rest = re.sub(r"(?:(?:, | and |^)\w+ goes with the suit shown as \w+)+(?:, )?", "", words)
    left = [dragon for shown, dragon in new.items() if shown not in owned]
    if not rest:
        assert not left, words
        return True
    if found := re.fullmatch(r"(\w+(?:-\w+)*) may be (.+)", rest):
        assert [DRAGON[name] for name in found[1].split("-")] == [shown for shown in new if shown not in owned]
        return "-".join(left) in {"-".join(DRAGON[name] for name in item.split("-")) for item in items(found[2])}
    rest = rest.rpartition(": ")[2]
    unused = {GOES[other] for other in "bcd" if other not in suit.values()}
    different = len(set(left)) == len(left)
    if rest == "any dragon":
        return len(left) == 1
    if re.fullmatch(r"any (two|three) different dragons", rest):
        return different
    if re.fullmatch(r"any (two|three) dragons, also alike", rest):
        return True
    if found := re.fullmatch(r"any dragon but that of the suit shown as (\w+)", rest):
        return left != [GOES[suit[SUIT[found[1]]]]]
    if rest in (
        "the dragon of another suit",
        "the dragons of the two other suits",
        "the dragon of the third suit",
        "dragons of other suits",
    ):
        return different and set(left) <= unused
    raise ValueError(f"nobody knows what this means: {words}")
