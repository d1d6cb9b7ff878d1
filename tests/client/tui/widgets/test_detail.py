"""The route in full: no word of a step runs into another."""

from collections.abc import Sequence
from typing import Any

import pytest

from client.theme import Look
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.detail import draw_route
from shared.rules.settings import Settings
from shared.wire.views import RouteStep
from tests.client.models.test_table import Play


def shown(width: int, height: int, settings: Settings, route: Sequence[RouteStep] = (), **heat: Any) -> str:
    play = Play(settings)
    view = play.model.view
    assert view is not None
    assert view.heat is not None
    update = {"route": tuple(route) or view.heat.route, **heat}
    play.model.view = view.model_copy(update={"heat": view.heat.model_copy(update=update)})
    canvas = Canvas(width, height, Look())
    draw_route(canvas, play.model)
    return "\n".join(canvas.strip(y).text for y in range(height))


def all_late(settings: Settings) -> list[RouteStep]:
    view = Play(settings).model.view
    assert view is not None
    assert view.heat is not None
    done = {"state": "done", "by": "timeout", "spent_ms": 24_000}
    return [step.model_copy(update=done) for step in view.heat.route]


@pytest.mark.parametrize("plan", [False, True], ids=["nine steps", "with a plan"])
@pytest.mark.parametrize("width", [40, 80])
def test_the_name_of_every_step_stands_apart_from_its_time(width: int, plan: bool) -> None:
    settings = Settings(seed=7, plan=plan)
    text = shown(width, 40, settings, all_late(settings))
    for step in ("first right", "second across", "courtesy offer", "courtesy give"):
        assert f"{step} " in text
    assert text.count(" out 24.0") == (10 if plan and width < 72 else 9)


def test_steps_that_are_not_played_stand_apart_from_that_word() -> None:
    text = shown(80, 10, Settings(seed=7), stopped=True)
    assert text.count("skipped") == 3
    assert "second across " in text
