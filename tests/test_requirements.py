"""What the program imports is what pyproject.toml declares, each where it is needed."""

import ast
import re
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[1]
OURS = {"client", "server", "shared", "tests"}
EXTRAS = {"zeroconf": "lan", "ifaddr": "lan", "textual_serve": "web", "aiohttp": "web"}
"""Modules that only an extra brings; whoever imports them can do without."""
NAMES = {"import-linter": "importlinter", "pytest-asyncio": "pytest_asyncio", "pytest-xdist": "xdist"}
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]


def imported(*folders: str) -> set[str]:
    """Return the top names of everything that is imported anywhere under the folders."""
    found = set[str]()
    for path in (path for folder in folders for path in (ROOT / folder).rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Import):
                found |= {name.name.partition(".")[0] for name in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                found.add(node.module.partition(".")[0])
    return found - OURS - sys.stdlib_module_names


def declared(lines: list[str]) -> set[str]:
    names = {re.split(r"[<>=\[; ]", line, maxsplit=1)[0] for line in lines}
    return {NAMES.get(name, name.replace("-", "_")) for name in names}


def test_the_program_declares_what_it_imports_and_nothing_else() -> None:
    extras = PROJECT["optional-dependencies"]
    needed = imported("client", "server", "shared")
    assert needed - set(EXTRAS) == declared(PROJECT["dependencies"])
    for name, extra in EXTRAS.items():
        assert name in needed
        assert name in declared(extras[extra])


def test_the_tests_declare_what_they_import() -> None:
    extras = PROJECT["optional-dependencies"]
    everything = declared(PROJECT["dependencies"]) | declared(extras["dev"]) | declared(extras["bench"])
    by_hand = {"atheris", "cosmic_ray"}
    """For whoever fuzzes (tests/fuzz/guided.py) or changes whole files (tests/promises/whole.py) by hand."""
    assert imported("tests") - by_hand <= everything
    assert set(EXTRAS) <= declared(extras["dev"])


def test_an_extra_asks_for_the_same_versions_as_the_tests() -> None:
    extras = PROJECT["optional-dependencies"]
    assert {*extras["web"], *extras["lan"]} <= set(extras["dev"])
