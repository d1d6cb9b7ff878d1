"""A screen needs no more than a Shell: here one is shown by an app of a few lines."""

from pathlib import Path

from textual.app import App

import client.tui
from client.coach.queue import Coaching
from client.connection.opened import Opened, WayIn
from client.storage.journal import Journal
from client.storage.preferences import Storage
from client.theme import Look
from client.tui.ports import Shell, Start
from client.tui.screens.addresses import AddressesScreen
from shared.rules.settings import Settings
from tests.client.frozen import text_of
from tests.client.here import CoachHere
from tests.client.tables import TableLine, Time, openers_to

HERE = {"192.0.2.20:15214": "wlan0", "198.51.100.7:15214": "eth0"}


class Small(App[None]):
    """The least that a screen needs."""

    CSS_PATH = str(Path(client.tui.__file__).with_name("racktempo.tcss"))
    player, port, is_at_table = "Anna", 0, True

    def __init__(self, line: TableLine) -> None:
        super().__init__()
        self.look, self.now_ms, self.random_bytes = Look(), Time(), bytes
        self.openers, self.storage, self.journal = openers_to(line), Storage(), Journal()
        self.coaching = Coaching(CoachHere(), self.journal, lambda: None)
        self.announced: list[object] = []
        announce = lambda addresses, say: self.announced.append(tuple(addresses))  # noqa: E731
        self.way_in = WayIn(Opened(line, tuple(HERE)[:1], HERE, announce))
        self.done: list[object] = []

    def go(self, start: Start) -> None:
        self.done.append(start)

    open_table = ask = keep = change_look = lambda self, what: self.done.append(what)

    def leave(self) -> None:
        self.done.append("leave")

    show_looks = show_help = change_settings = show_over = leave


async def test_a_screen_is_shown_by_an_app_of_a_few_lines() -> None:
    app = Small(TableLine(Settings(seed=7), Time()))
    shell: Shell = app
    async with app.run_test(size=(80, 24)) as pilot:
        await app.push_screen(AddressesScreen())
        await pilot.press("down", "space")
        assert shell.way_in.addresses == tuple(HERE)
        assert app.announced == [tuple(HERE)[:1], tuple(HERE)]
        assert "198.51.100.7:15214  eth0" in text_of(app)  # type: ignore[arg-type]
        await pilot.press("q")
        assert not isinstance(app.screen, AddressesScreen)
        assert app.done == []
