"""Disk first, then people: what anybody was told survives a kill at that moment; a full disk changes nothing."""

import asyncio
import sqlite3
from collections.abc import Callable
from contextlib import closing
from itertools import pairwise
from pathlib import Path

import pytest

from server.admission import Admission
from server.clock import now_ms
from server.net.listener import open_listener
from server.store import Appends, Database, Store, StoreFault
from server.table.keeper import NOT_RESTORED
from server.table.output import Output
from server.table.table import Table
from shared.rules.intents import FreeChair, Lift, MoveTo, NotReady, Ready, Resume
from shared.rules.settings import Settings
from shared.wire.messages import TO_CLIENT, Close, Command, Done, Refused, Welcome
from shared.wire.views import View
from tests.server.players import Player, answer_to, counted_bytes, four_players, make_table, open_house, owes, play_heat

SETTINGS = Settings(seed=7, heats=1)
WAITS_MS = (700, 740, 790, 830)


class WatchedStore(Store):
    """A store in memory that, at every write, builds the table anew from what is now on the disk."""

    table: Table
    checked = 0

    async def append(self, appends: Appends) -> None:
        await super().append(appends)
        (stored,) = self.load()
        twin = Table(stored.record, counted_bytes(), lambda: "")
        twin.restore(stored.events, stored.finished, now_ms())
        if stored.record.head and stored.record.host is not None:
            twin.command(stored.record.host, Command(id=2**53, heat=0, intent=Resume()), now_ms())
        for chair in range(4):
            assert timeless(twin.view(chair, now_ms())) == timeless(self.table.view(chair, now_ms()))
        self.checked += 1


def timeless(view: View) -> dict[str, object]:
    """A view without what a restart changes: lines are gone, clocks stood still."""
    plain = view.model_dump(exclude={"revision": True, "chairs": {"__all__": {"connected"}}})
    if plain["heat"]:
        plain["heat"] = {key: value for key, value in plain["heat"].items() if key != "clock"}
    return plain


async def test_a_table_rebuilt_after_every_single_write_is_the_same_table() -> None:
    store = WatchedStore(Database(None), inline=True)
    store.table = make_table(SETTINGS)
    async with Admission.open(store) as admission, open_listener(admission, "127.0.0.1", 0) as listener:
        admission.add(store.table)
        async with four_players(listener.port) as players:
            await asyncio.gather(
                *(
                    play_heat(player, 1, lambda view, wait=wait: wait)
                    for player, wait in zip(players, WAITS_MS, strict=True)
                )
            )
            await players[0].until(lambda view: view.phase == "over")
    assert store.checked >= 36


class SlowStore(Store):
    """A store whose disk takes a second for everything."""

    async def append(self, appends: Appends) -> None:
        await asyncio.sleep(1)
        await super().append(appends)


async def test_nobody_is_told_anything_that_is_not_yet_on_the_disk() -> None:
    store = SlowStore(Database(None), inline=True)
    async with Admission.open(store) as admission, open_listener(admission, "127.0.0.1", 0) as listener:
        admission.add(make_table(SETTINGS))
        ann, bo = Player(listener.port), Player(listener.port, "Bo")
        await asyncio.gather(ann.come(), bo.come())
        await ann.ask(NotReady())
        began_ms = now_ms()
        assert await ann.ask(Ready()) == Done(id=2)
        assert now_ms() - began_ms == 1_000
        await bo.until(lambda view: view.chairs[0].ready)
        assert now_ms() - began_ms == 1_000
        await ann.go()
        await bo.go()


async def test_time_spent_waiting_for_the_disk_is_nobodys() -> None:
    """Four commits that are read at once are charged alike, however long the disk takes over the first."""
    store = SlowStore(Database(None), inline=True)
    async with Admission.open(store) as admission, open_listener(admission, "127.0.0.1", 0) as listener:
        admission.add(make_table(SETTINGS))
        async with four_players(listener.port) as players:
            for player in players:
                await player.send(Ready())
            views = [await player.until(owes) for player in players]
            await asyncio.sleep(5)
            await asyncio.gather(*(player.send(answer_to(view)) for player, view in zip(players, views, strict=True)))
            ends = [
                await player.until(lambda view: view.heat is not None and view.heat.step == "first across")
                for player in players
            ]
    spent = {view.heat.route[0].spent_ms for view in ends if view.heat}
    assert len(spent) == 1


