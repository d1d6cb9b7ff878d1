"""A text that is too long for its place ends in a mark, on the table, the seats and the card."""

import pytest

from client.theme import Look
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.key_bar import Pinned, draw_pinned
from shared.cards.card import Card
from shared.cards.play import card_of, shipped_text
from shared.cards.tell import tell
from tests.client.frozen import text_of
from tests.client.player import at

TITLE = "Sandbanks between the pier and the lighthouse of North Bay"
SECTION = "Sandbanks off the long and lonely island"
SIZES = [(60, 20), (80, 24)]
looks = pytest.mark.parametrize(("look", "mark"), [(Look(), "…"), (Look(ascii=True), "...")], ids=["signs", "ascii"])
sizes = pytest.mark.parametrize("size", SIZES, ids=["60x20", "80x24"])


def is_marked(line: str, whole: str, mark: str) -> bool:
    """Say whether a line shows a text cut; fail where it lacks the mark."""
    shown = line[line.index("Sandbanks") :]
    kept, cut, _ = shown.partition(mark)
    assert shown.startswith(whole) or (cut and whole.startswith(kept)), line
    return bool(cut)


@looks
@sizes
async def test_a_long_card_title_and_section_end_in_the_mark(size: tuple[int, int], look: Look, mark: str) -> None:
    text = shipped_text().replace('"Practice card"', f'"{TITLE}"').replace('"Neighbours"', f'"{SECTION}"')
    async with at(size, look=look, card=text) as player:
        await player.press("enter", "v")
        title, section, *whole = [line for line in text_of(player.app).splitlines() if "Sandbanks" in line]
        assert is_marked(title, f"{TITLE}, 2026", mark) == (size == (60, 20))
        assert is_marked(section, SECTION, mark)
        assert bool(whole) == (size[0] < 120)  # where it stands beside its hands, its whole name stands below them


@looks
@sizes
def test_a_pinned_hand_with_a_long_name_ends_in_the_mark(size: tuple[int, int], look: Look, mark: str) -> None:
    canvas = Canvas(size[0], 1, look)
    card = card_of(shipped_text())
    assert isinstance(card, Card)
    picture = tell(card)[0].rows[0].picture
    draw_pinned(canvas, Pinned(TITLE * 2, picture), 24)  # a hint stands right of it
    assert is_marked(canvas.strip(0).text, TITLE * 2, mark)


@looks
@sizes
async def test_the_seats_show_everything_or_the_mark(size: tuple[int, int], look: Look, mark: str) -> None:
    async with at(size, look=look, name="W" * 16) as player:
        shown = text_of(player.app)
        (chair,) = [line for line in shown.splitlines() if "chair 1" in line]
        assert f"{'W' * 16} (you)" in chair
        assert "deals first" in chair
        assert chair.rstrip().endswith("host, not ready yet" if size == (80, 24) else mark)
        words = " ".join(shown.split())
        for rule in ("second Charleston offered", "with courtesy pass", "racks are opened at the end", "wall "):
            assert rule in words


@pytest.mark.parametrize("ascii", [False, True])
@pytest.mark.parametrize("width", range(12))
def test_what_is_fitted_has_its_width_and_marks_only_what_is_lost(width: int, ascii: bool) -> None:
    canvas = Canvas(20, 1, Look(ascii=ascii))
    mark = "..." if ascii else "…"
    shown = canvas.fitted("a pier 中", width)
    assert len(shown.replace("中", "##")) == width
    assert shown.rstrip() == "a pier 中" if width >= 9 else shown.rstrip().endswith(mark[:width])
    assert canvas.fitted("pier   ", 4) == "pier"
