"""A network full of lies: what strangers announce stays a short list of plain text, and asking about it is bounded."""

import asyncio
from types import SimpleNamespace
from typing import Any

import pytest
from zeroconf import BadTypeInNameException

from client.connection import discovery
from client.connection.discovery import Nearby, _Heard
from shared.names import cell_width
from shared.wire.announce import SERVICE

EVIL = ("\x1b]0;acted\x07", "[bold red]x[/]", "\u202eelbat", "<script>", "a" * 300, "", "\x00", "\ud800")
TXT = {b"protocol": b"1", b"kind": b"table"}


class Answers:
    """In the library's place: every instance answers at once with an address, or never."""

    waiting = 0
    asked = 0

    def __init__(self, service: str, name: str) -> None:
        if name.startswith("\x07"):
            raise BadTypeInNameException
        self.name, self.port, self.properties = name, 15214, TXT

    def load_from_cache(self, zeroconf: object) -> bool:
        return "complete" in self.name

    async def async_request(self, line: object, timeout_ms: int) -> bool:
        Answers.asked += 1
        Answers.waiting += 1
        try:
            if "silent" in self.name:
                await asyncio.sleep(timeout_ms / 1_000)
                return False
        finally:
            Answers.waiting -= 1
        return True

    def parsed_scoped_addresses(self) -> list[str]:
        number = self.name.split(".")[0].rpartition(" ")[2]
        at = f"10.0.{int(number) // 256 % 256}.{int(number) % 256}" if "table" in self.name else "192.0.2.7"
        return [at, "nonsense", "224.0.0.1", "\x1b[2J"]


@pytest.fixture
def network(monkeypatch: pytest.MonkeyPatch) -> None:
    Answers.waiting = Answers.asked = 0
    monkeypatch.setattr("zeroconf.asyncio.AsyncServiceInfo", Answers)


def heard_of(shown: list[Nearby]) -> _Heard:
    line: Any = SimpleNamespace(zeroconf=None)
    return _Heard(line, shown.append)


def came(heard: _Heard, name: str, state: str = "Added") -> None:
    change: Any = SimpleNamespace(name=state)
    heard.changed(None, SERVICE, f"{name}.{SERVICE}", change)  # type: ignore[arg-type]


@pytest.mark.usefixtures("network")
async def test_ten_thousand_announcements_are_a_list_of_forty() -> None:
    shown: list[Nearby] = []
    heard = heard_of(shown)
    for number in range(10_000):
        came(heard, f"table {number}")
        if number % 100 == 0:
            await asyncio.sleep(0)
    await asyncio.sleep(2 * discovery._TELL_S)
    assert len(shown[-1].tables) == discovery._MOST
    assert max(len(now.tables) for now in shown) == discovery._MOST
    assert Answers.asked == discovery._MOST
    heard.stop()


@pytest.mark.usefixtures("network")
async def test_forty_are_asked_at_a_time_and_a_real_one_is_found_when_the_silent_are_gone() -> None:
    shown: list[Nearby] = []
    heard = heard_of(shown)
    for number in range(1_000):
        came(heard, f"silent {number}")
    await asyncio.sleep(0)
    assert Answers.waiting == discovery._MOST
    for number in range(1_000):
        came(heard, f"silent {number}", "Removed")
    came(heard, "Boathouse")
    await asyncio.sleep(2 * discovery._TELL_S)
    assert Answers.waiting == 0
    assert [found.name for found in shown[-1].tables] == ["Boathouse"]
    heard.stop()


@pytest.mark.usefixtures("network")
async def test_a_machine_that_announces_forty_tables_leaves_room_for_those_of_others() -> None:
    shown: list[Nearby] = []
    heard = heard_of(shown)
    for number in range(100):
        came(heard, f"Mallory {number}")
    came(heard, "table 1")
    await asyncio.sleep(2 * discovery._TELL_S)
    assert [found.address for found in shown[-1].tables].count("192.0.2.7:15214") == discovery._MOST_EACH
    assert "table 1" in [found.name for found in shown[-1].tables]
    came(heard, shown[-1].tables[0].name, "Removed")
    came(heard, "Mallory anew")
    await asyncio.sleep(2 * discovery._TELL_S)
    assert "Mallory anew" in [found.name for found in shown[-1].tables]
    heard.stop()


