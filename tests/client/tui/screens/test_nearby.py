"""Tables that come and go on the join screen, and which of its addresses a host shows."""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import replace

from client.connection.discovery import Nearby
from client.connection.opened import Opened
from client.storage.preferences import Storage
from client.tui.app import RacktempoApp
from client.tui.ports import AtDesk, AtJoin
from client.tui.screens.addresses import AddressesScreen
from shared.rules.settings import Settings
from shared.wire.announce import Found
from shared.wire.messages import PROTOCOL
from tests.client.desks import ClubLine
from tests.client.frozen import check_frozen, sized, text_of
from tests.client.tables import TableLine, Time, openers_to
from tests.clubs import ClubEvening

ALL = {"192.0.2.20:15214": "wlan0", "198.51.100.7:15214": "eth0", "127.0.0.1:15214": "lo"}


def found(name: str, address: str = "192.0.2.20", protocol: int = PROTOCOL, kind: str = "table") -> Found:
    return Found(f"{name}._racktempo._tcp.local.", name, (address,), 15214, kind, False, protocol)  # type: ignore[arg-type]


class Network:
    """What is nearby, as the test says; keeps who looks and whether they still do."""

    def __init__(self) -> None:
        self.show: Callable[[Nearby], None] = lambda nearby: None
        self.is_looking = False

    async def look_around(self, show: Callable[[Nearby], None]) -> None:
        self.show, self.is_looking = show, True
        try:
            await asyncio.Event().wait()
        finally:
            self.is_looking = False


def joining(network: Network, name: str = "Anna") -> RacktempoApp:
    openers = replace(openers_to(TableLine(Settings(seed=7), Time())), look_around=network.look_around)
    return RacktempoApp(openers, AtJoin(), name=name, now_ms=Time(), storage=Storage())


@sized
async def test_tables_are_listed_as_they_come_and_go(size: tuple[int, int]) -> None:
    network = Network()
    app = joining(network)
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        network.show(Nearby((found("Boathouse", kind="club"), found("Corner", "192.0.2.21"), found("Old", protocol=9))))
        await pilot.pause()
        check_frozen(app, "join-found")
        network.show(Nearby((found("Corner", "192.0.2.21"),)))
        await pilot.pause()
        assert "Boathouse" not in text_of(app)
        assert "Corner" in text_of(app)


async def test_choosing_a_table_fills_in_its_address_and_asks_for_the_code() -> None:
    network = Network()
    app = joining(network)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        network.show(Nearby((found("Boathouse"), found("Corner", "192.0.2.21"), found("Old", protocol=9))))
        await pilot.press(*["down"] * 5)
        await pilot.press("enter")
        values = app.screen.values  # type: ignore[attr-defined]
        assert values == {"name": "Anna", "address": "192.0.2.21:15214", "code": ""}
        await pilot.press("x", "up", "up", "up", "enter")
        assert "uses version 9 of the protocol" in text_of(app)


async def test_the_table_in_hand_stays_in_hand_while_others_come_and_go() -> None:
    network = Network()
    app = joining(network)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        network.show(Nearby((found("Corner", "192.0.2.21"),)))
        await pilot.press(*["down"] * 4)
        network.show(Nearby((found("Boathouse"), found("Corner", "192.0.2.21"))))
        await pilot.press("enter")
        assert app.screen.values["address"] == "192.0.2.21:15214"  # type: ignore[attr-defined]
        await pilot.press("down", "down", "down")
        assert app.screen.at == 5  # type: ignore[attr-defined]
        form = app.screen
        network.show(Nearby())
        assert form.at < 5  # type: ignore[attr-defined]
        await pilot.press("enter")
        assert form.at < 5  # type: ignore[attr-defined]


async def test_nobody_looks_once_the_form_is_left_and_trouble_is_one_quiet_line() -> None:
    network = Network()
    app = joining(network)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert network.is_looking
        network.show(Nearby(line="The network does not let tables be found: type the address."))
        await pilot.pause()
        assert "type the address" in text_of(app)
        await pilot.press("escape")
        await pilot.pause()
        assert not network.is_looking


async def test_a_host_chooses_which_addresses_are_shown_and_announced() -> None:
    announced: list[tuple[str, ...]] = []
    now_ms = Time()
    line = ClubLine(ClubEvening(tables=1), now_ms, "desk")

    def announce(addresses: object, say: Callable[[str], None]) -> None:
        announced.append(tuple(addresses))  # type: ignore[arg-type]
        say("Nobody hears this table by itself.")

    @asynccontextmanager
    async def opening() -> AsyncIterator[Opened]:
        yield Opened(line, ("192.0.2.20:15214",), ALL, announce)

    app = RacktempoApp(
        openers_to(TableLine(Settings(seed=7), Time())), AtDesk(opening), now_ms=now_ms, storage=Storage()
    )
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.press("a")
        assert isinstance(app.screen, AddressesScreen)
        check_frozen(app, "addresses")
        await pilot.press("down", "space", "up", "space", "q")
        await pilot.pause()
        assert announced == [
            ("192.0.2.20:15214",),
            ("192.0.2.20:15214", "198.51.100.7:15214"),
            ("198.51.100.7:15214",),
        ]
        shown = text_of(app)
        assert "at 198.51.100.7:15214" in shown
        assert "192.0.2.20" not in shown
        assert "Nobody hears this table by itself." in shown
