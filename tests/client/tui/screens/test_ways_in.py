"""What happens when a table cannot be opened, says no, or is lost."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace

from client.connection.link import Connected, Ended, Lost
from client.connection.opened import Opened, Opening
from client.setup import Setup
from client.storage.preferences import Storage
from client.theme import Look
from client.tui.app import RacktempoApp
from client.tui.ports import AtHome, AtHost, AtJoin, Openers
from client.tui.screens.home import HomeScreen
from client.tui.screens.host import HostScreen
from client.tui.screens.join import JoinScreen
from client.tui.screens.table import TableScreen
from shared.rules.settings import Settings
from shared.wire.messages import PROTOCOL, Welcome
from tests.client.frozen import text_of
from tests.client.player import at
from tests.client.tables import TableLine, Time


@asynccontextmanager
async def closed_door() -> AsyncIterator[Opened]:
    raise ValueError("Port 15214 is taken; 15215 is free.")
    yield


SHUT = Openers(
    solo=lambda settings, name, card: closed_door(),
    host=lambda settings, name, port, card: closed_door(),
    join=lambda address, name, code, card, watches: closed_door(),
)


async def test_a_door_that_does_not_open_says_why_and_the_form_stays() -> None:
    app = RacktempoApp(SHUT, AtHome(), name="Anna")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("h", "f5")
        await pilot.pause()
        assert isinstance(app.screen, HostScreen)
        assert "15215 is free" in text_of(app)


async def test_a_host_begins_with_the_level_that_was_chosen_at_home() -> None:
    asked: list[int] = []

    def host(settings: Settings, name: str, port: int, card: str) -> Opening:
        asked.append(settings.level_ms)
        return closed_door()

    app = RacktempoApp(replace(SHUT, host=host), AtHome(), name="Anna")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("left", "h", "f5")
        await pilot.pause()
        assert asked == [120_000]


async def test_an_evening_is_opened_from_the_home_screen_or_says_why_not() -> None:
    asked: list[int] = []

    def desk(settings: Settings, port: int, card: str) -> Opening:
        asked.append(settings.level_ms)
        return closed_door()

    app = RacktempoApp(replace(SHUT, desk=desk), AtHome(), name="Anna")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("left", "e")
        await pilot.pause()
        assert asked == [120_000]
        assert isinstance(app.screen, HomeScreen)
        assert "15215 is free" in text_of(app)


async def test_a_wrong_code_leaves_the_form_as_it_was() -> None:
    async with at((80, 24), AtJoin("192.0.2.20")) as player:
        player.line.inbox = type(player.line.inbox)()
        player.line.inbox.put_nowait(Ended("This is the wrong code."))
        await player.press(*"otter", "enter", "enter")
        assert isinstance(player.app.screen, JoinScreen)
        shown = text_of(player.app)
        assert "wrong code" in shown
        assert "192.0.2.20" in shown


async def test_who_was_sent_home_from_a_table_need_not_type_its_address_and_code_again() -> None:
    async with at((80, 24), AtJoin("192.0.2.20")) as player:
        await player.press(*"otter", "enter", "enter")
        player.app.hear(Ended("The table is closed."))
        await player.settle()
        assert isinstance(player.app.screen, HomeScreen)
        await player.press("j")
        assert "192.0.2.20" in text_of(player.app)
        assert "otter" in text_of(player.app)


async def test_who_must_wait_at_the_door_reads_why_and_the_form_stays() -> None:
    async with at((80, 24), AtJoin("192.0.2.20")) as player:
        player.line.inbox = type(player.line.inbox)()
        why = "Your seat is kept; the host is asked to let this machine in. Are you somebody else? Use another name."
        player.line.inbox.put_nowait(Lost(why, 1_000))
        await player.press(*"otter", "enter", "enter")
        assert isinstance(player.app.screen, JoinScreen)
        assert why in " ".join(text_of(player.app).split()), "all of it"


async def test_a_cut_line_is_said_and_forgotten_when_it_is_back() -> None:
    async with at((80, 24)) as player:
        await player.press("enter")
        player.app.hear(Lost("The line is cut.", 400))
        await player.settle()
        assert "The line is cut." in text_of(player.app)
        assert isinstance(player.app.screen, TableScreen)
        player.app.hear(Connected(Welcome(protocol=PROTOCOL, token=bytes(16), chair=0, last_id=0)))
        await player.settle()
        assert "The line is cut." not in text_of(player.app)


async def test_a_table_that_closes_leads_home_with_the_reason() -> None:
    async with at((80, 24)) as player:
        await player.press("enter")
        player.app.hear(Ended("The table is closed."))
        await player.settle()
        assert isinstance(player.app.screen, HomeScreen)
        assert "The table is closed." in text_of(player.app)


async def test_a_preset_is_kept_under_its_name_and_used_again() -> None:
    kept: dict[str, Setup] = {}
    storage = Storage(load_presets=lambda: (kept, ()), save_preset=kept.__setitem__)
    app = RacktempoApp(SHUT, AtHome(), name="Anna", storage=storage)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("h", *["up"] * 3, *"club", "enter")
        assert list(kept) == ["club"]
        await pilot.press("escape", "h", "2", ":", "0", "0", "down")
        assert isinstance(app.screen, HostScreen)
        assert app.screen.form.settings.level_ms == 120_000
        await pilot.press(*["up"] * 5, "right")
        assert app.screen.form.settings == kept["club"].settings


async def test_a_changed_look_is_kept_and_used_at_once() -> None:
    kept: list[Look] = []
    app = RacktempoApp(SHUT, AtHome(), storage=Storage(save_look=kept.append))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("o", "down", "right")
        assert kept[-1].ascii
        assert text_of(app).isascii()


async def test_the_bell_rings_once_in_the_last_ten_seconds_if_asked_for() -> None:
    rung: list[int] = []

    class Ringing(RacktempoApp):
        def bell(self) -> None:
            rung.append(self.now_ms())

    now_ms = Time()
    line = TableLine(Settings(seed=7), now_ms)

    @asynccontextmanager
    async def opening() -> AsyncIterator[Opened]:
        yield Opened(line)

    openers = Openers(lambda *_: opening(), lambda *_: opening(), lambda *_: opening())
    app = Ringing(openers, AtHome(), now_ms=now_ms, storage=Storage(load_look=lambda: Look(bell=True)))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("p")
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        for by_ms in (32_000, 1_500, 500, 500):
            line.pass_time(by_ms)
            await pilot.pause()
            screen = app.screen
            assert isinstance(screen, TableScreen)
            screen.tick()
        assert len(rung) == 1


async def test_a_host_who_gave_their_own_chair_to_a_bot_takes_it_back() -> None:
    async with at((80, 24), AtHost()) as player:
        await player.press("f5", "b")
        assert "A bot plays for you" not in text_of(player.app)
        await player.press("up", "b")
        assert "A bot plays for you; t: play yourself." in text_of(player.app)
        await player.press("t")
        assert "A bot plays for you" not in text_of(player.app)


async def test_a_bot_goes_to_a_free_chair_and_not_onto_somebody_who_sits_there() -> None:
    async with at((80, 24), AtHost()) as player:
        await player.press("f5")
        player.line.table.join("Bo", None, player.line.now_ms())
        player.line.pass_time(0)
        await player.press("b", "b")
        view = player.model.view
        assert view is not None
        assert [chair.sitter for chair in view.chairs] == ["person", "person", "bot", "bot"]
