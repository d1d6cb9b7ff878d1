"""Four people with a machine each at a real table: real sockets, exact times, and everybody's own history."""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path

from client.connection.address import Address
from client.connection.link import Connected, Heard, Link, Lost
from client.models.shared_clock import SharedClockModel
from client.storage.journal import disk_journal
from server.shared_clock import SharedClockTable
from shared.rules.seat_heat import SeatHeat
from shared.wire.group_views import GroupView
from shared.wire.messages import Done, OwnTimes, Refused
from tests.client.relay import Relay, in_virtual_time, relay
from tests.groups import NAMES, open_clock
from tests.server.players import CODE


def now_ms() -> int:
    return int(asyncio.get_running_loop().time() * 1_000 + 0.001)


class Person:
    """Somebody with a machine: link, model and history as the app has them."""

    def __init__(self, port: int, name: str, folder: Path) -> None:
        self.port, self.name = port, name
        self.journal = disk_journal(folder / name / "history.sqlite3")
        self.token = name.encode().ljust(16, b"-")
        self.told: list[SeatHeat] = []
        self.lost = 0
        self._news = asyncio.Event()
        self.launch()

    def launch(self) -> None:
        """Start the client, for the first time or again."""
        self.model = SharedClockModel()
        self.link = Link(Address("127.0.0.1", self.port), self.name, CODE, self.token)
        self._running = asyncio.create_task(self.link.run(self.hear))

    async def kill(self) -> None:
        """End the client's process without a word to anybody."""
        self._running.cancel()
        await asyncio.gather(self._running, return_exceptions=True)

    def hear(self, heard: Heard) -> None:
        match heard:
            case GroupView():
                self.model.hear(heard, now_ms(), self.link.rtt_ms)
            case Done(id=number):
                self.model.done(number)
            case Refused():
                self.model.refused(heard)
            case OwnTimes(heat=heat):
                self.told.append(heat)
                assert self.journal.add(heat, "real tiles", "", 1).trouble == ""
            case Lost(text=text):
                self.lost += 1
                self.model.lost(text, 0)
            case Connected():
                self.model.connected()
        self._news.set()

    async def until(self, holds: Callable[[GroupView], bool]) -> GroupView:
        while not (self.model.view and holds(self.model.view)):
            self._news.clear()
            await self._news.wait()
        return self.model.view

    async def press(self, key: str) -> None:
        """Press a key and wait until the table's answer can be seen."""
        await self.until(lambda view: not self.model.is_sending)
        assert self.model.view
        asked = self.model.press(key)
        assert asked, f"{key} asks nothing of the table now"
        for intent in asked:
            self.model.sent(self.link.ask(intent, self.model.heat_number), intent)
        await self.until(lambda view: not self.model.is_sending)
        assert self.model.note == ""

    async def press_after(self, seconds: float, *keys: str) -> None:
        await asyncio.sleep(seconds)
        for key in keys:
            await self.press(key)

    def kept(self) -> list[tuple[int, int, list[float]]]:
        """What the history holds: each heat's number, seat and seconds by step."""
        read = self.journal.read()
        assert read.faults == ()
        assert all(entry.source == "real tiles" for entry in read.entries)
        heats = [entry.heat for entry in read.entries]
        return [(heat.number, heat.seat, [step.spent_ms / 1_000 for step in heat.steps]) for heat in heats]


@asynccontextmanager
async def four_people(
    folder: Path, delay_s: float = 0.0
) -> AsyncIterator[tuple[list[Person], Relay, SharedClockTable]]:
    """Four people at a clock that is kept on disk; the second one's line goes through a relay."""
    async with open_clock(folder / "clocks.sqlite3") as (listener, table), relay(listener.port, delay_s) as stretch:
        people = []
        for number, name in enumerate(NAMES):
            people.append(Person(stretch.port if number == 1 else listener.port, name, folder))
            await people[-1].until(lambda view: True)
        yield people, stretch, table
        for person in people:
            await person.kill()


async def step(people: list[Person], seconds: float, key: str = "space") -> None:
    """All are done at once, so many seconds from now."""
    await asyncio.gather(*(person.press_after(seconds, key) for person in people))


