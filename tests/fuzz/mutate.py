"""Changes to good inputs that make bad ones: of bytes, of lines of text, and of the values in a MessagePack tree."""

from collections.abc import Callable
from random import Random
from typing import Any

import msgpack

Mutator = Callable[[bytes, Random], bytes]
NASTY_NUMBERS = (-1, 0, 1, 2, 255, 256, 65_535, 2**31, 2**32, 2**53, 2**53 + 1, 2**63 - 1, 2**64 - 1, -(2**63))
NASTY_VALUES: tuple[Any, ...] = (
    *NASTY_NUMBERS,
    None,
    True,
    False,
    float("nan"),
    float("inf"),
    -0.0,
    1e308,
    "",
    "J",
    "1b",
    "pass",
    "\x1b[2J",
    "\u202e",
    "\x00",
    "x" * 300,
    b"",
    bytes(16),
    bytes(32),
    (),
    {},
    ("J",) * 14,
    {"kind": "pass"},
)
NASTY_WORDS = (
    b"J^5", b"n+9.p^4", b"{", b"}", b"F^99999999", b"year.p", b"^", b"=", b"[[section]]", b"[[section.hand]]", b'"""',
    b"9" * 400, b"1e999", b"nan", b"0x7fffffffffffffff", b"1979-05-27T07:32:00Z", b"true", b"[" * 2_000, b"\xff\xfe",
    b"\x00", b"\x1b]0;x\x07", "\u202e".encode(), b"[a.b.c.d]", b"a.b.c = 1", b"x = {y = {z = 1}}", b"0:99", b"-1",
    b"999999:59",
)  # fmt: skip


def of_bytes(data: bytes, dice: Random) -> bytes:
    """Flip, drop, double, put in or cut off a few bytes."""
    changed = bytearray(data)
    for _ in range(dice.choice((1, 1, 2, 4, 16))):
        place = dice.randrange(len(changed) + 1)
        match dice.randrange(5):
            case 0 if place < len(changed):
                changed[place] ^= 1 << dice.randrange(8)
            case 1:
                del changed[place : place + dice.randint(1, 8)]
            case 2:
                changed[place:place] = changed[place : place + dice.randint(1, 32)]
            case 3:
                del changed[place:]
            case _:
                changed[place:place] = dice.choice(
                    (dice.randbytes(dice.randint(1, 8)), *NASTY_WORDS[-4:], b"\x91" * 900)
                )
    return bytes(changed)


def of_text(data: bytes, dice: Random) -> bytes:
    """Drop, double or swap lines and words, and put nasty ones in their place."""
    lines = data.split(b"\n")
    for _ in range(dice.choice((1, 1, 2, 3))):
        at = dice.randrange(len(lines))
        match dice.randrange(5):
            case 0 if len(lines) > 1:
                del lines[at]
            case 1:
                lines.insert(dice.randrange(len(lines)), lines[at])
            case 2:
                name, _, _ = lines[at].partition(b"=")
                lines[at] = name + b"= " + dice.choice(NASTY_WORDS)
            case 3:
                words = lines[at].split(b" ")
                words[dice.randrange(len(words))] = dice.choice((*NASTY_WORDS, *data.split()))
                lines[at] = b" ".join(words)
            case _:
                lines[at] = of_bytes(lines[at], dice)
    return b"\n".join(lines)


def of_tree(data: bytes, dice: Random) -> bytes:
    """Change values, keys and lengths inside a MessagePack value; now and then its bytes as well."""
    tree = msgpack.unpackb(data, strict_map_key=False)
    for _ in range(dice.choice((1, 1, 1, 2, 5))):
        tree = _changed(tree, dice)
    packed: bytes = msgpack.packb(tree)
    return of_bytes(packed, dice) if dice.random() < 0.1 else packed


def _changed(tree: Any, dice: Random) -> Any:
    """Go down a random way and change what is there."""
    if isinstance(tree, dict) and tree and dice.random() < 0.9:
        key = dice.choice(list(tree))
        match dice.randrange(12):
            case 0:
                return {other: value for other, value in tree.items() if other != key}
            case 1:
                return {**tree, dice.choice(("x", "kind", "seat", "\x1b")): dice.choice(NASTY_VALUES)}
            case _:
                return {**tree, key: _changed(tree[key], dice)}
    if isinstance(tree, list) and tree and dice.random() < 0.9:
        at = dice.randrange(len(tree))
        match dice.randrange(12):
            case 0:
                return tree[:at] + tree[at + 1 :]
            case 1:
                return [*tree[:at], tree[at], *tree[at:]]
            case 2:
                other = dice.randrange(len(tree))
                return [tree[other] if place == at else value for place, value in enumerate(tree)]
            case _:
                return [*tree[:at], _changed(tree[at], dice), *tree[at + 1 :]]
    if isinstance(tree, int) and dice.random() < 0.6:
        return max(-(2**63), min(2**64 - 1, tree + dice.choice((-1, 1, 250, -250, 1_000))))
    return dice.choice(NASTY_VALUES)
