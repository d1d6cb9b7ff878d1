"""A guest with nothing but a browser sits down and passes, as the table sees it; strangers' pages get nowhere.

Everything is real: a table behind a socket, racktempo web as a process, Chromium, keys.
"""

import asyncio
import http.client
import http.server
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager, contextmanager
from functools import partial
from pathlib import Path

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from client.browser.server import AT_HOME
from client.models.rack import PLACES
from server.host import Hosted, host_table
from server.store import Store
from shared.rules.settings import Settings
from shared.rules.tiles import JOKER
from shared.wire.views import HeatView
from tests.outside.chromium import Chromium, needs_chromium
from tests.ports import free_port
from tests.server.players import Player

pytestmark = needs_chromium
ROOT = Path(__file__).parents[2]
SLOW = Settings(seed=7, heats=1, level_ms=1_200_000)
"""No clock answers for the guest while a busy machine draws."""
_LONGEST_S = 60.0
_TAKES_KEYS = "return document.activeElement.className === 'xterm-helper-textarea'"
_ASKS_NAME = "return document.activeElement.name === 'name'"
_FILL_IN = """
const [name, code] = arguments, form = document.getElementById("join");
form.elements.name.value = name;
form.elements.code.value = code;
form.requestSubmit();
"""
_KNOCK = """
const [address, done] = arguments;
const line = new WebSocket(address);
line.onopen = () => done("opened");
line.onerror = () => done("refused");
"""


class Page:
    """The command racktempo web as a process of its own, with the host's things around it."""

    def __init__(self, table: str, folder: Path) -> None:
        self.home, self.visits = folder / "home", folder / "visits"
        for made in (self.home, self.visits):
            made.mkdir()
        homes = ("HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME")
        self._process = subprocess.Popen(
            [sys.executable, "-c", _COMMAND, "web", table, "--port", str(free_port())],
            cwd=folder,
            env={**os.environ, **dict.fromkeys(homes, str(self.home)), "TMPDIR": str(self.visits)},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        assert self._process.stdout
        self.begins = [self._process.stdout.readline() for _ in range(3)]
        self.address = self.begins[0].removeprefix("Page: ").strip()
        self.host = self.address.removeprefix("http://").rstrip("/")

    def folders(self) -> list[str]:
        """The folders of the visits that there are."""
        return [visit.name for visit in self.visits.glob("racktempo-*/*")]

    def end(self) -> tuple[int, str]:
        """Ask it to end; return its exit code and what it said last."""
        self._process.send_signal(signal.SIGTERM)
        said, _ = self._process.communicate(timeout=_LONGEST_S)
        return self._process.returncode, said.splitlines()[-1]

    def kill(self) -> None:
        """Leave no process behind."""
        self._process.kill()
        self._process.communicate()


_COMMAND = f"import sys; sys.path.insert(0, {str(ROOT)!r}); from client.cli import main; sys.exit(main())"


@asynccontextmanager
async def table_and_page(folder: Path) -> AsyncIterator[tuple[Hosted, Page]]:
    store = Store.open(None)
    async with host_table(store, SLOW, "Boathouse", host="127.0.0.1", port=0) as hosted:
        page = await asyncio.to_thread(Page, f"127.0.0.1:{hosted.listener.port}", folder)
        try:
            yield hosted, page
        finally:
            page.kill()
    await store.close()


@contextmanager
def elsewhere(folder: Path) -> Iterator[str]:
    """A page of somebody else's, at another port of the same machine, where a browser sees no reason to hesitate."""
    (folder / "page.txt").write_text("elsewhere", "utf-8")

    class Handler(http.server.SimpleHTTPRequestHandler):
        def log_message(self, *_: object) -> None:
            """Say nothing."""

    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), partial(Handler, directory=str(folder))) as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        try:
            yield f"http://127.0.0.1:{server.server_port}/page.txt"
        finally:
            server.shutdown()
            thread.join()


async def until(what: Callable[[], bool], otherwise: Callable[[], str] = lambda: "it never happened") -> None:
    """Wait for other processes; there is nothing to wait on but what they bring about."""
    ends_at = time.monotonic() + _LONGEST_S
    while not await asyncio.to_thread(what):
        assert time.monotonic() < ends_at, otherwise()
        await asyncio.sleep(0.1)


async def until_shown(browser: Chromium, text: str) -> None:
    await until(lambda: text in browser.terminal_text(), browser.terminal_text)


