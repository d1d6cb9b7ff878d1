"""The evening as a page: it needs nothing else, shows names as text only, and prints on two sheets."""

import re
import shutil
import subprocess
from html.parser import HTMLParser
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from client.evening_page import _DOTS, _colours, evening_page
from client.look import GROUNDS, Theme, contrast
from shared.standings import Played, standings
from tests.client.evenings import invented_evening

CHROMIUM = shutil.which("chromium")
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
    assert "<tr><td>1=</td><td><bdi>Ada</bdi></td><td>1½</td><td>2</td><td>75.0%</td><td>1</td></tr>" in page
    assert "<tr><td>3</td><td><bdi>Cleo</bdi></td><td>0</td><td>2</td><td>0.0%</td><td>1</td></tr>" in page


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


@pytest.mark.skipif(CHROMIUM is None, reason="needs the browser chromium")
@pytest.mark.parametrize("longest", [False, True], ids=["short names", "sixteen cells each"])
def test_a_browser_prints_it_on_two_sheets_of_a4(tmp_path: Path, longest: bool) -> None:
    evening = invented_evening()
    if longest:
        evening = tuple(one.model_copy(update={"name": f"{one.name:W<16}"}) for one in evening)
    source, target = tmp_path / "evening.html", tmp_path / "evening.pdf"
    source.write_text(evening_page("The Boathouse", "1 January 2030", evening), "utf-8")
    browse(tmp_path, "--no-pdf-header-footer", f"--print-to-pdf={target}", source.as_uri())
    printed = target.read_bytes()
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 2
    width, height = (float(side) for side in re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", printed)[0])
    assert (width, height) == pytest.approx((595.28, 841.89), abs=1)  # ISO 216: 210 x 297 mm in points


@pytest.mark.skipif(CHROMIUM is None, reason="needs the browser chromium")
def test_a_browser_shows_a_name_of_markup_as_text(tmp_path: Path) -> None:
    source = tmp_path / "evening.html"
    source.write_text(evening_page("Boathouse", "", renamed("<b>Ada</b>")), "utf-8")
    shown = browse(tmp_path, "--dump-dom", source.as_uri())
    assert "<bdi>&lt;b&gt;Ada&lt;/b&gt;</bdi>" in shown
    assert "<b>" not in shown


def browse(folder: Path, *words: str) -> str:
    """Run the browser without a window and with a profile of its own, and return what it printed."""
    quiet = ("--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking")
    command = (str(CHROMIUM), *quiet, f"--user-data-dir={folder / 'profile'}", *words)
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=True).stdout
