"""A cell of a CSV file that no spreadsheet takes for a formula.

Spreadsheets run text that begins with =, +, -, @, a tab or the end of a line (OWASP, "CSV Injection"), some also where
the sign is one that only looks like these. Such text gets an apostrophe in front, and so does text that has one
already: then the two can be told apart.
"""

import unicodedata
from functools import lru_cache

from shared.names import clean_name

_SIGNS = "=+-@\u2212'"
_LONGEST = 500


@lru_cache(10_000)
def safe_cell(text: str) -> str:
    """Return text without the characters that draw nothing, guarded where it could begin a formula.

    >>> safe_cell("=1+1"), safe_cell("Ada"), safe_cell("1-2")
    ("'=1+1", 'Ada', '1-2')
    """
    plain = clean_name(text, cells=_LONGEST)
    first = unicodedata.normalize("NFKC", plain[:1])[:1]
    return f"'{plain}" if first and (first in _SIGNS or unicodedata.category(first) == "Pd") else plain
