"""The report as text and JSON, the heats as CSV."""

import csv
import io
import json
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from client.reports.history import CSV_COLUMNS, heats_csv, report_json, report_lines
from client.reports.history_stats import history_report
from client.storage.history_db import HistoryEntry, Read, StepLoss
from shared.rules.settings import Settings
from tests.client.heats import SEVEN, entry, heat, step

FORMULA_STARTS = tuple("=+-@\t\r\n＝＋－＠")


def evening(heats: int, table: str = "Boathouse") -> tuple[HistoryEntry, ...]:
    """Invented: seed 2, half at 3:00 and half at 2:00, losses and kinds at random."""
    dice, found = Random(2), list[HistoryEntry]()
    for number in range(1, heats + 1):
        settings = Settings(level_ms=180_000 if number <= heats // 2 else 120_000)
        spent = [dice.uniform(5, 25) for _ in SEVEN]
        steps = [
            step(name, s, by="timeout" if s >= 24 else "person", length_s=24)
            for name, s in zip(SEVEN, spent, strict=True)
        ]
        losses = [
            StepLoss(
                step=name,
                points=dice.choice([0, dice.expovariate(1)]),
                error=0.1,
                luck=dice.gauss(0, 2),
                kinds=dice.choice([(), ("breaking a pair",), ("passing from the target's suit",)]),
            )
            for name in SEVEN
        ]
        first = (number - 1) // 3 * 3 + 1
        found.append(entry(heat(number, steps, table=table, settings=settings), losses, first=first))
    return tuple(found)


@pytest.mark.parametrize("heats", [0, 1, 2, 7, 24, 60])
def test_every_line_fits_eighty_cells(heats: int) -> None:
    lines = report_lines(history_report(Read(evening(heats), ("Heat 9 of the history cannot be read. " * 5,))))
    assert max(map(len, lines)) <= 80


@pytest.mark.parametrize("plain", [True, False])
def test_the_plot_is_in_ascii_or_braille(plain: bool) -> None:
    text = "".join(report_lines(history_report(Read(evening(24))), plain))
    assert text.isascii() == plain
    assert any("\u2800" < character <= "\u28ff" for character in text) != plain


def test_seven_heats_are_not_enough_for_a_trend_and_the_text_says_so() -> None:
    text = "\n".join(report_lines(history_report(Read(evening(7)))))
    assert "not enough heats yet: 7 of 20" in text


def test_the_text_offers_the_next_clock_with_its_rule_and_numbers() -> None:
    text = " ".join(" ".join(report_lines(history_report(Read(evening(24))))).split())
    assert "A clock for the next set, if you like" in text
    assert "three in four of your good answers" in text
    assert "first right: " in text


def test_names_from_a_table_stay_plain_text() -> None:
    lines = report_lines(history_report(Read(evening(3, table="\x1b[31mred\u202e\n"))))
    assert all(line.isprintable() for line in lines)


def test_the_json_holds_the_numbers_of_the_report() -> None:
    report = history_report(Read(evening(24)))
    assert report.overall
    told = json.loads(report_json(report))
    assert told["overall"]["inside"]["value"] == report.overall.inside.value
    assert told["overall"]["speed_trend"]["heats"] == 24
    assert len(told["levels"]) == 2
    assert told["last_set"]["table"] == "Boathouse"


# ---- CSV


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_a_row_for_each_step_with_numbers_as_numbers() -> None:
    loss = StepLoss(step="first right", points=1.5, error=0.2, luck=-0.75, kinds=("breaking a pair", "late"))
    (row,) = rows(heats_csv([entry(heat(5, [step("first right", 12.345)]), [loss])]))
    assert (row["spent s"], row["length s"], row["luck"], row["loss"]) == ("12.345", "20.0", "-0.75", "1.5")
    assert (row["step"], row["given"], row["kinds"]) == ("first right", "1b 2b 3b", "breaking a pair; late")
    assert ",-0.75," in heats_csv([entry(heat(5, [step("first right")]), [loss])])


def test_what_is_not_known_stays_empty() -> None:
    (row,) = rows(heats_csv([entry(heat(1))]))
    assert (row["coach"], row["loss"], row["forced"]) == ("", "", "")


NASTY = st.text(alphabet=st.sampled_from("=+-@\t\r\n ＝＋－＠\x00\u200b\u202e'\";,1Ac()|!"), max_size=12) | st.text(
    max_size=20
)


@given(NASTY, NASTY, NASTY)
def test_no_cell_starts_a_formula_whatever_a_table_or_a_server_calls_things(table: str, when: str, kind: str) -> None:
    """Every cell is a number that was written without quotes, or does not begin with a sign that starts a formula."""
    kinds = (kind[:60],) if kind else ()
    loss = StepLoss(step="first right", points=1, error=0.1, luck=-2, kinds=kinds)
    hostile = heat(1, table=table.encode(errors="replace").decode(), played_at=when.encode(errors="replace").decode())
    text = heats_csv([entry(hostile, [loss])])
    (row,) = rows(text)
    assert set(row) == set(CSV_COLUMNS)
    for name, cell in row.items():
        if name != "luck":
            assert not cell.startswith(FORMULA_STARTS)
            assert not cell.lstrip().startswith(FORMULA_STARTS)
    assert row["luck"] == "-2.0"
