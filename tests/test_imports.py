"""No circle of imports anywhere: also none that only type checkers see, and none through an import in a function."""

import ast
from pathlib import Path

ROOT = Path(__file__).parents[1]


def _modules() -> dict[str, Path]:
    found = {}
    for top in ("client", "server", "shared"):
        for path in (ROOT / top).rglob("*.py"):
            parts = path.relative_to(ROOT).with_suffix("").parts
            found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


def _imported(source: str, modules: set[str]) -> set[str]:
    """Return which of the modules a source imports, wherever in it the import stands."""
    names = set[str]()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            assert not node.level, "imports are absolute here, or this test would not see them"
            names |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    return names & modules


def _circle(graph: dict[str, set[str]]) -> list[str]:
    """Return one circle of a graph as the way around it; nothing if there is none."""
    done = set[str]()

    def search(module: str, way: list[str]) -> list[str]:
        if module in way:
            return [*way[way.index(module) :], module]
        if module in done:
            return []
        for other in sorted(graph[module]):
            if found := search(other, [*way, module]):
                return found
        done.add(module)
        return []

    return next((found for module in sorted(graph) if (found := search(module, []))), [])


def test_no_module_imports_itself_by_any_way_round() -> None:
    modules = _modules()
    assert len(modules) > 100, "the packages were not found"
    graph = {module: _imported(path.read_text("utf-8"), set(modules)) - {module} for module, path in modules.items()}
    assert _circle(graph) == []


def test_a_circle_that_only_type_checkers_see_is_found() -> None:
    sources = {
        "a": "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from b import B",
        "b": "def late():\n    import c",
        "c": "import a",
        "d": "import a",
    }
    graph = {module: _imported(source, set(sources)) for module, source in sources.items()}
    assert _circle(graph) == ["a", "b", "c", "a"]
    assert _circle({**graph, "c": set()}) == []
