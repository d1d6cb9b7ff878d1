"""What is printed on a tile, and large figures for a clock: pure text of exact sizes.

A face is three rows of three cells; below it stands the tile's word. The figures are drawn from a raster of
three by five points of our own, so they look the same in every font.
"""

from client.theme import Role
from shared.rules.tiles import Tile, rank, suit, word

_POINTS = {
    "0": ("###", "#.#", "#.#", "#.#", "###"),
    "1": (".#.", "##.", ".#.", ".#.", "###"),
    "2": ("###", "..#", "###", "#..", "###"),
    "3": ("###", "..#", ".##", "..#", "###"),
    "4": ("#.#", "#.#", "###", "..#", "..#"),
    "5": ("###", "#..", "###", "..#", "###"),
    "6": ("###", "#..", "###", "#.#", "###"),
    "7": ("###", "..#", ".#.", ".#.", ".#."),
    "8": ("###", "#.#", "###", "#.#", "###"),
    "9": ("###", "#.#", "###", "..#", "###"),
    ":": (".", "#", ".", "#", "."),
    ".": (".", ".", ".", ".", "#"),
    "-": ("...", "...", "###", "...", "..."),
}
_HONOURS: dict[Tile, tuple[str, str, str]] = {
    "N": (" ▴ ", " N ", "   "),
    "E": ("   ", " E▸", "   "),
    "W": ("   ", "◂W ", "   "),
    "S": ("   ", " S ", " ▾ "),
    "R": ("▗▄▖", "▐R▌", "▝▀▘"),
    "G": ("▗▄▖", "▐G▌", "▝▀▘"),
    "O": ("┌─┐", "│ │", "└─┘"),
    "F": ("╲│╱", "─F─", "╱│╲"),
    "J": ("* *", " J ", "* *"),
}
_SHORT: dict[Tile, str] = {
    "N": "Wind",
    "E": "Wind",
    "W": "Wind",
    "S": "Wind",
    "G": "Grn",
    "F": "Flwr",
    "J": "Jokr",
}
_ROLES: dict[str, Role] = {"b": "bam", "c": "crak", "d": "dot"}
_HONOUR_ROLES: dict[Tile, Role] = {"R": "crak", "G": "bam", "O": "dot", "F": "flower", "J": "joker"}


def face(tile: Tile, plain: bool = False, tall: bool = False) -> tuple[str, ...]:
    """Return three rows of three cells, or five where there is room; plain uses nothing but ASCII.

    >>> face("5b")
    ('█▀▀', '▀▀█', '▀▀▀')
    """
    number = rank(tile)
    if number is not None and tall:
        return tuple(row.replace("#", "#" if plain else "█").replace(".", " ") for row in _POINTS[str(number)])
    rows = ("   ", f" {tile[0]} ", "   ") if plain else _HONOURS.get(tile) or _halves(_POINTS[tile[0]])
    return ("   ", *rows, "   ") if tall else rows


def label(tile: Tile) -> str:
    """Return the word printed on a tile: at most four cells, so that a border stands between it and the next one.

    >>> label("5b"), label("N"), label("R")
    ('Bam', 'Wind', 'Red')
    """
    return _SHORT.get(tile) or word(tile).capitalize()


def title(tile: Tile) -> str:
    """Return a short full name: rank and word.

    >>> title("5b"), title("O")
    ('5 Bam', 'Soap')
    """
    return f"{tile[0]} {label(tile)}" if suit(tile) else word(tile).capitalize()


def role(tile: Tile) -> Role:
    """Return the colour role of a tile."""
    return _ROLES[tile[1]] if suit(tile) else _HONOUR_ROLES.get(tile, "honour")


def figures(text: str, plain: bool = False, large: bool = False) -> tuple[str, ...]:
    """Return large figures for a text of digits, colons and points: five rows of two-cell points, or ten of three."""
    width, height = (3, 2) if large else (2, 1)
    ink, blank = ("#" if plain else "█") * width, " " * width
    rows = []
    for row in range(5):
        glyphs = ["".join(ink if point == "#" else blank for point in _POINTS[mark][row]) for mark in text]
        rows += ["  ".join(glyphs)] * height
    return tuple(rows)


def _halves(points: tuple[str, ...]) -> tuple[str, str, str]:
    pairs = (*points, "." * len(points[0]))
    marks = {"##": "█", "#.": "▀", ".#": "▄", "..": " "}
    top, centre, bottom = (
        "".join(marks[upper + lower] for upper, lower in zip(pairs[row], pairs[row + 1], strict=True))
        for row in (0, 2, 4)
    )
    return top, centre, bottom
