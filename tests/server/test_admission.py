"""Who may come in, what the others are told, and who keeps a seat."""

import asyncio

import pytest

from server.admission import Admission
from server.clock import now_ms
from server.net.listener import open_listener
from server.store import Store
from server.table.keeper import BESIDE_AT_ONCE, BESIDE_SHARE, Keeper
from server.table.output import Output
from server.table.table import Table
from shared.rules.intents import FreeChair, Leave, LetSee, Lift, Pause, Ready, Resume, ShowRack
from shared.rules.settings import Settings
from shared.wire.club_views import ClubView
from shared.wire.messages import (
    NO_CHAIR,
    PROTOCOL,
    TO_CLIENT,
    TO_SERVER,
    TRY_AGAIN,
    Close,
    Command,
    Hello,
    Refused,
    Welcome,
)
from shared.wire.views import View
from tests.server.players import CODE, Player, four_players, make_table, open_house
from tests.server.wires import MemoryWire


async def test_a_fifth_person_has_no_chair_and_waits_beside_the_full_table() -> None:
    async with open_house() as house, four_players(house.listener.port) as players:
        fifth = Player(house.listener.port, "Eve")
        await fifth.say_hello()
        shown = await fifth.see(lambda shown: True)
        welcome = next(message for message in fifth.heard if isinstance(message, Welcome))
        assert (welcome.chair, welcome.table, shown.role) == (NO_CHAIR, house.table.record.id, "waiting")
        assert not any(chair.rack or chair.person for chair in shown.tables[0].chairs)
        assert isinstance(await fifth.ask(Ready()), Refused)
        await players[2].ask(Leave())
        view = await fifth.until(lambda view: view.you == 2)
        assert view.chairs[2].name == "Eve"
        assert (await fifth.ask(Ready())).kind == "done"


async def test_a_watcher_takes_no_chair_and_desk_and_teacher_are_for_evenings() -> None:
    async with open_house() as house:
        watcher = Player(house.listener.port, "Wren", role="watcher")
        await watcher.say_hello()
        shown = await watcher.see(lambda shown: True)
        assert [chair.sitter for chair in shown.tables[0].chairs] == ["nobody"] * 4
        for role in ("desk", "teacher"):
            nobody = Player(house.listener.port, "Eve", role=role)  # type: ignore[arg-type]
            await nobody.say_hello()
            assert (await nobody.end())[0] == Close.NO_CLUB


async def test_who_has_a_chair_comes_back_to_it_even_if_they_only_ask_to_watch() -> None:
    async with open_house() as house:
        ann = Player(house.listener.port)
        await ann.come()
        await ann.cut()
        ann.role = "watcher"
        assert (await ann.come()).chair == 0


async def test_one_address_gets_its_share_of_the_places_beside_a_table_and_comes_no_faster_than_is_allowed() -> None:
    async with open_house() as house:
        people = [Player(house.listener.port, f"Eve {number}", role="watcher") for number in range(BESIDE_SHARE + 1)]
        for person in people[:-1]:
            await person.say_hello()
            await person.see(lambda shown: True)
        await people[-1].say_hello()
        code, text = await people[-1].end()
        assert code == Close.TABLE_FULL
        assert "your address" in text
        ends = []
        for number in range(BESIDE_AT_ONCE):
            await people[0].go()
            people[0] = Player(house.listener.port, f"Eve {number}", role="watcher")
            await people[0].say_hello()
            async with people[0]._news:
                await people[0]._news.wait_for(lambda: people[0].closed or people[0].shown)
            ends.append(people[0].closed and people[0].closed[0])
            if ends[-1]:
                break
        assert ends[-1] == Close.TABLE_FULL, "who comes and goes is slowed down"
        assert len(house.table.record.beside) <= BESIDE_SHARE + BESIDE_AT_ONCE


async def test_eight_from_anywhere_come_beside_a_table_at_once_and_one_a_second_after_that() -> None:
    async with open_house() as house:
        people = [Player(house.listener.port, f"Eve {number}", role="watcher") for number in range(12)]
        ends = []
        for number, person in enumerate(people):
            person.host = f"127.0.1.{number + 1}"
            if number == 10:
                await people[0].go()
                await people[1].go()
                await asyncio.sleep(1.1)
            await person.say_hello()
            async with person._news:
                await person._news.wait_for(lambda at=person: at.closed or at.shown)
            ends.append(person.closed and person.closed[0])
        assert ends == [None] * 8 + [Close.TABLE_FULL] * 2 + [None, Close.TABLE_FULL]


