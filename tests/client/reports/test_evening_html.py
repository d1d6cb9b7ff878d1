"""The evening as a page: it needs nothing else and shows names as text only. tests/outside has it in a real browser."""

import re
from html.parser import HTMLParser

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from client.reports.evening_html import _DOTS, _colours, evening_page
from client.theme import GROUNDS, Theme, contrast
from shared.measures.standings import Played, standings
from tests.client.evenings import invented_evening

ALONE = {"br", "meta", "circle", "line"}


class Reader(HTMLParser):
    """Follows the tags, and fails where one is left open or closed twice."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: set[str] = set()
        self.attributes: list[tuple[str, str | None]] = []
        self.names: list[str] = []
        self.styles = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes += attrs
        if tag not in ("meta",):
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes += attrs

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open[-1:] == ["bdi"]:
            self.names.append(data)
        if self.open[-1:] == ["style"]:
            self.styles += data


def read(page: str) -> Reader:
    reader = Reader()
    reader.feed(page)
    reader.close()
    assert reader.open == []
    return reader


def renamed(name: str) -> list[Played]:
    first, *rest = invented_evening()[:4]
    return [first.model_copy(update={"name": name}), *rest]


def test_the_page_asks_for_nothing_from_anywhere() -> None:
    page = evening_page("The Boathouse", "1 January 2030", invented_evening())
    reader = read(page)
    assert reader.tags.isdisjoint(
        {"script", "link", "img", "iframe", "object", "embed", "base", "form", "use", "image"}
    )
    assert {name for name, _ in reader.attributes}.isdisjoint({"src", "href", "srcset", "style", "xlink:href"})
    assert not any(name.startswith("on") for name, _ in reader.attributes)
    assert "url(" not in reader.styles
    assert "@import" not in reader.styles
    assert "//" not in page
    assert "default-src 'none'" in page


@given(st.text(max_size=40) | st.sampled_from(["<script>x</script>", "</bdi><b>", '"onload="x', "&lt;", "\u202eevil"]))
@settings(max_examples=30, deadline=None)
def test_a_name_is_text_and_nothing_else(name: str) -> None:
    plain, named = read(evening_page("Boathouse", "", renamed("Ada"))), read(evening_page(name, name, renamed(name)))
    assert named.tags == plain.tags
    assert len(named.attributes) == len(plain.attributes)


def test_every_person_stands_in_the_tables_by_name() -> None:
    evening = invented_evening()
    names = read(evening_page("Boathouse", "", evening)).names
    result = standings(evening)
    assert len(names) == len(result.speed) + len(result.loss) + len(result.points) + len(result.guests)
    assert {guest.name for guest in result.guests} <= set(names)


def test_the_words_of_a_shared_place_and_of_a_half_are_as_computed_by_hand() -> None:
    # Three tables with 20, 20 and 10 points in one seat: 1 1/2, 1 1/2 and 0 of 2.
    base = invented_evening()[0]
    evening = [
        base.model_copy(update={"table": name, "person": name, "name": name, "points": points})
        for name, points in (("Ada", 20.0), ("Ben", 20.0), ("Cleo", 10.0))
    ]
    page = evening_page("Boathouse", "", evening)
    assert "<tr><td>1=</td><td><bdi>Ada</bdi></td><td>75.0%</td><td>1½</td><td>2</td><td>1</td></tr>" in page
    assert "<tr><td>3</td><td><bdi>Cleo</bdi></td><td>0.0%</td><td>0</td><td>2</td><td>1</td></tr>" in page


def test_an_evening_without_reviews_or_heats_still_is_a_page() -> None:
    unreviewed = [one.model_copy(update={"loss": None, "points": None}) for one in invented_evening()]
    assert "No heat has been reviewed yet" in evening_page("Boathouse", "", unreviewed)
    read(evening_page("", "", []))


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_text_and_marks_stand_out(theme: Theme) -> None:
    # WCAG 2.2: 4.5 to 1 for text (1.4.3), 3 to 1 for what a plot is made of (1.4.11).
    ground = GROUNDS[theme]["page"]
    colours = dict(re.findall(r"--(\w+): (#\w{6});", _colours(theme)))
    for role in ("text", "quiet", "mark", "warn"):
        assert contrast(colours[role], ground) >= 4.5
        assert theme == "dark" or contrast(colours[role], "#ffffff") >= 4.5, "paper is white"
    assert contrast(_DOTS[theme], ground) >= 3
