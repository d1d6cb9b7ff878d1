"""Words that several screens share."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from client.text import balance_words, some, wrapped
from shared.coach.heats import review_heat, to_review
from shared.coach.ledger import Ledger
from shared.rules.seat_heat import SeatHeat
from tests.shared.coach.lives import TINY, random_life


def test_lines_break_between_words() -> None:
    assert wrapped("three tiles and a clock", 11) == ["three tiles", "and a clock"]
    assert wrapped("a   b cc\ndd", 7, "- ", "   ") == ["- a   b", "   cc", "   dd"]
    assert wrapped("  ", 7, "- ") == []


@given(
    st.text(st.characters(exclude_categories=["C"]), max_size=60),
    st.integers(8, 30),
    st.sampled_from(["", " ", "    "]),
    st.sampled_from([None, "  "]),
)
def test_no_line_is_too_wide_and_nothing_but_blanks_is_lost(
    text: str, width: int, indent: str, later: str | None
) -> None:
    lines = wrapped(text, width, indent, later)
    assert all(cell_len(line) <= width for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())


def test_one_of_a_thing_is_one() -> None:
    assert [some(count, "heat") for count in (0, 1, 2)] == ["0 heats", "1 heat", "2 heats"]


def ledger(heat: SeatHeat) -> Ledger:
    *_, whole = review_heat(to_review(heat.model_copy(update={"card": TINY})))
    assert whole.ledger
    return whole.ledger


@pytest.mark.parametrize("seed", range(4))
def test_the_printed_figures_of_a_heat_add_up(seed: int) -> None:
    said = balance_words(ledger(random_life(seed)))
    start, luck, lost, *gifts, final = (float(found) for found in re.findall(r"(?<![(\d.])[-+]?\d+\.\d(?! by)", said))
    assert start + luck - lost + sum(gifts) == pytest.approx(final, abs=1e-9)
    assert len(gifts) == said.count("gifts")


def test_what_the_clock_lost_is_told_apart() -> None:
    heat = random_life(1)
    steps = tuple(step.model_copy(update={"by": "timeout"}) for step in heat.steps)
    judged = ledger(heat.model_copy(update={"steps": steps}))
    assert judged.loss > 0.1
    assert f"lost {judged.loss:.1f} ({judged.loss:.1f} by the clock)" in balance_words(judged)
    own = tuple(step.model_copy(update={"by": "person"}) for step in heat.steps)
    assert "by the clock" not in balance_words(ledger(heat.model_copy(update={"steps": own})))