async def test_a_consent_that_is_withdrawn_is_gone_from_a_picture_that_still_waits_for_a_watcher() -> None:
    async with open_house(Settings(seed=7, level_ms=100_000)) as house, four_players(house.listener.port) as players:
        watcher = Player(house.listener.port, "Wren", role="watcher")
        await watcher.say_hello()
        shown = await watcher.see(lambda shown: True)
        await players[0].ask(LetSee(place=4, on=True))
        for player in players:
            await player.ask(Ready())
        await players[1].until(lambda view: view.heat is not None)
        await players[1].ask(ShowRack(on=True))
        shown = await watcher.see(lambda shown: bool(shown.tables[0].chairs[1].rack))
        assert [bool(chair.rack) for chair in shown.tables[0].chairs] == [False, True, False, False]
        line = house.admission.keepers[0].lines[4]
        line._wake.clear()
        waiting, line.show = line.show, lambda view: setattr(line, "_view", view)  # type: ignore[method-assign]
        await players[0].ask(Pause())
        await players[0].ask(Resume())
        assert line._view is not None
        before = TO_CLIENT.unpack(line._view)
        assert isinstance(before, ClubView)
        assert before.tables[0].chairs[1].rack
        await players[1].ask(ShowRack(on=False))
        after = TO_CLIENT.unpack(line._view)
        assert isinstance(after, ClubView)
        assert not any(chair.rack for chair in after.tables[0].chairs)
        line.show = waiting  # type: ignore[method-assign]


@pytest.mark.parametrize("code", [c for c in Close if c not in (Close.TOO_SLOW, Close.TOO_MANY, Close.ASKED_HOST)])
def test_a_client_never_blindly_retries_after_a_refusal(code: Close) -> None:
    assert code not in TRY_AGAIN


async def test_a_seat_is_not_taken_up_again_faster_than_is_allowed_and_never_lost_by_it() -> None:
    async with open_house() as house:
        ann = Player(house.listener.port)
        await ann.come()
        ends = []
        for _ in range(40):
            await ann.cut()
            await ann.say_hello()
            async with ann._news:
                await ann._news.wait_for(lambda: ann.closed or ann.view)
            ends.append(ann.closed and ann.closed[0])
        assert ends == [None] * 32 + [Close.TOO_MANY] * 8
        await asyncio.sleep(1)
        assert (await ann.come()).chair == 0


async def test_the_newest_connection_plays_the_seat() -> None:
    async with open_house() as house:
        old = Player(house.listener.port)
        await old.come()
        new = Player(house.listener.port)
        new.token = old.token
        welcome = await new.come()
        code, _ = await old.end()
        assert code == Close.SEAT_TAKEN_OVER
        assert welcome.chair == 0
        assert (await new.until(lambda view: True)).chairs[0].connected
        assert (await new.ask(Ready())).kind == "done"


class LingeringWire(MemoryWire):
    """A wire that takes a second to close, and can be read until then."""

    async def hang_up(self, code: int, text: str) -> None:
        await asyncio.sleep(1)
        await super().hang_up(code, text)


async def test_what_the_older_connection_still_sends_is_not_heard() -> None:
    async with Admission.open(Store.open(None)) as admission:
        table = make_table()
        admission.add(table)
        old, new = LingeringWire(), MemoryWire()
        serving = [asyncio.create_task(admission.serve(old))]
        old.say(TO_SERVER.pack(Hello(protocol=PROTOCOL, name="Ann", code=CODE)))
        await asyncio.sleep(0.1)
        welcome = TO_CLIENT.unpack(old.written[0])
        assert isinstance(welcome, Welcome)
        serving.append(asyncio.create_task(admission.serve(new)))
        new.say(TO_SERVER.pack(Hello(protocol=PROTOCOL, name="Ann", code=CODE, token=welcome.token)))
        await asyncio.sleep(0.1)
        old.say(TO_SERVER.pack(Command(id=1, heat=0, intent=Ready())))
        await asyncio.sleep(0.1)
        assert table.record.phase == "seating"
        new.say(TO_SERVER.pack(Command(id=1, heat=0, intent=Ready())))
        await asyncio.sleep(0.1)
        assert table.record.phase == "heat"
        new.drop()
        await asyncio.gather(*serving)


async def test_someone_sent_away_is_told_and_the_old_token_opens_nothing() -> None:
    async with open_house() as house, four_players(house.listener.port) as players:
        ann, bo = players[0], players[1]
        assert (await ann.ask(FreeChair(chair=1))).kind == "done"
        assert (await bo.end())[0] == Close.SENT_AWAY
        view = await ann.until(lambda view: view.chairs[1].sitter == "nobody")
        assert not view.chairs[1].connected
        bo.code = "another-code-00"
        await bo.say_hello()
        assert (await bo.end())[0] == Close.WRONG_CODE


async def test_whoever_leaves_is_let_go() -> None:
    async with open_house() as house:
        ann = Player(house.listener.port)
        await ann.come()
        await ann.send(Leave())
        assert (await ann.end())[0] == Close.TABLE_CLOSED


