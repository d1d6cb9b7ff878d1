"""Letters readable across a room: pure text of exact sizes, drawn from a raster of our own.

Every letter is seven points high and mostly four wide. A point is a square: at scale 1 one cell wide and half a cell
high, at scale 2 two cells and one cell, and so on. Plain text uses whole cells only.
"""

_HEIGHT = 7
_RASTER = """
A .##. #..# #..# #### #..# #..# #..#
B ###. #..# #..# ###. #..# #..# ###.
C .##. #..# #... #... #... #..# .##.
D ###. #..# #..# #..# #..# #..# ###.
E #### #... #... ###. #... #... ####
F #### #... #... ###. #... #... #...
G .##. #..# #... #.## #..# #..# .##.
H #..# #..# #..# #### #..# #..# #..#
I ### .#. .#. .#. .#. .#. ###
J ...# ...# ...# ...# #..# #..# .##.
K #..# #.#. ##.. #... ##.. #.#. #..#
L #... #... #... #... #... #... ####
M #...# ##.## #.#.# #.#.# #...# #...# #...#
N #..# ##.# ##.# #.## #.## #..# #..#
O .##. #..# #..# #..# #..# #..# .##.
P ###. #..# #..# ###. #... #... #...
Q .##. #..# #..# #..# #.#. .#.# ....
R ###. #..# #..# ###. #.#. #..# #..#
S .### #... #... .##. ...# ...# ###.
T ##### ..#.. ..#.. ..#.. ..#.. ..#.. ..#..
U #..# #..# #..# #..# #..# #..# .##.
V #...# #...# #...# #...# .#.#. .#.#. ..#..
W #...# #...# #...# #.#.# #.#.# ##.## #...#
X #...# #...# .#.#. ..#.. .#.#. #...# #...#
Y #...# #...# .#.#. ..#.. ..#.. ..#.. ..#..
Z #### ...# ..#. ..#. .#.. #... ####
0 .##. #..# #..# #..# #..# #..# .##.
1 .#. ##. .#. .#. .#. .#. ###
2 ###. ...# ...# .##. #... #... ####
3 ###. ...# ...# .##. ...# ...# ###.
4 #..# #..# #..# #### ...# ...# ...#
5 #### #... #... ###. ...# ...# ###.
6 .##. #... #... ###. #..# #..# .##.
7 #### ...# ...# ..#. .#.. .#.. .#..
8 .##. #..# #..# .##. #..# #..# .##.
9 .##. #..# #..# .### ...# ...# .##.
: . . # . # . .
. . . . . . . #
- ... ... ... ### ... ... ...
? ###. ...# ...# .##. .#.. .... .#..
! # # # # # . #
> ...#... ...##.. ######. ####### ######. ...##.. ...#...
< ...#... ..##... .###### ####### .###### ..##... ...#...
^ ...#... ..###.. .#####. ####### ..###.. ..###.. ..###..
"""
_GLYPHS: dict[str, tuple[str, ...]] = {" ": (".",) * _HEIGHT} | {
    line[0]: tuple(line[2:].split()) for line in _RASTER.strip().splitlines()
}


def has_letters(text: str) -> bool:
    """Say whether every character of a text can be drawn."""
    return all(mark in _GLYPHS for mark in text)


def letters(text: str, scale: int, plain: bool = False) -> tuple[str, ...]:
    """Return the rows of a text in capitals, digits and the marks : . - ? ! and > < ^ (arrows), all of one width.

    Raises:
        KeyError: a character has no raster.
    """
    points = [".".join(_GLYPHS[mark][row] for mark in text) for row in range(_HEIGHT)]
    if plain:
        wide = ["".join(("#" if point == "#" else " ") * scale for point in row) for row in points]
        return tuple(row for row in wide for _ in range(max(1, scale // 2)))
    tall = ["".join(point * scale for point in row) for row in points for _ in range(scale)]
    if len(tall) % 2:
        tall.append("." * len(tall[0]))
    marks = {"##": "█", "#.": "▀", ".#": "▄", "..": " "}
    return tuple(
        "".join(marks[upper + lower] for upper, lower in zip(tall[row], tall[row + 1], strict=True))
        for row in range(0, len(tall), 2)
    )
