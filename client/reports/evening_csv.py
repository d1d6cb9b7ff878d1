"""An evening as CSV (RFC 4180): one table of all heats, one of the standings.

Must never open a file: it returns text. The caller writes it as UTF-8 with a byte order mark and keeps the line ends.
"""

import csv
import io
from collections.abc import Iterable, Sequence

from client.reports.csv_cell import safe_cell
from shared.measures.standings import MEASURES, Played, matchpoints, rows_of, standings
from shared.names import BOTH_CELLS, clean_name
from shared.rules.seats import Seat
from shared.rules.steps import TIMED

ENCODING = "utf-8-sig"
"""With the byte order mark; without it some spreadsheets do not recognize UTF-8."""

Cell = str | int | float | None


def heats_csv(evening: Iterable[Played]) -> str:
    """Return one row for each seat of each heat: the person, times in all and by step, loss and points."""
    every = sorted(evening, key=lambda one: (one.heat, one.table, one.seat))
    matched = matchpoints(every)
    head = ("heat", "table", "seat", "name", "a bot sat in", "seconds", "level seconds", "in time", "timeouts")
    judged = ("points lost", "passes with a choice", "points", "tables beaten", "tables compared")
    rows: list[Sequence[Cell]] = [(*head, *judged, *(f"{step} seconds" for step in TIMED))]
    for one in every:
        spent = {step.step: step.spent_ms / 1000 for step in one.spent}
        points = matched.get(one)
        rows.append(
            (
                one.heat,
                clean_name(one.table, cells=24),
                Seat(one.seat).word,
                clean_name(one.who or one.name, cells=BOTH_CELLS),
                _yes(one.bot),
                one.total_ms / 1000,
                one.level_ms / 1000,
                _yes(one.in_time),
                one.timeouts,
                None if one.loss is None else round(one.loss, 3),
                None if one.loss is None else one.unforced,
                None if one.points is None else round(one.points, 3),
                round(float(points.scored), 3) if points else None,
                points.most if points else None,
                *(spent.get(step) for step in TIMED),
            )
        )
    return _written(rows)


def standings_csv(evening: Iterable[Played], least: int = 1) -> str:
    """Return one row for each line of each standing; a place needs so many heats, else it is empty. value is a share
    from 0 to 1, or for the points lost points."""
    result = standings(evening, least)
    rows: list[Sequence[Cell]] = [("standing", "better", "place", "shared", "name", "heats", "value")]
    for measure in MEASURES:
        for line in rows_of(result, measure):
            value = round(float(line.value / (1_000 if measure.key == "loss" else 1)), 6)
            place = line.place or None
            name = clean_name(line.name)
            rows.append((measure.title, measure.better, place, _yes(line.tied), name, line.heats, value))
    return _written(rows)


def _written(rows: Iterable[Sequence[Cell]]) -> str:
    text = io.StringIO(newline="")
    csv.writer(text).writerows([safe_cell(cell) if isinstance(cell, str) else cell for cell in row] for row in rows)
    return text.getvalue()


def _yes(is_so: bool) -> str:
    return "yes" if is_so else "no"
