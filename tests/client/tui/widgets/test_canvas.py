from textual.app import App, ComposeResult
from textual.strip import Strip

from client.theme import Look
from client.tui.widgets.canvas import Canvas, Drawn


def test_of_overlapping_zones_the_last_one_drawn_counts() -> None:
    canvas = Canvas(20, 3, Look())
    canvas.zone(0, 0, 20, 3, "row")
    canvas.put(5, 1, "more", key="more")
    assert canvas.key_at(0, 0) == "row"
    assert canvas.key_at(6, 1) == "more"
    assert canvas.key_at(9, 1) == "row"
    assert canvas.key_at(0, 3) is None


def test_without_colour_what_is_chosen_is_reversed() -> None:
    canvas = Canvas(5, 1, Look(colour=False))
    style = canvas.style("text", "chosen")
    assert style.reverse
    assert style.color is None
    assert style.bgcolor is None
    assert not canvas.style("text", "panel").reverse


def test_what_does_not_fit_is_cut_and_harms_nothing() -> None:
    canvas = Canvas(4, 1, Look())
    canvas.put(2, 0, "long")
    canvas.put(-2, 0, "left")
    canvas.put(0, 7, "below")
    assert canvas.strip(0).text == "ftl…"


def test_what_could_act_on_a_terminal_is_drawn_as_a_mark() -> None:
    canvas = Canvas(12, 1, Look())
    canvas.put(0, 0, "a\x1b[31m\x9b\u202e\u200b\n\x7fz")
    assert canvas.strip(0).text == "a\ufffd[31m" + "\ufffd" * 5 + "z"


def test_a_wide_character_is_drawn_whole_or_not_at_all() -> None:
    canvas = Canvas(3, 1, Look())
    canvas.put(0, 0, "a中中")
    assert canvas.strip(0).text == "a中"


class Lines(Drawn):
    """Three lines of a text that a test changes; it notes which lines the terminal asks for."""

    def __init__(self) -> None:
        super().__init__()
        self.lines, self.asked = ["one", "two", "three"], list[int]()

    def draw(self, canvas: Canvas) -> None:
        for y, line in enumerate(self.lines):
            canvas.put(0, y, line)

    def render_line(self, y: int) -> Strip:
        self.asked.append(y)
        return super().render_line(y)


async def test_only_lines_that_changed_are_drawn_again() -> None:
    class Screen(App[None]):
        def compose(self) -> ComposeResult:
            yield Lines()

    async with Screen().run_test(size=(20, 3)) as pilot:
        await pilot.pause()
        widget = pilot.app.query_one(Lines)
        widget.asked.clear()
        widget.redraw()
        await pilot.pause()
        assert widget.asked == []
        widget.lines[1] = "deux"
        widget.redraw()
        await pilot.pause()
        assert widget.asked == [1]
        assert [strip.text.rstrip() for strip in pilot.app.screen._compositor.render_strips()] == [
            "one",
            "deux",
            "three",
        ]