def test_a_set_of_two_heats_with_everything_that_happens_at_a_table(tmp_path: Path) -> None:
    async def scene() -> list[Person]:
        async with four_people(tmp_path) as (people, stretch, table):
            anna, bo, cy, di = people
            await step(people, 1, "enter")

            # First right, 28.8 s: Cy is done at 12, takes it back at 13 and is done at 20; Di is late, at 31.
            await asyncio.gather(
                anna.press_after(5, "space"),
                bo.press_after(10, "space"),
                cy.press_after(12, "space"),
                cy.press_after(13, "u"),
                cy.press_after(20, "space"),
                di.press_after(31, "space"),
            )
            view = await anna.until(lambda view: view.step == "first across")
            assert [place.budget_ms for place in view.places] == [40_600, 35_600, 25_600, 16_800]

            # First across: the host pauses after two seconds for a minute.
            await anna.press_after(2, "p")
            await di.until(lambda view: view.paused)
            assert di.model.left_ms(4, now_ms() + 30_000) == 14_800
            await anna.press_after(60, "p")
            await step(people, 2)

            # First left: Bo's program ends after a second and is started again four seconds later.
            await asyncio.sleep(1)
            await bo.kill()
            await anna.until(lambda view: not view.places[1].connected)
            await step([anna, cy, di], 2)
            assert anna.model.away() == ("Bo",)
            assert anna.model.view
            assert anna.model.view.step == "first left"
            await asyncio.sleep(2)
            bo.launch()
            await bo.until(lambda view: view.step == "first left")
            await step([bo], 3)
            for _ in range(6):
                await step(people, 2)
            await anna.until(lambda view: view.phase == "set-up")

            # Heat 2, ready after half a minute: Cy stops; Bo's line breaks just before the heat ends.
            await step(people, 30, "enter")
            for seconds in (6, 5, 4):
                await step(people, seconds)
            await asyncio.gather(step([anna, bo, di], 1), cy.press_after(2, "0"))
            await step(people, 1)
            await anna.until(lambda view: view.step == "courtesy give")
            await step([bo, cy, di], 1)
            stretch.cut()
            await anna.press("space")
            await bo.until(lambda view: view.phase == "over" and bo.model.line == "")
            await asyncio.sleep(1)
            assert bo.lost >= 1
            # Every return is told all again, and nothing is kept twice.
            stretch.cut()
            await asyncio.sleep(1)
            assert table.record.phase == "over"
            return people

    anna, bo, cy, di = in_virtual_time(scene())
    after = [2.0] * 6
    second = {"all": [6.0, 5.0, 4.0], "end": [1.0, 1.0]}
    assert anna.kept() == [
        (1, 0, [5.0, 4.0, 3.0, *after]),
        (2, 3, [*second["all"], 1.0, *second["end"]]),
    ]
    assert bo.kept() == [
        (1, 1, [10.0, 4.0, 8.0, *after]),
        (2, 0, [*second["all"], 1.0, *second["end"]]),
    ]
    assert cy.kept() == [
        (1, 2, [20.0, 4.0, 3.0, *after]),
        (2, 1, [*second["all"], 2.0, *second["end"]]),
    ]
    assert di.kept() == [
        (1, 3, [31.0, 4.0, 3.0, *after]),
        (2, 2, [*second["all"], 1.0, *second["end"]]),
    ]
    # Bo came back and said which heats he holds: no heat is told twice.
    assert [len(person.told) for person in (anna, bo, cy, di)] == [2, 2, 2, 2]


def test_the_others_go_on_without_somebody_and_their_heat_is_kept(tmp_path: Path) -> None:
    async def scene() -> list[Person]:
        async with four_people(tmp_path) as (people, _, _):
            anna, bo, cy, di = people
            await step(people, 0, "enter")
            await di.kill()
            await step([anna, bo, cy], 3)
            await anna.press_after(2, "w")
            for _ in range(8):
                await step([anna, bo, cy], 1)
            view = await anna.until(lambda view: view.phase == "set-up")
            assert view.results[0].places_ms == (11_000, 11_000, 11_000, None)
            assert view.results[0].table_ms == 13_000
            di.launch()
            await di.until(lambda view: view.phase == "set-up")
            return people

    people = in_virtual_time(scene())
    assert [len(person.kept()) for person in people] == [1, 1, 1, 0]


def test_the_number_on_a_slow_line_is_the_tables_and_a_press_in_time_stays_in_time(tmp_path: Path) -> None:
    async def scene() -> None:
        async with four_people(tmp_path, delay_s=0.02) as (people, _, table):
            bo = people[1]
            await asyncio.gather(*(person.press("enter") for person in people))
            await bo.until(lambda view: view.step == "first right")
            await asyncio.sleep(10)
            truth = table.view(1, now_ms())
            assert abs(bo.model.left_ms(2, now_ms()) - truth.places[1].left_ms) <= 150
            # Pressed when a hundredth is left, and read when it is over, but within the grace.
            await asyncio.sleep((truth.places[1].left_ms - 10) / 1_000)
            assert not bo.model.is_late(2, now_ms())
            await bo.press("space")
            assert (bo.model.own.stand, bo.model.own.left_ms) == ("done", 0)

    in_virtual_time(scene())
