"""The evening's page in a real browser: no complaint, nothing asked for, plots of a size, names as text, two sheets."""

import base64
import re
from pathlib import Path

import pytest
from selenium.webdriver.common.by import By

from client.reports.evening_html import evening_page
from tests.client.evenings import invented_evening
from tests.outside.chromium import Chromium, needs_chromium

pytestmark = needs_chromium
_PLOTS = """
const place = element => element.getBoundingClientRect().toJSON();
return [...document.querySelectorAll("svg")].map(plot => [place(plot), [...plot.querySelectorAll(".dot")].map(place)]);
"""


def show(browser: Chromium, folder: Path, longest: str = "") -> str:
    """Open the page of the invented evening, with names of sixteen cells if asked for; return its address."""
    evening = invented_evening()
    if longest:
        evening = tuple(one.model_copy(update={"name": f"{one.name:{longest}<16}"}) for one in evening)
    page = folder / "evening.html"
    page.write_text(evening_page("The Boathouse", "1 January 2030", evening), "utf-8")
    browser.open(page.as_uri())
    return page.as_uri()


def test_it_opens_without_a_complaint_and_asks_for_nothing_else(browser: Chromium, tmp_path: Path) -> None:
    address = show(browser, tmp_path)
    assert browser.driver.title == "The Boathouse"
    assert browser.errors() == []
    assert browser.asked_for() == [address]


def test_every_plot_has_a_size_and_its_marks_stand_within(browser: Chromium, tmp_path: Path) -> None:
    show(browser, tmp_path)
    plots = browser.driver.execute_script(_PLOTS)
    assert len(plots) == 2
    for plot, marks in plots:
        assert plot["width"] > 300
        assert plot["height"] > 150
        assert len(marks) > 10
        for mark in marks:
            assert mark["width"] > 0
            assert plot["left"] <= mark["left"] < mark["right"] <= plot["right"]
            assert plot["top"] <= mark["top"] < mark["bottom"] <= plot["bottom"]


@pytest.mark.parametrize("longest", ["", "W"], ids=["short names", "sixteen cells each"])
def test_it_prints_on_two_sheets_of_a4(browser: Chromium, tmp_path: Path, longest: str) -> None:
    show(browser, tmp_path, longest)
    printed = base64.b64decode(browser.pdf(preferCSSPageSize=True, printBackground=True))
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 2
    width, height = (float(side) for side in re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", printed)[0])
    assert (width, height) == pytest.approx((595.28, 841.89), abs=1)  # ISO 216: 210 x 297 mm in points


def test_a_name_of_markup_is_text(browser: Chromium, tmp_path: Path) -> None:
    first, *rest = invented_evening()[:4]
    page = tmp_path / "evening.html"
    evening = [first.model_copy(update={"name": "<b>Ada</b>"}), *rest]
    page.write_text(evening_page("Boathouse", "", evening), "utf-8")
    browser.open(page.as_uri())
    shown = {name.text for name in browser.driver.find_elements(By.TAG_NAME, "bdi")}
    assert "<b>Ada</b>" in shown
    assert browser.driver.find_elements(By.TAG_NAME, "b") == []