async def fill_in(browser: Chromium, name: str, code: str) -> None:
    """Say name and code on the page, as a person does who has the keyboard."""
    await until(lambda: browser.driver.execute_script(_ASKS_NAME), lambda: "keys would go nowhere")
    await asyncio.to_thread(browser.press, *name, Keys.TAB, *code, Keys.ENTER)


async def until_takes_keys(browser: Chromium) -> None:
    await until(lambda: browser.driver.execute_script(_TAKES_KEYS), lambda: "keys would go nowhere")


def shown_on_page(browser: Chromium) -> str:
    # One script: an element that is found first and read then may belong to a page that has just been left.
    return str(browser.driver.execute_script("return document.body ? document.body.innerText : ''"))


def sitting(hosted: Hosted) -> list[str]:
    """The people on the chairs whose line is there, as the table sees them."""
    view = hosted.keeper.table.view(0, 0)
    return [chair.name for chair in view.chairs if chair.sitter == "person" and chair.connected]


def heat_of(hosted: Hosted) -> HeatView | None:
    return hosted.keeper.table.view(0, 0).heat


async def test_a_guest_sits_down_comes_back_and_passes(browser: Chromium, tmp_path: Path) -> None:
    async with table_and_page(tmp_path) as (hosted, page):
        await asyncio.to_thread(browser.open, page.address)
        await fill_in(browser, "Ada", hosted.record.code)
        await until(lambda: sitting(hosted) == ["Ada"])
        await until(lambda: len(page.folders()) == 1)
        await until_takes_keys(browser)

        before = page.folders()
        await asyncio.to_thread(browser.driver.refresh)
        await until(lambda: len(page.folders()) == 1 and page.folders() != before)
        await until(lambda: sitting(hosted) == ["Ada"])
        assert [chair.name for chair in hosted.record.chairs if chair.sitter == "person"] == ["Ada"]

        await until_takes_keys(browser)
        await until_shown(browser, "Ada")
        await asyncio.to_thread(browser.press, Keys.ENTER)
        await until_shown(browser, "First right: lift 3 more")
        dealt = heat_of(hosted)
        assert dealt
        assert dealt.owes
        free = [place for place, tile in enumerate(dealt.rack) if tile != JOKER][:3]
        await asyncio.to_thread(browser.press, *(PLACES[place] for place in free), Keys.ENTER)
        await until(lambda: bool((heat := heat_of(hosted)) and heat.route[0].given))
        passed = heat_of(hosted)
        assert passed
        assert sorted(passed.route[0].given) == sorted(dealt.rack[place] for place in free)
        assert passed.route[0].by == "person"
        await until_shown(browser, "passed")

        asked = await asyncio.to_thread(browser.asked_for)
        own = (page.address, f"ws://{page.host}/", "data:,")
        assert asked
        assert [address for address in asked if not address.startswith(own)] == []
        assert await asyncio.to_thread(browser.errors) == []
        await asyncio.to_thread(browser.driver.save_screenshot, str(tmp_path / "passed.png"))

        await asyncio.to_thread(browser.driver.get, "about:blank")
        await until(lambda: page.folders() == [])
        assert page.begins[1:] == [f"Table: 127.0.0.1:{hosted.listener.port}\n", f"{AT_HOME}\n"]
        assert await asyncio.to_thread(page.end) == (0, "Closing.")
        assert list(page.visits.iterdir()) == []
        files = [str(file.relative_to(page.home)) for file in page.home.rglob("*") if file.is_file()]
        kept = ("racktempo/page.key", "racktempo/visitors/")
        assert all(file.startswith(kept) for file in files), "nothing of a visitor stays but what gives back their seat"
        assert len(files) == len(kept)


async def test_a_wrong_code_is_refused_and_shown_before_anything_runs(browser: Chromium, tmp_path: Path) -> None:
    async with table_and_page(tmp_path) as (hosted, page):
        await asyncio.to_thread(browser.open, page.address)
        await fill_in(browser, "Ada", "wrong")
        await until(lambda: "This is the wrong code" in shown_on_page(browser))
        assert all(chair.sitter == "nobody" for chair in hosted.record.chairs)
        assert page.folders() == []
        assert browser.driver.find_element(By.NAME, "name").get_attribute("value") == "Ada"


async def test_escape_leads_nowhere(browser: Chromium, tmp_path: Path) -> None:
    async with table_and_page(tmp_path) as (hosted, page):
        await asyncio.to_thread(browser.open, page.address)
        await fill_in(browser, "Ada", hosted.record.code)
        await until_takes_keys(browser)
        await until(lambda: sitting(hosted) == ["Ada"])
        await until_shown(browser, "Ada")
        await asyncio.to_thread(browser.press, "q")
        await until_shown(browser, "Your name")
        await asyncio.to_thread(browser.press, Keys.ESCAPE, Keys.ESCAPE, Keys.F1)
        await until_shown(browser, "any other key back")
        await asyncio.to_thread(browser.press, "x")
        await until_shown(browser, "Your name")


