"""What conftest.py promises: a failing assertion in a helper module shows its values."""

import pytest

from tests import heats, tables
from tests.client import frozen
from tests.server import players


def test_a_failing_assertion_in_a_helper_module_shows_its_values() -> None:
    evening, more = tables.Evening(people=4), range(5, 50)  # more than may sit or look on
    with pytest.raises(AssertionError, match=r"assert False\n.*where False = isinstance\(Rejected\("):
        [evening.join(f"Person {number}") for number in more]
    with pytest.raises(AssertionError, match=r"assert \[3, 0\] == \[14, 13, 13, 13\]"):
        heats.Heat(racks=("1b 2b 3b", ""))


def test_helper_modules_in_every_folder_are_rewritten() -> None:
    assert all("@pytest_ar" in vars(helper) for helper in (heats, tables, frozen, players))
