"""The card is drawn at every size, also where next to nothing fits or the pane is hidden."""

import pytest

from client.models.card_browser import CardBrowser
from client.theme import Look
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.card import draw_card
from shared.cards import Card, practice_card
from shared.cards.play import card_of, shipped_text


@pytest.mark.parametrize("width", [0, 1, 5, 9, 20, 36, 60, 80])
@pytest.mark.parametrize("height", [0, 1, 5, 20])
def test_a_card_is_drawn_at_every_size(width: int, height: int) -> None:
    canvas = Canvas(width, height, Look())
    draw_card(canvas, CardBrowser(practice_card()))
    assert all(len(canvas.strip(y).text) == width for y in range(height))


@pytest.mark.parametrize(("width", "height"), [(60, 18), (80, 9), (80, 22), (120, 38)])
def test_the_name_of_a_section_that_is_too_long_for_the_list_can_be_read_whole(width: int, height: int) -> None:
    name = "Neighbours that stand together on a pier"
    card = card_of(shipped_text().replace("Neighbours", name))
    assert isinstance(card, Card)
    canvas = Canvas(width, height, Look())
    draw_card(canvas, CardBrowser(card))
    assert name in " ".join(" ".join(canvas.strip(y).text.split()) for y in range(height))