async def test_pages_from_elsewhere_and_other_host_names_are_refused(browser: Chromium, tmp_path: Path) -> None:
    async with table_and_page(tmp_path) as (hosted, page):
        knock = browser.driver.execute_async_script
        with elsewhere(tmp_path) as foreign:
            await asyncio.to_thread(browser.open, foreign)
            assert await asyncio.to_thread(knock, _KNOCK, f"ws://{page.host}/line") == "refused"
        await asyncio.to_thread(browser.open, f"{page.address}page.css")
        assert await asyncio.to_thread(knock, _KNOCK, f"ws://{page.host}/line") == "refused"  # no code was said yet
        await asyncio.to_thread(browser.open, page.address)
        await fill_in(browser, "Ada", hosted.record.code)
        await until(lambda: sitting(hosted) == ["Ada"])
        await asyncio.to_thread(browser.open, f"{page.address}page.css")
        assert await asyncio.to_thread(knock, _KNOCK, f"ws://{page.host}/line") == "opened"
        with elsewhere(tmp_path) as foreign:
            await asyncio.to_thread(browser.open, foreign)
            assert await asyncio.to_thread(knock, _KNOCK, f"ws://{page.host}/line") == "refused"
        for path in ("/", "/line", "/textual.js"):
            asked = http.client.HTTPConnection(page.host, timeout=_LONGEST_S)
            asked.request("GET", path, headers={"Host": "club.example", "Origin": "http://club.example"})
            assert asked.getresponse().status == 403
            asked.close()


async def test_the_page_ends_with_its_visitors_and_leaves_nothing(browser: Chromium, tmp_path: Path) -> None:
    async with table_and_page(tmp_path) as (hosted, page):
        await asyncio.to_thread(browser.open, page.address)
        await fill_in(browser, "Ada", hosted.record.code)
        await until(lambda: sitting(hosted) == ["Ada"])
        assert await asyncio.to_thread(page.end) == (0, "Closing.")
        assert list(page.visits.iterdir()) == []
        await until(lambda: browser.driver.execute_script("return document.getElementById('ended').offsetHeight > 0"))
        await until(lambda: sitting(hosted) == [])
        assert [chair.name for chair in hosted.record.chairs if chair.sitter == "person"] == ["Ada"]


HOSTILE_NAMES = (
    '"><img src=x onerror=document.title="acted">',
    "<script>document.title='acted'</script>",
    "\x1b]0;acted\x07\x1b[2J\x9b31mAda",
    "[link=javascript:document.title='acted']Ada[/]",
    "\u202eadA\u2066\u200f",
    "Ada\u0301" + "\u0301" * 50,
)


@pytest.mark.parametrize("name", HOSTILE_NAMES, ids=range(len(HOSTILE_NAMES)))
async def test_a_name_cannot_act_in_anybodys_browser(browser: Chromium, tmp_path: Path, name: str) -> None:
    """One who comes by the table's own door bears the name, a guest sees it on the page; so does a form sent back."""
    async with table_and_page(tmp_path) as (hosted, page):
        stranger = Player(hosted.listener.port, name, hosted.record.code)
        await stranger.come()
        sitter = hosted.record.chairs[0].name
        await asyncio.to_thread(browser.open, page.address)
        await until(lambda: browser.driver.execute_script(_ASKS_NAME))
        await asyncio.to_thread(browser.driver.execute_script, _FILL_IN, name, "wrong")
        await until(lambda: "This is the wrong code" in shown_on_page(browser))
        assert browser.driver.title == "racktempo"
        assert browser.driver.find_elements(By.CSS_SELECTOR, "img, a, body script") == []
        assert all("403 (Forbidden)" in error for error in await asyncio.to_thread(browser.errors))
        await asyncio.to_thread(browser.driver.execute_script, _FILL_IN, "Zoe", hosted.record.code)
        await until(lambda: sitting(hosted)[1:] == ["Zoe"])
        await until_takes_keys(browser)
        await until_shown(browser, "Zoe")
        await until_shown(browser, sitter[:6])
        assert browser.driver.title == "racktempo"
        assert browser.driver.find_elements(By.CSS_SELECTOR, "img, .xterm a, .xterm script") == []
        assert await asyncio.to_thread(browser.errors) == []
        await stranger.go()
