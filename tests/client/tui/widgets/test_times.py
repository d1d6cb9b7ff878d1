"""Everybody's seconds are held against the clock of the heat they belong to, whatever the host has set since."""

from client.models.table import TableModel
from client.theme import Look
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.times import draw_set, draw_times
from shared.rules.intents import ChangeSettings
from tests.tables import QUICK, Evening


def told(draw: str) -> str:
    """Return what is drawn of two heats, the first of which had twice the time of the second, without records of one's
    own."""
    evening = Evening(QUICK.model_copy(update={"level_ms": 200_000}), people=2)
    evening.play_heat()
    evening.do(0, ChangeSettings(settings=QUICK.model_copy(update={"level_ms": 100_000})))
    evening.play_heat()
    model, view, canvas = TableModel(), evening.view(1), Canvas(80, 20, Look())
    model.hear(view, 0, 0)
    if draw == "heat":
        draw_times(canvas, model, view.results[0])
    else:
        draw_set(canvas, model, ())
    return "\n".join("".join(character for character, _ in row) for row in canvas._cells)


def test_a_heat_is_held_against_its_own_lengths() -> None:
    [row] = [row.split() for row in told("heat").splitlines() if "first right" in row]
    assert row[:3] == ["first", "right", "48.0"]
    [whole] = [row.split() for row in told("heat").splitlines() if "whole heat" in row]
    assert whole[:3] == ["whole", "heat", "200.0"]


def test_a_set_says_the_length_of_each_heat_where_they_differ() -> None:
    rows = told("set")
    assert "heat 1 of 200.0" in rows
    assert "heat 2 of 100.0" in rows
    assert "a whole Charleston may take 100.0 to 200.0." in rows
