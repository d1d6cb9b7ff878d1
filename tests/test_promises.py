"""The rows of promises.py still fit the project. That each test fails without its cause takes minutes: run it there."""

from dataclasses import replace
from pathlib import Path

import pytest

from tests.promises import PROMISES, ROOT, Promise, outcome


@pytest.mark.parametrize("promise", PROMISES, ids=lambda promise: promise.what)
def test_a_promise_names_a_test_and_a_cause_that_exist(promise: Promise) -> None:
    assert (ROOT / promise.test.partition("::")[0]).is_file()
    assert (ROOT / promise.file).read_text("utf-8").count(promise.cause) == 1


KEEPS = Promise("one and one is two", "test_sums.py", "sums.py", "one + one", "one - one")


@pytest.mark.parametrize(
    ("promise", "test", "told"),
    [
        (KEEPS, "assert two() == 2", "failed"),
        (KEEPS, "assert two() != 7", "PASSED ALL THE SAME"),
        (KEEPS, "assert two() == 7", "WITH ITS CAUSE: failed"),
        (replace(KEEPS, test="test_gone.py"), "assert two() == 2", "THERE IS NO test_gone.py"),
        (replace(KEEPS, test="test_sums.py::test_gone"), "assert two() == 2", "WITH ITS CAUSE: did not run"),
        (replace(KEEPS, cause="three"), "assert two() == 2", "THE CAUSE STANDS 0 TIMES in sums.py"),
    ],
)
def test_only_a_test_that_passes_with_its_cause_and_fails_without_it_counts(
    tmp_path: Path, promise: Promise, test: str, told: str
) -> None:
    (tmp_path / "sums.py").write_text("def two(one=1):\n    return one + one\n")
    (tmp_path / "test_sums.py").write_text(f"from sums import two\n\ndef test_two():\n    {test}\n")
    assert outcome(promise, tmp_path).startswith(told)
