"""The evening as CSV: any reader gets back what was written, and no spreadsheet finds a formula in it."""

import csv
import io

from hypothesis import given
from hypothesis import strategies as st

from client.reports.csv_cell import safe_cell
from client.reports.evening_csv import heats_csv, standings_csv
from tests.client.evenings import invented_evening


def rows_of(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text, newline="")))


@given(st.text(max_size=30) | st.text("=+-@\t\r\n \"',;|ABC()!＝", max_size=12))
def test_no_name_begins_a_formula(name: str) -> None:
    # The characters named by OWASP's page on CSV injection; leading blanks do not help.
    evening = [one.model_copy(update={"name": name, "table": name}) for one in invented_evening()[:4]]
    for text in (heats_csv(evening), standings_csv(evening)):
        for row in rows_of(text):
            assert all(not cell.strip(" ").startswith(("=", "+", "-", "@", "\t", "\r", "\n", "＝")) for cell in row)


def test_harmless_text_stays_as_it_is_and_a_mark_is_told_apart_from_ours() -> None:
    assert [safe_cell(text) for text in ("Ada", "O'Hara", "1-2")] == ["Ada", "O'Hara", "1-2"]
    assert safe_cell("'=1") != safe_cell("=1")


def test_lines_end_as_rfc_4180_asks_and_every_row_has_the_columns_of_the_first() -> None:
    text = heats_csv(invented_evening())
    rows = rows_of(text)
    assert text.endswith("\r\n")
    assert len(rows) == 1 + 6 * 4 * 3
    assert {len(row) for row in rows} == {len(rows[0])}


def test_a_row_says_what_the_seat_did() -> None:
    evening = invented_evening()
    one = evening[0]
    row = dict(zip(*rows_of(heats_csv(evening))[:2], strict=True))
    assert row["name"] == "Ada"
    assert row["seat"] == "east"
    assert float(row["seconds"]) * 1000 == one.total_ms
    assert float(row["first right seconds"]) * 1000 == one.spent[0].spent_ms
    assert float(row["points"]) == one.points


def test_what_is_not_known_is_an_empty_cell() -> None:
    rows = rows_of(heats_csv(invented_evening()))
    unreviewed = [dict(zip(rows[0], row, strict=True)) for row in rows[1:] if row[1] == "Boathouse 6"]
    judged = ("points", "points lost", "passes with a choice", "tables beaten")
    assert {row[name] for row in unreviewed for name in judged} == {""}
