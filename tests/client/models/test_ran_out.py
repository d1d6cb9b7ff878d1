"""What is said when time ran out."""

import pytest

from client.models.ran_out import time_ran_out
from shared.rules.tiles import KINDS, Rack


@pytest.mark.parametrize(
    ("given", "told"),
    [
        (("G", "G", "S"), "Time ran out: two green dragons and a south were passed for you."),
        (("8b", "1c", "E"), "Time ran out: an 8 bam, a 1 crak and an east were passed for you."),
        (("5d", "5d", "5d"), "Time ran out: three 5 dot were passed for you."),
        (("O",), "Time ran out: a soap was passed for you."),
        ((), "Time ran out: the clock answered for you."),
    ],
)
def test_the_tiles_are_named_as_they_are_said(given: Rack, told: str) -> None:
    assert time_ran_out(given) == told


def test_the_sentence_fits_into_one_line_of_the_smallest_full_screen() -> None:
    names = sorted((time_ran_out((tile, tile, tile)) for tile in KINDS), key=len)
    assert len(names[-1]) <= 80
    assert len(time_ran_out(("R", "G", "8b"))) <= 80
