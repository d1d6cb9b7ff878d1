import pytest
from rich.cells import cell_len
from textual.app import App, ComposeResult
from textual.strip import Strip

from client.theme import GROUNDS, Look
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
    assert not any(canvas.style("text", ground).reverse for ground in GROUNDS["dark"] if ground != "chosen")


def test_what_does_not_fit_is_cut_and_harms_nothing() -> None:
    canvas = Canvas(4, 1, Look())
    canvas.put(2, 0, "long")
    canvas.put(-2, 0, "left")
    canvas.put(0, 7, "below")
    assert canvas.strip(0).text == "ftl…"
    canvas.put(-1, 0, "left")
    assert canvas.strip(0).text == "eft…"


def test_what_could_act_on_a_terminal_is_drawn_as_a_mark() -> None:
    canvas = Canvas(12, 1, Look())
    canvas.put(0, 0, "a\x1b[31m\x9b\u202e\u200b\n\x7fz")
    assert canvas.strip(0).text == "a\ufffd[31m" + "\ufffd" * 5 + "z"


def test_a_wide_character_is_drawn_whole_or_not_at_all() -> None:
    canvas = Canvas(3, 1, Look())
    canvas.put(0, 0, "a中")
    canvas.put(-1, 0, "中")
    assert canvas.strip(0).text == "a中"
    canvas.put(0, 0, "a中中")
    assert canvas.strip(0).text == "a… ", "cut with a mark like any other text"


@pytest.mark.parametrize(("ascii", "lines"), [(False, "╭──╮│  │╰──╯"), (True, "+--+|  |+--+")])
def test_a_box_is_a_border_of_the_size_asked_for(ascii: bool, lines: str) -> None:
    canvas = Canvas(7, 6, Look(ascii=ascii))
    canvas.box(2, 2, 4, 3)
    assert [canvas.strip(y).text for y in range(6)] == [
        " " * 7,
        " " * 7,
        *(f"  {lines[at : at + 4]} " for at in (0, 4, 8)),
        " " * 7,
    ]


def test_text_stands_in_the_middle_or_ends_at_the_margin() -> None:
    canvas = Canvas(11, 5, Look())
    assert canvas.middle(0, "seven") == 8
    canvas.end(1, "seven")
    canvas.end(2, "seven", margin=2)
    assert canvas.middle(3, "中中") == 7
    assert canvas.middle(4, "longer than it") == 11
    assert [canvas.strip(y).text for y in range(5)] == [
        "   seven   ",
        "      seven",
        "    seven  ",
        "   中中    ",
        "longer tha…",
    ]


def test_a_line_can_be_filled_to_its_last_cell_and_goes_on_where_the_text_ended() -> None:
    canvas = Canvas(5, 2, Look())
    assert canvas.put(canvas.put(0, 0, "ab"), 0, "cde") == 5
    assert canvas.put(5, 0, "f") == 6
    canvas.put(2, 1, "abc  ")
    assert [canvas.strip(y).text for y in range(2)] == ["abcde", "  abc"]


def test_a_mark_joins_the_character_before_it_and_takes_no_cell() -> None:
    canvas = Canvas(4, 2, Look())
    assert canvas.put(0, 1, "e\u0301a\u0308") == 2
    canvas.put(0, 0, "\u0301")
    canvas.put(1, 7, "\u0301")
    canvas.put(4, 0, "a\u0301")
    assert [canvas.strip(y).text for y in range(2)] == ["    ", "e\u0301a\u0308  "]


def test_a_wide_character_covers_two_cells_also_at_the_edges() -> None:
    canvas = Canvas(4, 1, Look())
    assert canvas.put(0, 0, "中中") == 4
    assert canvas.strip(0).text == "中中"
    assert canvas.strip(0).cell_length == 4
    canvas.put(-1, 0, "中")
    assert canvas.strip(0).text == "中中"


