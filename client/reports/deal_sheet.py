"""A deal to lay out, as a sheet of paper: the tiles to take, lines to write on, and below a fold the threes that come.

Plain text of at most 72 columns and 60 lines a sheet; a form feed parts the sheets. Pure.
"""

from collections.abc import Iterator

from client.text import some
from shared.rules.laid_out import LaidOut
from shared.rules.tiles import FLOWER, JOKER, SUITS, Rack, by_suit, suit

WIDTH = 72
NEXT_SHEET = "\f"
_SUITS = dict(zip(SUITS, ("bams", "craks", "dots"), strict=True))
_WINDS, _DRAGONS = {"N": "north", "E": "east", "W": "west", "S": "south"}, {"R": "red", "G": "green", "O": "soap"}


def sheets(laid: LaidOut, people: int = 1) -> str:
    """Return the sheets of one deal, one for each person, as they are printed."""
    return NEXT_SHEET.join(
        "\n".join(sheet_lines(laid, f"sheet {number} of {people}" if people > 1 else "")) + "\n"
        for number in range(1, people + 1)
    )


def sheet_lines(laid: LaidOut, number: str = "") -> list[str]:
    """Return one sheet in lines."""
    return [
        f"Real tiles: {laid.name}".ljust(WIDTH - len(number)) + number,
        "",
        *rack_lines(laid.rack),
        "",
        "Whoever lays the threes: fold this sheet at the line, take the tiles",
        "listed below it from the same set, and lay them face down in six rows.",
        "Row 1 comes in at the first pass. What you pass goes back to the box.",
        "",
        "  pass             you passed             came in          seconds",
        *(f"  {step:<15}  ____ ____ ____         ____ ____ ____   _______" for step, _ in laid.comes),
        "",
        "  your last rack   ________________________________________________",
        "",
        "- - - - - - - - - - - - - - fold here - - - - - - - - - - - - - - - -",
        "",
        *coming_lines(laid),
    ]


def rack_lines(rack: Rack) -> list[str]:
    """Return the tiles to take, kind by kind, as somebody looks for them in a box."""
    dealer = ", and you are East" if len(rack) == 14 else ""
    return [f"Take these {some(len(rack), 'tile')}{dealer}:", "", *(f"  {line}" for line in _by_kind(rack))]


def coming_lines(laid: LaidOut) -> list[str]:
    """Return the threes that come in, in their order."""
    return [
        "Lay face down, in this order:",
        "",
        *(
            f"  {row}  {step:<15}  {'   '.join(f'{tile:<2}' for tile in tiles)}".rstrip()
            for row, (step, tiles) in enumerate(laid.comes, 1)
        ),
    ]


def _by_kind(rack: Rack) -> Iterator[str]:
    for letter, name in _SUITS.items():
        if ranks := [tile[0] for tile in by_suit(rack) if suit(tile) == letter]:
            yield f"{name:<9}{' '.join(ranks)}"
    for title, words in (("winds", _WINDS), ("dragons", _DRAGONS)):
        if found := [words[tile] for tile in by_suit(rack) if tile in words]:
            yield f"{title:<9}{' '.join(found)}"
    for tile, title in ((FLOWER, "flowers"), (JOKER, "jokers")):
        if count := rack.count(tile):
            yield f"{title:<9}{count}"
