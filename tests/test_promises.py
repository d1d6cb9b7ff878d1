"""The rows of tests/promises still fit the project. That a test notices each mutant takes minutes: run it there."""

from dataclasses import replace
from pathlib import Path

import pytest

from tests.promises.__main__ import PROMISES, run, table
from tests.promises.promise import ROOT, Copy, Mutant, Outcome, Promise

README = (ROOT / "tests" / "README.md").read_text("utf-8")


@pytest.mark.parametrize("promise", PROMISES, ids=lambda promise: promise.what)
def test_a_promise_has_three_mutants_and_names_tests_and_causes_that_exist(promise: Promise) -> None:
    assert len(set(promise.mutants)) == len(promise.mutants) >= 3
    for test in promise.tests:
        assert (ROOT / test.partition("::")[0]).is_file()
    for mutant in promise.mutants:
        assert (ROOT / mutant.file).read_text("utf-8").count(mutant.cause) == 1, mutant
        assert mutant.instead != mutant.cause


@pytest.mark.parametrize("promise", PROMISES, ids=lambda promise: promise.what)
def test_the_readme_names_every_promise_with_all_its_tests_and_files(promise: Promise) -> None:
    row = next(line for line in README.splitlines() if line.startswith(f"| {promise.what} |"))
    for test in promise.tests:
        assert f"]({test.partition('::')[0].removeprefix('tests/')})" in row
    for file in promise.files:
        assert file in row


KEEPS = Promise("one and one is two", ("test_sums.py",), (Mutant("sums.py", "one + one", "one - one"),))


def kept(tmp_path: Path, test: str) -> Path:
    """Return a project that holds the promise, with a test of it."""
    project = tmp_path / "project"
    project.mkdir()
    (project / "sums.py").write_text("def two(one=1):\n    return one + one\n")
    (project / "test_sums.py").write_text(f"from sums import two\n\ndef test_two():\n    {test}\n")
    return project


@pytest.mark.parametrize(
    ("promise", "test", "told"),
    [
        (KEEPS, "assert two() == 2", "caught"),
        (KEEPS, "assert two() != 7", "SURVIVED"),
        (KEEPS, "assert two() == 7", "WITHOUT ANY CHANGE: caught"),
        (replace(KEEPS, tests=("test_gone.py",)), "assert two() == 2", "THERE IS NO test_gone.py"),
        (replace(KEEPS, tests=("test_sums.py::test_gone",)), "assert two() == 2", "WITHOUT ANY CHANGE: did not run"),
        (replace(KEEPS, mutants=(Mutant("sums.py", "three", ""),)), "assert two() == 2", "THE CAUSE STANDS 0 TIMES"),
        (replace(KEEPS, mutants=(Mutant("sums.py", "return", "retour"),)), "assert two() == 2", "did not run"),
    ],
)
def test_only_a_test_that_passes_with_its_cause_and_fails_without_it_counts(
    tmp_path: Path, promise: Promise, test: str, told: str
) -> None:
    project = kept(tmp_path, test)
    outcome = Copy(tmp_path / "copy", project).without(promise, promise.mutants[0])
    assert outcome.text.startswith(told)
    assert outcome.by == ("test_two" if told == "caught" else "")
    assert (tmp_path / "copy" / "sums.py").read_text() == (project / "sums.py").read_text()


def test_what_was_found_is_kept_and_not_run_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Mutant] = []

    def without(copy: Copy, promise: Promise, mutant: Mutant) -> Outcome:
        asked.append(mutant)
        return Outcome("caught", f"test_{len(asked)}")

    monkeypatch.setattr(Copy, "without", without)
    promise = PROMISES[0]
    first = run((promise,), tmp_path / "found")
    assert run((promise,), tmp_path / "found") == first
    assert len(asked) == len(promise.mutants)
    assert f"| {len(asked)} | {len(asked)} | test_1, test_2" in table(first)
