"""What holds for all tests: a property is judged by what it says, never by how long a busy machine takes over it.

An assertion in a helper module shows its values when it fails, just as one in a test module does.
"""

import gc
from pathlib import Path

import pytest
from hypothesis import settings

HERE = Path(__file__).parent
# pytest has imported this folder already; its modules and folders are still to come
pytest.register_assert_rewrite(*(f"tests.{path.stem}" for path in HERE.iterdir() if path.stem != "conftest"))


def pytest_collection_finish() -> None:
    """Spare the garbage collector the thousands of tests and modules that stay to the end, and most of its rounds."""
    gc.freeze()
    gc.set_threshold(20_000, 10, 50)


settings.register_profile("steady", deadline=None)
settings.load_profile("steady")
