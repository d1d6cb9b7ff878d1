"""The examples in the docstrings are true."""

import doctest
import importlib
import pkgutil
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
MODULES = sorted(
    module.name
    for name in ("shared", "server", "client")
    for module in pkgutil.walk_packages([str(ROOT / name)], f"{name}.")
    if not module.ispkg and not module.name.endswith("__main__")
)
WITH_EXAMPLES = [name for name in MODULES if ">>>" in (ROOT / f"{name.replace('.', '/')}.py").read_text("utf-8")]


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_the_examples_of_a_module_hold(name: str) -> None:
    result = doctest.testmod(importlib.import_module(name))
    assert result.attempted > 0
    assert result.failed == 0


def test_there_are_examples() -> None:
    assert len(WITH_EXAMPLES) >= 5
