import pytest

from client.theme import GROUNDS, Look, colour
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.hand import against_height, draw_against, draw_picture, draw_row, picture_rows, told_rows
from shared.cards import Card
from shared.cards.play import SHIPPED, card_of, shipped_text
from shared.cards.read import read_card
from shared.cards.tell import ToldHand, tell
from shared.rules.typed_tiles import typed

PANE = 32


def told(groups: str) -> ToldHand:
    text = f'[card]\ntitle = "Ours"\nyear = 2026\n[[section]]\nname = "Waves"\n[[section.hand]]\ngroups = "{groups}"\n'
    card = read_card(text.encode())
    assert isinstance(card, Card), card
    return tell(card)[0]


RUN = told("F^4 n.p^3 n+1.p^4 n+2.p^3")


def test_a_hand_stands_in_tiles_with_its_groups_apart() -> None:
    canvas = Canvas(40, 1, Look())
    assert draw_picture(canvas, 1, 0, RUN.rows[0].picture, 38) == 1
    assert canvas.strip(0).text.rstrip() == " FFFF  111b  2222b  333b"


def test_tiles_stand_on_the_tile_colour_and_missing_ones_on_the_ground() -> None:
    canvas = Canvas(60, 1, Look())
    drawn = RUN.nearest(typed("F F 1b 1b 3b N"))
    draw_against(canvas, 0, 0, drawn, 60)
    grounds = {
        segment.text: segment.style.bgcolor.name
        for segment in canvas.strip(0)
        if segment.style and segment.style.bgcolor
    }
    face, page = GROUNDS["dark"]["face"], GROUNDS["dark"]["page"]
    assert (grounds["FF"], grounds["11"], grounds["3"]) == (face, face, face)
    assert {ground for text, ground in grounds.items() if "·" in text or "°" in text} == {page}
    dots = next(segment.style for segment in canvas.strip(0) if segment.text.startswith("··") and segment.style)
    assert dots.color is not None
    assert dots.color.name == colour("dark", "quiet", "page")


@pytest.mark.parametrize("plain", [False, True])
def test_held_missing_jokers_and_gaps_are_told_apart_without_colour(plain: bool) -> None:
    canvas = Canvas(60, 2, Look(colour=False, ascii=plain))
    draw_against(canvas, 0, 0, RUN.nearest(typed("F F F 1b 1b 3b 3b J N")), 60)
    hand = "FFFJ  11.b  oooob  33.b" if plain else "FFFJ  11·b  °°°°b  33·b"
    assert canvas.strip(0).text.startswith(hand)
    assert all(segment.style is None or segment.style.bgcolor is None for segment in canvas.strip(0))


def test_what_is_to_go_stands_behind_the_hand_if_it_fits_and_below_it_if_not() -> None:
    drawn = RUN.nearest(typed("F F 1b 1b 2b 3b"))
    wide, narrow = Canvas(76, 1, Look()), Canvas(30, 3, Look())
    assert draw_against(wide, 0, 0, drawn, 76) == against_height(drawn, 76) == 1
    assert wide.strip(0).text.rstrip() == f"FF··  11·b  2···b  3··b   {drawn.text()}"
    assert draw_against(narrow, 0, 0, drawn, 30) == against_height(drawn, 30) == 3
    assert " ".join(narrow.strip(y).text.strip() for y in (1, 2)) == drawn.text()


def test_a_long_hand_breaks_between_groups() -> None:
    singles = told(" ".join(f"{face}^1" for face in [*(f"{n}.p" for n in range(1, 10)), *"NEWSF"])).rows[0].picture
    rows = picture_rows(singles, 20)
    assert [row.width <= 20 for row in rows] == [True] * len(rows)
    assert tuple(block for row in rows for block in row.blocks) == singles.blocks


def test_other_ways_to_play_a_hand_follow_with_or() -> None:
    canvas = Canvas(40, 2, Look())
    for y, row in enumerate(told_rows(told("F^4 1.p^5 2.p^5 or F^4 8.p^5 9.p^5"), PANE)):
        draw_row(canvas, 0, y, row)
    assert [canvas.strip(y).text.rstrip() for y in (0, 1)] == ["FFFF  11111b  22222b", "or FFFF  88888b  99999b"]


@pytest.mark.parametrize("name", list(SHIPPED))
def test_every_hand_of_our_cards_fits_one_line_of_the_pane(name: str) -> None:
    card = card_of(shipped_text(name))
    assert isinstance(card, Card), card
    assert {len(told_rows(hand, PANE)) for hand in tell(card)} == {1}
