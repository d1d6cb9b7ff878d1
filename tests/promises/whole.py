"""A file changed anywhere, not only where a promise names it: python -m tests.promises.whole FILE TEST...

cosmic-ray, which must be installed for this, finds every change that it knows to make in the file; of these so many are
drawn with a fixed seed, and the tests are run after each, in a copy of the project. Those that no test notices are
printed as differences, for somebody to judge. Changes of types in annotations are left out: nothing runs differently.
What is no Python any more is not counted.
"""

import argparse
import difflib
import sys
import tempfile
import warnings
from pathlib import Path
from random import Random

from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code
from cosmic_ray.plugins import get_operator, operator_names

from tests.promises.promise import ROOT, Copy, Mutant, Promise

_OF_TYPES = "core/ReplaceBinaryOperator_BitOr"
"""In our files | joins types."""


def changes(text: str) -> list[tuple[str, int]]:
    """Return every change that can be made to a file: its kind, and which of the places for it."""
    nodes, found = list(ast_nodes(get_ast(text))), list[tuple[str, int]]()
    for name in sorted(operator_names()):
        kind = get_operator(name)
        if not name.startswith(_OF_TYPES) and not kind.arguments():
            places = sum(len(list(kind().mutation_positions(node))) for node in nodes)
            found += [(name, place) for place in range(places)]
    return found


def main() -> int:
    """Run a sample of a file's mutants; exit 1 if one survived."""
    parser = argparse.ArgumentParser(prog="python -m tests.promises.whole", description=__doc__)
    parser.add_argument("file")
    parser.add_argument("tests", nargs="+")
    parser.add_argument("--mutants", type=int, default=25)
    parser.add_argument("--seed", type=int, default=14)
    options = parser.parse_args()
    text = (ROOT / options.file).read_text("utf-8")
    every = changes(text)
    drawn = Random(options.seed).sample(every, min(options.mutants, len(every)))
    ran = caught = 0
    with tempfile.TemporaryDirectory() as folder:
        copy = Copy(Path(folder))
        for number, (name, place) in enumerate(drawn, 1):
            changed = mutate_code(text, get_operator(name)(), place)
            if not _is_python(changed):
                print(f"{number:>3}/{len(drawn)} no Python {name}", flush=True)
                continue
            promise = Promise(options.file, tuple(options.tests), (Mutant(options.file, text, changed),))
            outcome = copy.without(promise, promise.mutants[0])
            # Tests that can no longer be collected have noticed as well: some make a heat on the way.
            is_caught = outcome.is_caught or outcome.text.startswith("did not run (2)")
            ran, caught = ran + 1, caught + is_caught
            print(
                f"{number:>3}/{len(drawn)} {'caught' if is_caught else outcome.text:<9} {outcome.by or name}",
                flush=True,
            )
            if not is_caught:
                print(*difflib.unified_diff(text.split("\n"), changed.split("\n"), n=0, lineterm=""), sep="\n")
    print(f"{options.file}: {ran} of {len(every)} mutants, {caught} caught")
    return 0 if caught == ran else 1


def _is_python(text: str) -> bool:
    """Say whether a text can be run, without a warning such as for "is" beside a literal, which ends our tests."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            compile(text, "", "exec")
        except (SyntaxError, SyntaxWarning):
            return False
    return True


if __name__ == "__main__":
    sys.exit(main())
