"""The stamps of saved heats against RFC 3339: its own examples through the reader in use, and what is written.

Source: RFC 3339, section 5.8 (two examples); the milliseconds since 1970 were computed outside the project.
"""

import re
from datetime import datetime, timedelta

import pytest

from server.clock import wall_time

EXAMPLES = {"1985-04-12T23:20:50.52Z": 482_196_050_520, "1996-12-19T16:39:57-08:00": 851_042_397_000}
GRAMMAR = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)", re.ASCII)


@pytest.mark.parametrize("stamp", EXAMPLES)
def test_the_examples_of_the_standard_are_read_as_the_moments_they_are(stamp: str) -> None:
    assert GRAMMAR.fullmatch(stamp)
    assert round(datetime.fromisoformat(stamp).timestamp() * 1_000) == EXAMPLES[stamp]


def test_a_heat_is_stamped_in_the_standards_grammar_with_its_distance_from_utc() -> None:
    stamp = wall_time()
    assert GRAMMAR.fullmatch(stamp)
    assert datetime.fromisoformat(stamp).utcoffset() == timedelta(0)
