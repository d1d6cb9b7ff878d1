"""A real browser for tests: Chromium without a window, driven as a person would, with what it logged and asked for."""

import json
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from selenium import webdriver
from selenium.common.exceptions import WebDriverException
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

CHROMIUM, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")
_MISSING = not (CHROMIUM and DRIVER)
_MUST = bool(os.environ.get("CI")) and bool(CHROMIUM)
"""Where changes are judged and there is a browser, nothing is skipped: a missing driver is then a failure."""
needs_chromium = pytest.mark.skipif(_MISSING and not _MUST, reason="needs the browser chromium and chromedriver")

_FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--window-size=1000,700",
)
_COPY = """
const copied = new ClipboardEvent("copy", {clipboardData: new DataTransfer(), bubbles: true, cancelable: true});
document.querySelector(".xterm").dispatchEvent(copied);
return copied.clipboardData.getData("text/plain");
"""


class Chromium:
    """One browser with a profile of its own."""

    def __init__(self, driver: webdriver.Chrome) -> None:
        self.driver = driver

    def open(self, address: str) -> None:
        """Open a page; what was logged before is forgotten."""
        self.driver.get("about:blank")
        self.driver.get_log("browser")
        self.driver.get_log("performance")
        self.driver.get(address)

    def press(self, *keys: str) -> None:
        """Press keys, one after the other, wherever the page has put the focus."""
        for key in keys:
            ActionChains(self.driver).send_keys(key).perform()

    def terminal_text(self) -> str:
        """Return what the page's terminal shows: all of it is marked with the mouse and copied."""
        screen = self.driver.find_element(By.CSS_SELECTOR, ".xterm-screen")
        right, down = screen.size["width"] // 2 - 1, screen.size["height"] // 2 - 1
        marking = ActionChains(self.driver).key_down(Keys.SHIFT).move_to_element_with_offset(screen, -right, -down)
        marking.click_and_hold().move_to_element_with_offset(screen, right, down).release().key_up(Keys.SHIFT).perform()
        return str(self.driver.execute_script(_COPY))

    def errors(self) -> list[str]:
        """Return what the console complained about since the page was opened."""
        return [entry["message"] for entry in self.driver.get_log("browser") if entry["level"] == "SEVERE"]

    def asked_for(self) -> list[str]:
        """Return every address that was asked for since the page was opened, WebSockets included."""
        asked = []
        for entry in self.driver.get_log("performance"):
            said = json.loads(entry["message"])["message"]
            match said["method"], said["params"]:
                case "Network.requestWillBeSent", {"documentURL": str(page), "request": {"url": str(url)}}:
                    asked += [] if page.startswith("chrome") else [url]
                case "Network.webSocketCreated", {"url": str(url)}:
                    asked.append(url)
        return asked

    def pdf(self, **how: Any) -> str:
        """Return the page as it is printed, a PDF in base 64.

        Chromium now and then fails to print any page on a busy machine, so it is asked up to three times.

        Raises:
            WebDriverException: It failed each time, or in another way.
        """
        for _ in range(2):
            try:
                return self._print(how)
            except WebDriverException as fault:
                if "Printing failed" not in str(fault):
                    raise
        return self._print(how)

    def _print(self, how: dict[str, Any]) -> str:
        return str(self.driver.execute_cdp_cmd("Page.printToPDF", how)["data"])


@contextmanager
def chromium(folder: Path) -> Iterator[Chromium]:
    """Run a browser whose profile lies in a folder."""
    options = webdriver.ChromeOptions()
    options.binary_location = str(CHROMIUM)
    for flag in (*_FLAGS, f"--user-data-dir={folder / 'profile'}"):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(options=options, service=webdriver.ChromeService(str(DRIVER)))
    try:
        yield Chromium(driver)
    finally:
        driver.quit()
