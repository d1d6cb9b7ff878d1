"""At a clock with a machine each, everybody types their own rack: it is kept here, and no byte of it goes anywhere."""

import asyncio
import time
from collections.abc import Callable
from pathlib import Path

from client.connection.join import open_join
from client.hosting.alone import open_solo
from client.hosting.table import open_host
from client.models.shared_clock import SharedClockModel
from client.storage.journal import disk_journal
from client.tui.app import RacktempoApp
from client.tui.ports import AtJoin, Openers
from client.tui.screens.real_racks import RacksScreen
from client.tui.screens.real_set import RealSetScreen
from client.tui.screens.shared_clock import SharedClockScreen
from shared.rules.tiles import by_suit
from tests.client.clocks import clock_at
from tests.client.here import CoachHere
from tests.client.real_heats import played_heat
from tests.client.relay import Relay
from tests.groups import Circle, open_clock
from tests.server.players import CODE

_CONTROL = 8
"""From this opcode on a frame is one of the line itself (RFC 6455, section 5.2)."""


class Overheard(Relay):
    """A relay that keeps what the client says: its frames, unmasked."""

    def __init__(self, port: int) -> None:
        super().__init__(port)
        self.said = bytearray()

    async def _copy(self, source: asyncio.StreamReader, to: asyncio.StreamWriter, from_table: bool) -> None:
        while data := await source.read(65_536):
            if not from_table:
                self.said += data
            to.write(data)
            await to.drain()
        to.close()

    def frames(self) -> list[tuple[int, bytes]]:
        """Return every frame after the handshake: its opcode and what it carries (RFC 6455, section 5.2)."""
        data = bytes(self.said).partition(b"\r\n\r\n")[2]
        found, at = list[tuple[int, bytes]](), 0
        while at < len(data):
            opcode, length = data[at] & 15, data[at + 1] & 127
            assert data[at + 1] & 128, "a client masks its frames"
            at += 2
            if length >= 126:
                wide = 2 if length == 126 else 8
                length, at = int.from_bytes(data[at : at + wide]), at + wide
            mask, at = data[at : at + 4], at + 4
            found.append((opcode, bytes(byte ^ mask[n % 4] for n, byte in enumerate(data[at : at + length]))))
            at += length
        return found


async def test_what_is_typed_at_a_clock_of_several_goes_into_ones_own_history_and_to_nobody(tmp_path: Path) -> None:
    circle, heat = Circle(people=2), played_heat(11, 14)
    journal = disk_journal(tmp_path / "history.sqlite3", tmp_path)
    async with clock_at((80, 24), circle=circle, journal=journal) as clock:
        clock.app.coaching._service = CoachHere()

        async def typed(lines: list[str]) -> None:
            await clock.press("t")
            screen = clock.app.screen
            assert isinstance(screen, RacksScreen)
            while not screen._is_ready:
                await clock.settle()
            for line in lines:
                await clock.press(*("space" if character == " " else character for character in line), "enter")

        deal, *passes = heat.typed()
        await typed([deal])
        circle.ready(0, 1)
        circle.play_heat(0, 1)
        await clock.show()
        before = list(clock.line.asked)
        await typed(passes)
        await clock.press("-", "enter", "-", "enter")
        await clock.app._keeping.done()
        assert clock.line.asked == before
        (entry,) = journal.read().entries
        assert (entry.source, by_suit(entry.heat.final)) == ("real tiles", by_suit(heat.final))
        await clock.press("escape", "r")
        assert isinstance(clock.app.screen, RealSetScreen)
        await clock.press("q")
        circle.ready(0, 1)
        await clock.show()
        assert isinstance(clock.app.screen, SharedClockScreen)


async def test_the_clock_comes_back_when_a_heat_begins_and_what_was_typed_stays(tmp_path: Path) -> None:
    circle = Circle(people=2)
    journal = disk_journal(tmp_path / "history.sqlite3", tmp_path)
    async with clock_at((80, 24), circle=circle, journal=journal) as clock:
        await clock.press("t")
        screen = clock.app.screen
        assert isinstance(screen, RacksScreen)
        while not screen._is_ready:
            await clock.settle()
        await clock.press("1", "1", "2", "b")
        circle.ready(0, 1)
        await clock.show()
        clock.app._tick()
        await clock.settle()
        assert isinstance(clock.app.screen, SharedClockScreen)
        await clock.app._keeping.done()
        assert list(journal.racks().values()) == [{"dealt": "112b"}]


async def test_not_a_byte_of_a_typed_rack_is_on_the_wire(tmp_path: Path) -> None:
    deal = next(played_heat(12, 14).typed())
    async with open_clock() as (listener, _):
        overheard = Overheard(listener.port)
        server = await asyncio.start_server(overheard._carry, "127.0.0.1", 0)
        port = server.sockets[0].getsockname()[1]
        app = RacktempoApp(
            Openers(solo=open_solo, host=open_host, join=open_join),
            AtJoin(f"127.0.0.1:{port}", CODE),
            name="Anna",
            journal=disk_journal(tmp_path / "history.sqlite3", tmp_path),
            coach=CoachHere(),
        )
        async with app.run_test(size=(80, 24)) as pilot:

            async def until(holds: Callable[[], object]) -> None:
                ends_at = time.monotonic() + 60
                while not holds():
                    assert time.monotonic() < ends_at, "it never came about"
                    await pilot.pause(0.02)

            await until(lambda: isinstance(app.session, SharedClockModel) and app.session.view)
            await until(lambda: isinstance(app.screen, SharedClockScreen))
            before = len([opcode for opcode, _ in overheard.frames() if opcode < _CONTROL])
            assert before, "the hello was overheard"
            await pilot.press("t")
            await until(lambda: isinstance(app.screen, RacksScreen) and app.screen._is_ready)
            await pilot.press(*("space" if character == " " else character for character in deal), "enter")
            await app._keeping.done()
            await pilot.pause(0.5)
            assert isinstance(app.screen, SharedClockScreen)
            frames = overheard.frames()
            assert len([opcode for opcode, _ in frames if opcode < _CONTROL]) == before
            assert not any(deal.encode() in said or deal.split()[0].encode() in said for _, said in frames)
            (kept,) = app.journal.racks().values()
            assert kept == {"dealt": deal}
        server.close()
        overheard.cut()
