"""The rows of promises.py still fit the project. That each test fails without its cause takes minutes: run it there."""

import pytest

from tests.promises import PROMISES, ROOT, Promise


@pytest.mark.parametrize("promise", PROMISES, ids=lambda promise: promise.what)
def test_a_promise_names_a_test_and_a_cause_that_exist(promise: Promise) -> None:
    assert (ROOT / promise.test.partition("::")[0]).is_file()
    assert (ROOT / promise.file).read_text("utf-8").count(promise.cause) == 1
