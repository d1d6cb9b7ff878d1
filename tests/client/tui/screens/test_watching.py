"""Beside a table on the full screen: what a watcher sees, what players are told, and what the host's keys do."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, replace

import pytest

from client.connection.link import Connected
from client.connection.opened import Opened, Opening
from client.storage.preferences import Storage
from client.tui.app import RacktempoApp
from client.tui.ports import AtDesk, AtJoin
from client.tui.screens.beside import BesideScreen
from client.tui.screens.seats import SeatsScreen
from client.tui.screens.table import TableScreen
from client.tui.screens.watching import WatchScreen
from server.table.output import Rejected
from shared.rules.intents import Intent, Leave, LetIn, LetSee, Offer, Pause, SendOff, ShowRack, Vote
from shared.rules.settings import Settings
from shared.wire.messages import PROTOCOL, Done, Refused, Welcome
from tests.client.frozen import check_frozen, sized, text_of
from tests.client.lines import StraightLine
from tests.client.player import AtScreen, at
from tests.client.tables import TableLine, Time, openers_to
from tests.tables import Evening

CALM = Settings(level_ms=40_000, heats=4, bot_pace="quick")
FIRST = 4


class PlaceLine(StraightLine):
    """A line straight to a chair of a table, or to a place beside it."""

    def __init__(self, evening: Evening, place: int, now_ms: Time) -> None:
        super().__init__()
        self.evening, self.place, self.now_ms = evening, place, now_ms
        self.show()

    def answer(self, intent: Intent, heat: int) -> Done | Refused:
        return self.evening.ask(self.place, intent, heat)

    def show(self) -> None:
        """Show how the table stands now."""
        self.now_ms.ms = self.evening.now_ms
        table, place = self.evening.table, self.place
        seen = table.view(place, self.evening.now_ms) if place < FIRST else table.view_from(place, self.evening.now_ms)
        self.inbox.put_nowait(seen)

    def sits(self, chair: int) -> None:
        """Whoever was beside the table has a chair now."""
        self.place = chair
        self.inbox.put_nowait(Connected(Welcome(protocol=PROTOCOL, token=bytes(16), chair=chair, last_id=0)))
        self.show()


@dataclass
class Somebody(AtScreen):
    line: PlaceLine

    async def show(self) -> None:
        self.line.show()
        await self.settle()


@asynccontextmanager
async def place_at(evening: Evening, place: int, size: tuple[int, int] = (80, 24)) -> AsyncIterator[Somebody]:
    now_ms = Time()
    line = PlaceLine(evening, place, now_ms)

    @asynccontextmanager
    async def opening() -> AsyncIterator[Opened]:
        yield Opened(line)

    app = RacktempoApp(
        openers_to(TableLine(Settings(seed=7), Time())),
        AtDesk(opening, False),
        now_ms=now_ms,
        random_bytes=bytes,
        storage=Storage(),
    )
    async with app.run_test(size=size) as pilot:
        somebody = Somebody(app, pilot, line)
        await somebody.settle()
        yield somebody


def table(settings: Settings = CALM) -> Evening:
    evening = Evening(settings, people=0)
    for name in ("Anna", "Boris", "Chiara", "Deniz"):
        evening.join(name)
    return evening


def begun() -> Evening:
    evening = table()
    evening.ready()
    evening.wait(3_000)
    return evening


@sized
async def test_what_a_watcher_sees_before_and_in_a_heat_without_and_with_racks(size: tuple[int, int]) -> None:
    evening = table()
    place = evening.join("Kim")
    async with place_at(evening, place, size) as kim:
        assert isinstance(kim.app.screen, WatchScreen)
        check_frozen(kim.app, "beside-seating")
        evening.ready()
        evening.wait(12_000)
        evening.answer(2)
        await kim.show()
        check_frozen(kim.app, "beside-heat")
        evening.do(0, LetSee(place=place, on=True))
        evening.do(1, ShowRack(on=True))
        evening.do(3, ShowRack(on=True))
        evening.join("Lea")
        await kim.show()
        check_frozen(kim.app, "beside-racks")
        evening.do(0, Pause())
        await kim.show()
        assert "covered while the table is paused" in text_of(kim.app)


@sized
async def test_a_watcher_sees_votes_and_offers_once_the_table_tells_them(size: tuple[int, int]) -> None:
    evening = table(CALM.model_copy(update={"side_courtesy": True}))
    evening.do(0, LetSee(place=(place := evening.join("Kim")), on=True))
    evening.do(1, ShowRack(on=True))
    evening.ready()
    evening.go_to("go on")
    async with place_at(evening, place, size) as kim:
        evening.do(1, Vote(go_on=False))
        await kim.show()
        assert "stopped" not in text_of(kim.app), "the others have yet to vote"
        for chair in (0, 2, 3):
            evening.do(chair, Vote(go_on=True))
        await kim.show()
        check_frozen(kim.app, "beside-votes")
        for chair, count in enumerate((2, 0, 1, 3)):
            evening.do(chair, Offer(count=count))
        await kim.show()
        assert [text_of(kim.app).count(f"offered {count} across") for count in range(4)] == [1, 1, 1, 1]
        for chair in (0, 2):
            evening.answer(chair)
        for chair, (count, to) in enumerate(((1, "right"), (2, "left"), (0, "left"), (3, "right"))):
            evening.do(chair, Offer(count=count, to=to))  # type: ignore[arg-type]
        await kim.show()
        check_frozen(kim.app, "beside-offers")


@sized
async def test_a_watcher_sees_what_the_heats_took(size: tuple[int, int]) -> None:
    evening = table()
    evening.play_heat()
    evening.play_heat()
    place = evening.table.watch("Wren", None).chair  # type: ignore[union-attr]
    async with place_at(evening, place, size) as wren:
        check_frozen(wren.app, "beside-results")
        assert "you watch" in text_of(wren.app)
        assert "heat 2" in text_of(wren.app)


async def test_a_watcher_can_only_leave() -> None:
    evening = begun()
    async with place_at(evening, evening.join("Kim")) as kim:
        await kim.press("v", "s", "enter", "a", "l", "f", "t", "w", "m", "1", "f6", "f8")
        assert kim.line.asked == []
        await kim.press("q")
        assert kim.line.asked == [Leave()]


async def test_who_gets_a_chair_is_told_and_sees_their_own_table() -> None:
    evening = table()
    place = evening.join("Kim")
    async with place_at(evening, place) as kim:
        evening.do(2, Leave())
        evening.wait(1)
        kim.line.sits(2)
        await kim.settle()
        assert isinstance(kim.app.screen, SeatsScreen)
        assert "Chair 3 is yours now." in text_of(kim.app)
        assert "Kim (you)" in text_of(kim.app)


async def test_everybody_at_the_table_is_told_who_came_and_can_hide_or_show_their_rack() -> None:
    evening = table()
    async with place_at(evening, 1) as boris:
        place = evening.join("Kim")
        await boris.show()
        assert "Kim waits for a chair." in text_of(boris.app)
        assert "beside the table (F6): Kim waits" in text_of(boris.app)
        await boris.press("v")
        assert boris.line.asked == [], "nobody may see racks"
        evening.do(0, LetSee(place=place, on=True))
        await boris.show()
        assert "Kim may watch: v lets them see your rack." in text_of(boris.app)
        await boris.press("v")
        assert boris.line.asked == [ShowRack(on=True)]
        assert "Your rack is seen while you play, by Kim: press v to hide it." in text_of(boris.app)
        evening.ready()
        evening.wait(2_000)
        await boris.show()
        assert isinstance(boris.app.screen, TableScreen)
        assert "rack seen by Kim (F9)" in text_of(boris.app)
        await boris.press("f9")
        assert boris.line.asked[-1] == ShowRack(on=False)
        assert "seen by" not in text_of(boris.app)


async def test_in_a_heat_the_host_reads_who_came_and_lets_them_see_or_sends_them_away() -> None:
    evening = begun()
    async with place_at(evening, 0) as anna:
        place = evening.join("Kim")
        await anna.show()
        assert "Kim waits for a chair. F6: let them see racks, or send them away." in text_of(anna.app)
        await anna.press("f6")
        assert isinstance(anna.app.screen, BesideScreen)
        await anna.press("l")
        assert anna.line.asked[-1] == LetSee(place=place, on=True)
        assert "may see the racks of those who agree" in text_of(anna.app)
        await anna.press("l")
        assert anna.line.asked[-1] == LetSee(place=place, on=False)
        await anna.press("f")
        assert anna.line.asked[-1] == SendOff(place=place)
        assert "Nobody is beside the table." in text_of(anna.app)
        await anna.press("f6")
        assert isinstance(anna.app.screen, TableScreen)


async def test_in_a_heat_and_after_it_the_host_lets_in_another_machine_with_one_key() -> None:
    evening = begun()
    async with place_at(evening, 0) as anna:
        for key, shown in (("f5", "F5"), ("l", "l")):
            evening.take(evening.table.disconnected(1, evening.now_ms))
            token = key.encode().ljust(16)
            assert isinstance(evening.knock("Boris", token), Rejected)
            await anna.show()
            assert f"Another machine asks for Boris's seat. {shown} lets it in." in text_of(anna.app)
            await anna.press(key)
            assert anna.line.asked[-1] == LetIn(chair=1)
            assert evening.join("Boris", token) == 1
            await anna.show()
            assert "Another machine" not in text_of(anna.app)
            if key == "f5":
                evening.play_heat()
                await anna.show()


@sized
async def test_who_is_beside_the_table_is_listed_for_the_host(size: tuple[int, int]) -> None:
    evening = table()
    evening.join("Kim")
    evening.table.watch("Wren", None)
    evening.do(0, LetSee(place=FIRST, on=True))
    evening.do(2, ShowRack(on=True))
    async with place_at(evening, 0, size) as anna:
        check_frozen(anna.app, "seats-watched")
        await anna.press("f6")
        check_frozen(anna.app, "beside")


async def test_a_guest_sees_who_is_there_and_has_no_keys_for_them() -> None:
    evening = table()
    evening.join("Kim")
    async with place_at(evening, 2) as chiara:
        await chiara.press("f6", "l", "f")
        assert isinstance(chiara.app.screen, BesideScreen)
        assert chiara.line.asked == []
        assert "Kim" in text_of(chiara.app)


@pytest.mark.parametrize("watches", [False, True])
async def test_the_form_leads_to_a_chair_or_only_to_watch(watches: bool) -> None:
    went: list[bool] = []
    async with at((80, 24), AtJoin("192.0.2.20")) as player:
        through = player.app.openers.join

        def join(address: str, name: str, code: str, card: str, watches: bool) -> Opening:
            went.append(watches)
            return through(address, name, code, card, watches)

        player.app.openers = replace(player.app.openers, join=join)
        await player.press(*"otter", "enter", *(["right"] if watches else []), "enter")
        assert went == [watches]