async def test_answers_go_to_who_asked_although_they_change_chairs_before_the_answer_is_on_the_disk() -> None:
    store = SlowStore(Database(None), inline=True)
    async with Admission.open(store) as admission, open_listener(admission, "127.0.0.1", 0) as listener:
        admission.add(make_table(SETTINGS))
        async with four_players(listener.port) as (ann, bo, *_):
            await ann.ask(MoveTo(chair=1))
            busy = await bo.send(NotReady())
            await asyncio.sleep(0.1)
            asked = await ann.send(NotReady(), 70)
            moved = await bo.send(MoveTo(chair=0), 80)
            await ann.until(lambda view: view.you == 1)
            await bo.until(lambda view: view.you == 0)
            await asyncio.sleep(5)
            answers = [[message.id for message in one.heard if isinstance(message, Done)] for one in (ann, bo)]
    assert asked in answers[0]
    assert asked not in answers[1]
    assert answers[1][-2:] == [busy, moved]


@pytest.mark.parametrize("others", [0, 1], ids=["first of its turn", "after another"])
async def test_who_comes_to_a_chair_that_was_freed_a_moment_ago_is_not_closed_in_place_of_who_was_sent_away(
    others: int,
) -> None:
    store = SlowStore(Database(None), inline=True)
    async with Admission.open(store) as admission, open_listener(admission, "127.0.0.1", 0) as listener:
        admission.add(make_table(SETTINGS))
        async with four_players(listener.port) as (ann, bo, *_):
            for _ in range(1 + others):
                await ann.send(NotReady())
                await asyncio.sleep(0.1)
            await ann.send(FreeChair(chair=1))
            await asyncio.sleep(0.1)
            new = Player(listener.port, "Eve")
            await new.come()
            assert (await bo.end())[0] == Close.SENT_AWAY
            await asyncio.sleep(5)
            assert new.closed is None
            assert (await new.until(lambda view: True)).you == 1
            await new.go()


async def test_a_full_disk_refuses_changes_nothing_and_lets_go_on_when_there_is_room(tmp_path: Path) -> None:
    async with open_house(SETTINGS, tmp_path / "tables.sqlite3") as house:
        ann = Player(house.listener.port)
        await ann.come()
        await ann.ask(Ready())
        view = await ann.until(owes)
        assert view.heat
        disk = house.admission._store._database._disk
        pages = disk.execute("PRAGMA page_count").fetchone()[0]
        disk.execute(f"PRAGMA max_page_count = {pages}")
        answer = answer_to(view)
        refusal = None
        for _ in range(400):
            reply = await ann.ask(Lift(step="first right", tiles=()))
            if isinstance(reply, Refused):
                refusal = reply
                break
        assert refusal
        assert refusal.code == "disk"
        number = await ann.send(answer)
        reply = await ann.ask(answer, number)
        assert isinstance(reply, Refused)
        assert reply.code == "disk"
        after = await ann.until(lambda view: True)
        assert after.heat
        assert not after.heat.answered
        assert after.heat.rack == view.heat.rack
        now = house.table.view(0, now_ms())
        assert now.heat
        assert not now.heat.answered, "the table itself goes back, not only what people see"
        disk.execute(f"PRAGMA max_page_count = {pages + 1_000}")
        assert await ann.ask(answer, number) == Done(id=number)
        (stored,) = house.admission._store.load()
        assert [event.kind for event in stored.events].count("passed") >= 1
        await ann.go()


class FailingStore(Store):
    """A store that fails whenever it is told to."""

    fails = False
    tried: Callable[[], object] = staticmethod(lambda: None)

    def mend(self) -> None:
        """Fail no more."""
        self.fails = False

    async def append(self, appends: Appends) -> None:
        self.tried()
        if self.fails:
            raise StoreFault("The disk is full.")
        await super().append(appends)