@pytest.mark.parametrize(
    ("x", "text", "shown"),
    [
        (0, "a", "a 中中"),
        (1, "a", " a中中"),
        (1, "ab", " ab 中"),
        (2, "ab", "中ab中"),
        (3, "abc", "中 abc"),
        (1, "文", " 文 中"),
        (3, "文a", "中 文a"),
        (1, "e\u0301", " e\u0301中中"),
        (2, "中\u0301", "中中\u0301中"),
    ],
)
def test_of_a_wide_character_that_is_drawn_over_in_part_a_blank_is_left(x: int, text: str, shown: str) -> None:
    canvas = Canvas(6, 1, Look())
    canvas.put(0, 0, "中中中")
    canvas.put(x, 0, text)
    assert canvas.strip(0).text == shown
    assert cell_len(shown) == 6
    canvas.put(3, 0, "a")
    assert cell_len(canvas.strip(0).text) == 6


def test_the_blank_beside_what_was_drawn_over_keeps_the_ground_of_its_letter() -> None:
    canvas = Canvas(5, 1, Look())
    canvas.put(1, 0, "中中", ground="panel")
    canvas.put(2, 0, "ab", ground="chosen")
    assert canvas.strip(0).text == "  ab "
    page, panel, chosen = (canvas.style("text", ground) for ground in ("page", "panel", "chosen"))
    assert [(segment.text, segment.style) for segment in canvas.strip(0)] == [
        (" ", page),
        (" ", panel),
        ("ab", chosen),
        (" ", panel),
    ]


def test_a_zone_ends_where_its_rectangle_ends() -> None:
    canvas = Canvas(20, 6, Look())
    canvas.zone(2, 1, 3, 2, "key")
    inside = [(x, y) for y in range(6) for x in range(20) if canvas.key_at(x, y)]
    assert inside == [(2, 1), (3, 1), (4, 1), (2, 2), (3, 2), (4, 2)]
    canvas.put(7, 4, "中a", key="wide")
    assert [x for x in range(20) if canvas.key_at(x, 4)] == [7, 8, 9]


@pytest.mark.parametrize(
    ("chosen", "ascii", "text"), [(False, False, " yes "), (True, False, "▸yes◂"), (True, True, ">yes<")]
)
def test_a_button_that_is_chosen_can_be_told_without_colour(chosen: bool, ascii: bool, text: str) -> None:
    canvas = Canvas(8, 1, Look(colour=False, ascii=ascii))
    assert canvas.button(1, 0, "yes", "y", **({"chosen": True} if chosen else {})) == 6
    assert canvas.strip(0).text == f" {text}  "
    assert [canvas.key_at(x, 0) for x in (0, 1, 5, 6)] == [None, "y", "y", None]
    assert canvas.style("text", "button", reverse=True).reverse


def test_text_lies_on_the_ground_of_its_canvas_unless_it_has_its_own() -> None:
    canvas = Canvas(3, 1, Look(), ground="panel")
    assert canvas.style("text") == canvas.style("text", "panel")
    assert canvas.style("text") != canvas.style("text", "page")
    canvas.put(1, 0, "a", ground="chosen")
    assert [segment.style for segment in canvas.strip(0)] == [
        canvas.style("text", "panel"),
        canvas.style("text", "chosen"),
        canvas.style("text", "panel"),
    ]


@pytest.mark.parametrize(("ascii", "cut"), [(False, "abc…"), (True, "a...")])
def test_text_is_filled_or_cut_to_the_cells_that_it_has(ascii: bool, cut: str) -> None:
    canvas = Canvas(1, 1, Look(ascii=ascii))
    assert [canvas.fitted(text, 4) for text in ("ab", "abcd", "abcd  ", "abcde")] == ["ab  ", "abcd", "abcd", cut]
    assert canvas.fitted("ab", 0) == ""
    assert canvas.fitted("ab", -1) == ""
    assert canvas.fitted("ab c", 3) == ("ab…" if not ascii else "...")


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

        def on_mount(self) -> None:
            self.query_one(Lines).redraw()  # also before it was ever drawn

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
