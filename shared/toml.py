"""From the bytes of a file to a TOML table, or to the one fault that kept it from being read.

Files come from other people. The size is bounded, and so is what makes the parser slow (long dotted names) or
deep (lists in lists), before and while it runs: no bytes may raise an exception or keep a table waiting.
"""

import re
import tomllib

MAX_BYTES = 1 << 20
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


def read_table(data: bytes) -> dict[str, object] | str:
    """Return the table in a file's bytes, or a sentence that says what is wrong and how to mend it."""
    if len(data) > MAX_BYTES:
        return f"The file has {len(data)} bytes, more than 1 MiB. A card is far smaller: write fewer hands."
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        return f"Line {line} is not UTF-8. Save the file as UTF-8."
    if line := _line_with_many_dots(text):
        return f"Line {line} has more than {MAX_DOTS} dots outside quotes. Put text in quotes, as in groups."
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        return f"The file is no TOML: {str(error)[:200]}. Mend that place; text needs quotes, lists need []."
    except ValueError:
        return "The file has a number with thousands of digits. Write a shorter one."
    except RecursionError:
        return "The file has lists within lists, hundreds deep. A card needs no list but n = [1, 3, 5]."


def _line_with_many_dots(text: str) -> int:
    """Return the number of the first line with too many dots outside strings and comments, or 0."""
    bare = _QUOTED.sub(lambda quoted: "\n" * quoted[0].count("\n"), text)
    lines = enumerate(bare.split("\n"), 1)
    return next((number for number, line in lines if line.count(".") > MAX_DOTS), 0)