async def test_a_disk_that_is_full_as_a_clock_runs_out_or_a_table_comes_back_is_tried_once_a_second() -> None:
    store, tried_ms = FailingStore(Database(None), inline=True), list[int]()
    async with Admission.open(store) as admission, open_listener(admission, "127.0.0.1", 0) as listener:
        admission.add(make_table(SETTINGS))
        ann = Player(listener.port)
        await ann.come()
        await ann.ask(Ready())
        view = await ann.until(owes)
        assert view.heat
        store.tried = lambda: (tried_ms.append(now_ms()), len(tried_ms) > 99 and store.mend())
        store.fails = True
        await asyncio.sleep(view.heat.clock.left_ms / 1_000 + 3)
        assert tried_ms[-4:] == [tried_ms[-1] - ago_ms for ago_ms in (3_000, 2_000, 1_000, 0)]
        await ann.cut()
    (stored,) = store.load()
    async with Admission.open(store) as admission:
        tried_ms.clear()
        keeper = admission.add(Table(stored.record, counted_bytes(), lambda: ""), stored)
        await asyncio.sleep(3.5)
        assert not keeper.is_open.is_set()
        assert [at_ms - tried_ms[0] for at_ms in tried_ms] == [0, 1_000, 2_000, 3_000]
        store.fails = False
        await asyncio.sleep(1)
        assert keeper.is_open.is_set()


async def test_clocks_that_run_out_while_the_disk_is_full_answer_as_soon_as_it_is_not() -> None:
    store = FailingStore(Database(None), inline=True)
    async with Admission.open(store) as admission, open_listener(admission, "127.0.0.1", 0) as listener:
        admission.add(make_table(SETTINGS))
        ann, late = Player(listener.port), Player(listener.port, "Late")
        await ann.come()
        await ann.ask(Ready())
        view = await ann.until(owes)
        assert view.heat
        store.fails = True
        await late.say_hello()
        async with late._news:
            await late._news.wait_for(lambda: late.closed)
            assert list(admission.keepers[0].lines) == [0], "nobody has arrived"
        assert (await late.end())[0] == 1011
        await asyncio.sleep(view.heat.clock.left_ms / 1_000 + 10)
        assert ann.view
        assert ann.view.heat
        assert ann.view.heat.step == "first right"
        store.fails = False
        view = await ann.until(lambda view: view.heat is not None and view.heat.step != "first right")
        assert view.heat
        assert view.heat.route[0].by == "timeout"
        assert [seat.answered for seat in view.heat.seats].count(True) <= 3
        await late.come()
        await ann.go()
        await late.go()


async def test_who_changes_chairs_while_the_disk_is_full_stays_and_is_answered_on_the_old_chair() -> None:
    store = FailingStore(Database(None), inline=True)
    async with Admission.open(store) as admission, open_listener(admission, "127.0.0.1", 0) as listener:
        admission.add(make_table(SETTINGS))
        async with four_players(listener.port) as (ann, bo, *_), asyncio.timeout(60):
            await ann.ask(MoveTo(chair=1))
            store.fails = True
            refused = await bo.ask(MoveTo(chair=0))
            assert isinstance(refused, Refused)
            assert refused.code == "disk"
            store.fails = False
            for one, chair in ((ann, 0), (bo, 1)):
                await asyncio.sleep(5)
                assert isinstance(await one.ask(Ready()), Done)
                view = await one.until(lambda view, chair=chair: view.chairs[chair].ready)
                assert (view.you, view.chairs[chair].name) == (chair, one.name)


class ForgetfulBirds(Table):
    """A table whose birds cannot think: every thought is an error."""

    def command(self, *args: object, **kwargs: object) -> Output:
        output = super().command(*args, **kwargs)  # type: ignore[arg-type]
        output.thoughts = [_broken(thought) for thought in output.thoughts]
        return output


def _broken(thought):  # type: ignore[no-untyped-def]
    def run() -> None:
        raise LookupError("a bird forgot 5b")

    return type(thought)(thought.chair, thought.heat, thought.step, run)


async def test_a_bird_that_cannot_think_costs_its_own_time_and_nothing_else(caplog: pytest.LogCaptureFixture) -> None:
    async with Admission.open(Store.open(None)) as admission, open_listener(admission, "127.0.0.1", 0) as listener:
        admission.add(make_table(SETTINGS, kind=ForgetfulBirds))
        ann = Player(listener.port)
        await ann.come()
        await ann.ask(Ready())
        view = await ann.until(owes)
        await ann.ask(answer_to(view))
        await ann.until(lambda view: view.heat is not None and view.heat.step == "first across")
        await ann.go()
    assert "LookupError" in caplog.text
    assert "5b" not in caplog.text


