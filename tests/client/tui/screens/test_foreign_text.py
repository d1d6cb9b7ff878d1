"""A name or a sentence from elsewhere is text, whatever is in it."""

from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from client.theme import Look
from client.tui.ports import AtJoin
from client.tui.widgets.canvas import Canvas
from shared.rules.intents import Pause
from shared.wire.messages import Refused
from tests.client.frozen import text_of
from tests.client.player import at

EVIL = "\x1b]0;x\x07\x1b[2J[bold red]A[/][@click=app.exit]b\u202e\u200b"


async def test_an_evil_name_is_shown_as_plain_text_on_every_screen() -> None:
    async with at((80, 24), name=EVIL) as player:
        for step in ("seats", "table", "end"):
            if step == "table":
                await player.press("enter")
            if step == "end":
                await player.play_to("the end")
            shown = text_of(player.app)
            assert "\x1b" not in shown
            assert "\u202e" not in shown
            assert "\x07" not in shown
        assert player.line.table.record.chairs[0].name.startswith("]0;x[2J[bold")


async def test_markup_in_a_refusal_is_text() -> None:
    async with at((80, 24)) as player:
        await player.press("enter")
        player.app.session.sent(5, Pause())
        player.app.hear(Refused(id=5, code="late", text="[bold]No[/bold] \x1b[31m", late_ms=3))
        await player.settle()
        assert "[bold]No[/bold] \ufffd[31m" in text_of(player.app)


async def test_pasted_text_in_the_join_form_stays_text() -> None:
    async with at((80, 24), AtJoin()) as player:
        await player.press(*"[red]x")
        assert "[red]x" in text_of(player.app)


TEXT = st.text(st.characters() | st.sampled_from("ab中文e\u0301"), max_size=30)


@given(st.lists(st.tuples(TEXT, st.integers(-5, 30)), min_size=1, max_size=3))
def test_a_canvas_line_is_always_exactly_as_wide_as_the_canvas(texts: list[tuple[str, int]]) -> None:
    canvas = Canvas(20, 1, Look())
    for text, x in texts:
        canvas.put(x, 0, text)
    line = canvas.strip(0).text
    assert cell_len(line) == 20
    assert not any(ord(character) < 32 or 127 <= ord(character) < 160 for character in line)
