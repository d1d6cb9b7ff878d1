"""The card is drawn at every size, also where next to nothing fits or the pane is hidden."""

import pytest

from client.models.card_browser import CardBrowser
from client.theme import Look
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.card import draw_card
from shared.cards import practice_card


@pytest.mark.parametrize("width", [0, 1, 5, 9, 20, 36, 60, 80])
@pytest.mark.parametrize("height", [0, 1, 5, 20])
def test_a_card_is_drawn_at_every_size(width: int, height: int) -> None:
    canvas = Canvas(width, height, Look())
    draw_card(canvas, CardBrowser(practice_card()))
    assert all(len(canvas.strip(y).text) == width for y in range(height))
