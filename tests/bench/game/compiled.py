"""Functions that numba compiles where it is installed (the extra `bench`), and that are plain Python where it is not.

Both ways play the same games move by move (`python -m tests.bench.game check` compares them). Plain Python takes about
a quarter of a second a game: enough for the tests, and for nothing else.

Compiling takes most of a minute, so its results are kept in the machine's folder for temporary files, under a digest of
the sources: numba by itself would not notice that a function in another file has changed.
"""

import tempfile
from collections.abc import Callable
from hashlib import blake2b
from pathlib import Path
from typing import Any, TypeVar

Function = TypeVar("Function", bound=Callable[..., Any])

try:
    import numba
except ImportError:  # the extra is not installed
    numba = None


SOURCES = (
    *("compiled", "hands", "odds", "table", "choices", "play"),
    *("../regret/deck", "../regret/choices", "../regret/futures"),
)
"""The modules with functions that are compiled, or with numbers that are compiled into them."""


def _digest() -> str:
    sources = [(Path(__file__).parent / f"{name}.py").read_bytes() for name in SOURCES]
    return blake2b(b"".join(sources), digest_size=8).hexdigest()


if numba is not None:
    numba.config.CACHE_DIR = str(Path(tempfile.gettempdir()) / f"racktempo-bench-{_digest()}")


def compiled(function: Function) -> Function:
    """Return the function compiled at its first call, or as it is."""
    return function if numba is None else numba.njit(cache=True)(function)