@pytest.mark.usefixtures("network")
async def test_who_is_announced_while_forty_are_asked_that_never_answer_is_found_all_the_same() -> None:
    shown: list[Nearby] = []
    heard = heard_of(shown)
    for number in range(discovery._MOST + 10):
        came(heard, f"silent {number}")
    came(heard, "Boathouse")
    await asyncio.sleep(2 * discovery._ANSWER_MS / 1_000 + 0.1)
    assert [found.name for found in shown[-1].tables] == ["Boathouse"]
    for number in range(10_000):
        came(heard, f"silent {number}")
    assert len(heard._waiting) == discovery._MOST_WAITING
    heard.stop()


@pytest.mark.usefixtures("network")
async def test_a_table_that_tells_all_is_listed_while_names_are_asked_that_never_answer() -> None:
    shown: list[Nearby] = []
    heard = heard_of(shown)
    for number in range(discovery._MOST + discovery._MOST_WAITING):
        came(heard, f"silent {number}")
    came(heard, "complete Boathouse")
    came(heard, "\x07complete")
    await asyncio.sleep(2 * discovery._TELL_S)
    assert [found.name for found in shown[-1].tables] == ["complete Boathouse"]
    assert Answers.asked == discovery._MOST
    heard.stop()


@pytest.mark.usefixtures("network")
async def test_who_came_last_is_asked_next_and_who_has_waited_longest_is_dropped() -> None:
    heard = heard_of([])
    for number in range(discovery._MOST + discovery._MOST_WAITING + 1):
        came(heard, f"silent {number}")
    assert f"silent {discovery._MOST}.{SERVICE}" not in heard._waiting
    came(heard, "silent 0", "Removed")
    assert list(heard._asking)[-1] == f"silent {discovery._MOST + discovery._MOST_WAITING}.{SERVICE}"
    heard.stop()


@pytest.mark.usefixtures("network")
async def test_one_that_comes_and_goes_ten_thousand_times_leaves_nothing() -> None:
    shown: list[Nearby] = []
    heard = heard_of(shown)
    for number in range(10_000):
        came(heard, "silent", "Removed" if number % 2 else "Updated")
        if number % 100 == 0:
            await asyncio.sleep(0)
    await asyncio.sleep(0)
    assert Answers.waiting == 0
    assert heard._asking == {}
    assert shown == []


@pytest.mark.usefixtures("network")
async def test_a_list_that_changes_all_the_time_is_told_a_few_times_a_second_and_its_end_always() -> None:
    shown: list[Nearby] = []
    heard = heard_of(shown)
    for _ in range(1_000):
        came(heard, "table 1")
        await asyncio.sleep(0)
        came(heard, "table 1", "Removed")
    assert shown == []
    came(heard, "table 2")
    await asyncio.sleep(2 * discovery._TELL_S)
    assert [[found.name for found in now.tables] for now in shown] == [["table 2"]]
    came(heard, "table 2", "Removed")
    heard.tell_now()
    assert shown[1:] == [Nearby()]
    came(heard, "complete table 3")
    heard.stop()
    await asyncio.sleep(2 * discovery._TELL_S)
    assert len(shown) == 2


@pytest.mark.usefixtures("network")
@pytest.mark.parametrize("name", EVIL)
async def test_a_name_that_would_act_is_short_plain_text(name: str) -> None:
    shown: list[Nearby] = []
    heard = heard_of(shown)
    came(heard, name)
    await asyncio.sleep(2 * discovery._TELL_S)
    (found,) = shown[-1].tables
    assert found.name.isprintable()
    assert sum(map(cell_width, found.name)) <= 20
    assert found.address == "192.0.2.7:15214"
    heard.stop()