async def test_only_the_host_can_send_people_away() -> None:
    async with open_house() as house, four_players(house.listener.port) as players:
        answer = await players[2].ask(FreeChair(chair=0))
        assert answer.kind == "refused"
        assert answer.code == "host only"


async def test_a_command_sent_again_counts_once_also_after_a_new_connection() -> None:
    async with open_house() as house:
        ann = Player(house.listener.port)
        await ann.come()
        assert (await ann.ask(Ready(), number=5)).kind == "done"
        heat = (await ann.until(lambda view: view.phase == "heat")).heat_number
        assert (await ann.ask(Ready(), number=5)).kind == "done"
        await ann.cut()
        assert (await ann.come()).last_id == 5
        assert (await ann.ask(Ready(), number=5)).kind == "done"
        assert house.table.record.number == heat == 1


async def test_two_tables_are_told_apart_by_their_codes() -> None:
    async with Admission.open(Store.open(None)) as admission, open_listener(admission, "127.0.0.1", 0) as listener:
        admission.add(make_table(code="maple-otter-lemon-07", name="Left"))
        admission.add(make_table(code="bronze-piano-atlas-11", name="Right"))
        left, right = Player(listener.port), Player(listener.port, code="Bronze Piano Atlas 11")
        left.table, right.table = "t maple-otter-lemon-07", "t bronze-piano-atlas-11"
        await left.come()
        await right.come()
        assert left.view
        assert right.view
        assert (left.view.table, right.view.table) == ("Left", "Right")
        await left.ask(Ready())
        assert (await left.until(lambda view: view.phase == "heat")).heat
        assert right.view.phase == "seating"


async def test_an_error_in_one_table_ends_neither_it_nor_its_neighbour(caplog: pytest.LogCaptureFixture) -> None:
    async with Admission.open(Store.open(None)) as admission, open_listener(admission, "127.0.0.1", 0) as listener:
        broken, sound = make_table(kind=BrokenTable), make_table(code="bronze-piano-atlas-11")
        admission.add(broken)
        admission.add(sound)
        ann, bo = Player(listener.port), Player(listener.port, code="bronze-piano-atlas-11")
        ann.table, bo.table = broken.record.id, sound.record.id
        for player in (ann, bo):
            await player.come()
            await player.ask(Ready())
            await player.until(lambda view: view.heat is not None)
        assert ann.view
        assert ann.view.heat
        tile = ann.view.heat.rack[0]
        await ann.send(Lift(step="first right", tiles=(tile,)))
        assert await ann.end() == (1011, "Internal error; nothing was changed.")
        await ann.come()
        assert ann.view.heat
        assert ann.view.heat.lifted == ()
        assert (await bo.ask(Lift(step="first right", tiles=()))).kind == "done"
        line = BrokenTable.command.__code__.co_firstlineno + 3
        assert f"ZeroDivisionError at {__name__}, BrokenTable.command, line {line}" in caplog.text
        assert f"'{tile}'" not in caplog.text


class BrokenTable(Table):
    """A table that meets an error whenever somebody lifts a tile, after it has changed something."""

    def command(self, chair: int, command: Command, now_ms: int) -> Output:
        output = super().command(chair, command, now_ms)
        if isinstance(command.intent, Lift):
            raise ZeroDivisionError(f"a tile: {command.intent.tiles}")
        return output


async def test_a_name_full_of_escapes_and_markup_stays_plain_text() -> None:
    async with open_house() as house:
        ann = Player(house.listener.port, "\x1b]0;x\x07[bold]A\u202en\x00n\n" * 4)
        await ann.come()
        view: View | None = ann.view
        assert view
        assert view.chairs[0].name == "]0;x[bold]Ann ]0"


async def test_who_says_nothing_is_told_so_after_five_seconds() -> None:
    async with Admission.open(Store.open(None)) as admission:
        wire, began_ms = MemoryWire(), now_ms()
        await admission.serve(wire)
        assert wire.ended == (Close.BAD_FRAME, "No hello came within 5 seconds.")
        assert now_ms() - began_ms == 5_000


@pytest.mark.parametrize(("tables", "every_ms"), [(3, 1_000), (60, 1_200)])
async def test_tables_deal_with_a_stall_one_after_the_other(
    monkeypatch: pytest.MonkeyPatch, tables: int, every_ms: int
) -> None:
    told: list[tuple[int, ...]] = []
    monkeypatch.setattr(Keeper, "stalled", lambda keeper, *numbers: told.append(numbers))
    async with Admission.open(Store.open(None)) as admission:
        for number in range(tables):
            admission.add(make_table(code=f"maple-otter-lemon-{number:02}"))
        admission.stalled(700)
    assert told == [(700, number * 20, every_ms) for number in range(tables)]
