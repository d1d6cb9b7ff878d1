"""The one reader of TOML, for cards, presets, plans and the look: from a file's bytes to a table, or to one fault.

Files come from other people. The size is bounded, and so is what makes the parser slow (long dotted names) or
deep (lists in lists), before and while it runs, and what it returns: no bytes may raise an exception or keep a table
waiting, here or where the table is looked at.
"""

import re
import tomllib
from itertools import chain

MAX_BYTES = 1 << 20
MAX_DEPTH = 100
MAX_BITS = 3_000
"""Bits of a number: one of more than 4,300 digits cannot even be shown."""
MAX_DOTS = 8
"""Dots outside quotes that one line may have: the parser's time grows with their square."""

_QUOTED = re.compile(
    r'"""(?:[^"\\]+|\\.|"{1,2}(?!"))*+(?:"{3,5})?'
    r"|'''(?:[^']+|'{1,2}(?!'))*+(?:'{3,5})?"
    r'|"(?:[^"\\\n]+|\\[^\n])*+"?'
    r"|'[^'\n]*+'?"
    r"|#[^\n]*+",
    re.DOTALL,
)
"""A string or a comment; one that is never closed goes on to the end, so that no text is searched twice."""


_TOO_LONG = "The file has a number with thousands of digits. Write a shorter one."
_TOO_DEEP = "The file has lists or tables within each other, hundreds deep. Write them side by side."


def read_table(data: bytes, at_most: int = MAX_BYTES) -> dict[str, object] | str:
    """Return the table in a file's bytes, or a sentence that says what is wrong and how to mend it.

    Nothing in the table is more than MAX_DEPTH deep and no whole number has more than MAX_BITS bits.
    """
    if len(data) > at_most:
        return f"The file has more than the {at_most // 1024} KiB allowed. Make it shorter."
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        return f"Line {line} is not UTF-8. Save the file as UTF-8."
    if line := _line_with_many_dots(text):
        return f"Line {line} has more than {MAX_DOTS} dots outside quotes. Put text in quotes."
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        return f"The file is not TOML: {str(error)[:200]}. Mend that place; text needs quotes, lists need []."
    except ValueError:
        return _TOO_LONG
    except RecursionError:
        return _TOO_DEEP
    return _excess(table) or table


def _excess(table: dict[str, object]) -> str:
    """Return what is too deep or too long in a table, if anything; looks at it level by level, without recursion."""
    level: list[object] = [table]
    for _ in range(MAX_DEPTH):
        if any(isinstance(value, int) and value.bit_length() > MAX_BITS for value in level):
            return _TOO_LONG
        inner = (
            value.values() if isinstance(value, dict) else value for value in level if isinstance(value, dict | list)
        )
        level = list(chain.from_iterable(inner))
    return _TOO_DEEP if level else ""


def _line_with_many_dots(text: str) -> int:
    """Return the number of the first line with too many dots outside strings and comments, or 0."""
    bare = _QUOTED.sub(lambda quoted: "\n" * quoted[0].count("\n"), text)
    lines = enumerate(bare.split("\n"), 1)
    return next((number for number, line in lines if line.count(".") > MAX_DOTS), 0)