async def test_a_table_that_cannot_say_when_it_is_due_still_answers(caplog: pytest.LogCaptureFixture) -> None:
    asked_ms = list[int]()

    class Undue(Table):
        def next_deadline_ms(self) -> int | None:
            asked_ms.append(now_ms())
            if len(asked_ms) > 99:
                return None  # this test is lost; it need not hang
            raise LookupError("5b")

    async with Admission.open(Store.open(None)) as admission, open_listener(admission, "127.0.0.1", 0) as listener:
        admission.add(make_table(SETTINGS, kind=Undue))
        ann = Player(listener.port)
        await ann.come()
        assert isinstance(await ann.ask(NotReady()), Done)
        asked_ms.clear()
        await asyncio.sleep(3.5)
        assert {later - before for before, later in pairwise(asked_ms)} == {0, 1_000}
        assert len(asked_ms) < 20
        await ann.go()
    assert "LookupError at " in caplog.text
    assert "Undue.next_deadline_ms, line" in caplog.text
    assert "5b" not in caplog.text


async def test_a_view_that_cannot_be_made_costs_its_own_line_and_undoes_nothing(
    caplog: pytest.LogCaptureFixture,
) -> None:
    class Blind(Table):
        blind = False

        def view(self, chair: int, now_ms: int) -> View:
            if self.blind and chair == 1:
                raise LookupError("5b")
            return super().view(chair, now_ms)

    table = make_table(SETTINGS, kind=Blind)
    assert isinstance(table, Blind)
    async with Admission.open(Store.open(None)) as admission, open_listener(admission, "127.0.0.1", 0) as listener:
        admission.add(table)
        ann, bo = Player(listener.port), Player(listener.port, "Bo")
        await ann.come()
        await bo.come()
        table.blind = True
        assert isinstance(await ann.ask(Ready()), Done)
        assert (await bo.end())[0] == 1011
        await ann.until(lambda view: view.chairs[0].ready)
        table.blind = False
        await bo.come()
        assert bo.view
        assert bo.view.chairs[0].ready
        await ann.go()
        await bo.go()
    assert "Blind.view, line" in caplog.text
    assert "5b" not in caplog.text


async def test_the_first_words_to_a_client_are_its_welcome() -> None:
    async with open_house(SETTINGS) as house, four_players(house.listener.port) as players:
        await asyncio.gather(*(play_heat(player, 1, lambda view: 100) for player in players))
        for player in players:
            assert isinstance(TO_CLIENT.unpack(player.frames[0]), Welcome)
            await player.cut()
            before = len(player.frames)
            await player.come()
            assert isinstance(TO_CLIENT.unpack(player.frames[before]), Welcome)


async def test_a_stored_table_that_cannot_be_restored_refuses_everybody_in_one_sentence_and_stays_on_the_disk(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    path = tmp_path / "tables.sqlite3"
    async with open_house(SETTINGS, path) as house:
        ann = Player(house.listener.port)
        await ann.come()
        await ann.ask(Ready())
        await ann.until(owes)
        await ann.go()
    with closing(sqlite3.connect(path)) as disk:
        disk.execute("DELETE FROM events")
        disk.commit()
    store = Store.open(path)
    (stored,) = store.load()
    table = Table(stored.record, counted_bytes(), lambda: "")
    async with Admission.open(store) as admission, open_listener(admission, "127.0.0.1", 0) as listener:
        admission.add(table, stored)
        for token in (ann.token, None):
            comes = Player(listener.port)
            comes.token = token
            await comes.say_hello()
            assert await comes.end() == (Close.TABLE_CLOSED, NOT_RESTORED)
    assert store.load() == (stored,)
    await store.close()
    (logged,) = [record.message for record in caplog.records if record.levelname == "ERROR"]
    assert logged.startswith(f"table {stored.record.id} cannot be restored: ValueError at server.table.running, ")
