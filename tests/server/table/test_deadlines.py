"""Deadlines to the millisecond: a frame read within the grace counts, one after it is told how late it was."""

import asyncio
from itertools import pairwise
from typing import Any

import pytest

from server.admission import Admission
from server.clock import now_ms
from server.net.listener import _Socket
from server.store import Store
from shared.rules.intents import Extend, Lift, Offer, Pass, Pause, Ready, Resume, Vote
from shared.rules.settings import Settings
from shared.wire.messages import Command, Done, Refused
from shared.wire.views import View
from tests.loop import VirtualLoop
from tests.server.players import House, Player, answer_to, four_players, make_table, open_house, owes

LENGTH_MS = 24 * 1_800
GRACE_MS = 250
"""What the table promises, whatever the rules say."""
SETTINGS = Settings(seed=7, heats=1, bot_pace="quick")


async def sleep_until(at_ms: int) -> None:
    await asyncio.sleep(at_ms / 1_000 - asyncio.get_running_loop().time())
    assert now_ms() == at_ms


async def begun(house: House) -> tuple[Player, int]:
    """Return a player whose heat has just begun, and the moment it did."""
    ann = Player(house.listener.port)
    await ann.come()
    await ann.send(Ready())
    await ann.until(lambda view: view.heat is not None)
    return ann, now_ms()


@pytest.mark.parametrize("after_ms", [-1, 0, 1, GRACE_MS - 1, GRACE_MS])
async def test_a_pass_read_by_the_end_of_the_grace_counts(after_ms: int) -> None:
    async with open_house(SETTINGS) as house:
        ann, began_ms = await begun(house)
        assert ann.view
        assert ann.view.heat
        assert ann.view.heat.clock.left_ms == LENGTH_MS
        answer = answer_to(ann.view)
        await sleep_until(began_ms + LENGTH_MS + after_ms)
        assert await ann.ask(answer) == Done(id=2)
        step = (await ann.until(lambda view: view.heat is not None and view.heat.step == "first across")).heat
        assert step
        assert step.route[0].by == "person"
        assert step.route[0].spent_ms == min(LENGTH_MS, LENGTH_MS + after_ms)
        assert isinstance(answer, Pass)
        assert sorted(step.route[0].given) == sorted(answer.tiles)


@pytest.mark.parametrize("after_ms", [1, 2, 1_000])
async def test_a_pass_read_after_the_grace_is_refused_with_how_late_it_was(after_ms: int) -> None:
    async with open_house(SETTINGS) as house:
        ann, began_ms = await begun(house)
        assert ann.view
        answer = answer_to(ann.view)
        await sleep_until(began_ms + LENGTH_MS + GRACE_MS + after_ms)
        reply = await ann.ask(answer)
        assert isinstance(reply, Refused)
        assert reply.code == "late"
        assert reply.late_ms == GRACE_MS + after_ms
        heat = (await ann.until(lambda view: view.heat is not None and view.heat.step == "first across")).heat
        assert heat
        assert heat.route[0].by == "timeout"
        assert heat.route[0].spent_ms == LENGTH_MS


async def test_the_clock_answers_in_the_first_millisecond_after_the_grace() -> None:
    async with open_house(SETTINGS) as house:
        ann, began_ms = await begun(house)
        await ann.until(lambda view: view.heat is not None and view.heat.step == "first across")
        assert now_ms() == began_ms + LENGTH_MS + GRACE_MS + 1


async def test_a_frame_that_waited_in_the_socket_is_heard_before_the_clock_answers() -> None:
    async with open_house(SETTINGS) as house:
        ann, began_ms = await begun(house)
        assert ann.view
        loop = asyncio.get_running_loop()
        assert isinstance(loop, VirtualLoop)
        await sleep_until(began_ms + LENGTH_MS + GRACE_MS - 30)
        await ann.send(answer_to(ann.view))
        # The loop is held up, but by less than a stall: the frame is read at the very end of the grace.
        loop.stall(0.030)
        heat = (await ann.until(lambda view: view.heat is not None and view.heat.step == "first across")).heat
        assert heat
        assert heat.route[0].by == "person"


async def test_a_frame_read_in_time_counts_though_the_clock_runs_out_before_the_table_has_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    async with open_house(SETTINGS) as house:
        ann, began_ms = await begun(house)
        assert ann.view
        loop = asyncio.get_running_loop()
        assert isinstance(loop, VirtualLoop)
        ends_ms, read = began_ms + LENGTH_MS + GRACE_MS, _Socket.process_event

        def read_and_be_busy(line: _Socket, event: Any) -> None:
            read(line, event)
            if now_ms() == ends_ms:
                loop.stall(0.001)

        monkeypatch.setattr(_Socket, "process_event", read_and_be_busy)
        await sleep_until(ends_ms)
        await ann.send(answer_to(ann.view))
        heat = (await ann.until(lambda view: view.heat is not None and view.heat.step == "first across")).heat
        assert heat
        assert heat.route[0].by == "person"


@pytest.mark.parametrize("stall_ms", [151, 2_000, 3_600_000])
async def test_a_stall_of_the_machine_costs_nobody_time(stall_ms: int) -> None:
    async with open_house(SETTINGS) as house:
        ann, began_ms = await begun(house)
        assert ann.view
        loop = asyncio.get_running_loop()
        assert isinstance(loop, VirtualLoop)
        await sleep_until(began_ms + 10_000)
        loop.stall(stall_ms / 1_000)
        # A long stall can cost the connection, never the time.
        await asyncio.sleep(0.001)
        if ann.closed:
            await ann.come()
        late_ms = LENGTH_MS - 10_000
        view = await ann.until(lambda view: view.heat is not None and view.heat.clock.left_ms <= late_ms)
        assert view.heat
        gone_ms = LENGTH_MS - view.heat.clock.left_ms
        assert 10_000 <= gone_ms <= 10_000 + 52


async def test_a_stall_is_given_back_to_the_clocks_that_stood_still_for_it() -> None:
    """An answer is read, the machine stalls, and only then the table comes to it: the stall is the next step's."""
    async with open_house(SETTINGS) as house:
        ann, began_ms = await begun(house)
        assert ann.view
        loop = asyncio.get_running_loop()
        assert isinstance(loop, VirtualLoop)
        answer = answer_to(ann.view)
        assert isinstance(answer, Pass)
        await sleep_until(began_ms + 10_000)
        async with house.admission.keepers[0].turn:
            await ann.send(Lift(step="first right", tiles=answer.tiles[:1]))  # the keeper has this in hand, and waits
            await asyncio.sleep(0.01)
            await ann.send(answer)
            await asyncio.sleep(0.01)
            loop.stall(5)
            await asyncio.sleep(0.2)
        heat = (await ann.until(lambda view: view.heat is not None and view.heat.step == "first across")).heat
        assert heat
        assert 10_000 <= heat.route[0].spent_ms <= 10_020
        budget_ms = SETTINGS.length_ms("first across") + LENGTH_MS - heat.route[0].spent_ms
        assert 0 <= budget_ms - heat.clock.left_ms <= 300


async def test_a_stall_counts_from_its_beginning_though_an_answer_comes_to_the_table_before_the_news_of_it() -> None:
    async with open_house(SETTINGS) as house:
        ann, began_ms = await begun(house)
        assert ann.view
        loop = asyncio.get_running_loop()
        assert isinstance(loop, VirtualLoop)
        keeper = house.admission.keepers[0]
        await sleep_until(began_ms + LENGTH_MS - 100)
        loop.stall(2)
        # Read after the stall, long after the grace, and before anybody has noticed that the machine stood still.
        keeper.hear(keeper.lines[0], Command(id=9, heat=ann.view.heat_number, intent=answer_to(ann.view)), now_ms())
        heat = (await ann.until(lambda view: view.heat is not None and view.heat.step == "first across")).heat
        assert heat
        assert heat.route[0].by == "person"


async def test_a_machine_that_stalls_all_the_time_is_not_kept_busy_telling_so() -> None:
    async with open_house(SETTINGS) as house:
        ann, began_ms = await begun(house)
        await sleep_until(began_ms + 12_000)
        loop = asyncio.get_running_loop()
        assert isinstance(loop, VirtualLoop)
        heard, stalls_ms, stalled_at_ms = len(ann.heard), 0, now_ms()
        for _ in range(20):
            loop.stall(0.300)
            stalls_ms += 300
            await asyncio.sleep(0.1)
        await asyncio.sleep(1)
        told = len(ann.heard) - heard
        assert told <= 2 + (now_ms() - stalled_at_ms) // 1_000
        view = await ann.until(lambda view: True)
        assert view.heat
        # Each stall is noticed to within a beat; the last view is at most a second old.
        assert LENGTH_MS - view.heat.clock.left_ms <= now_ms() - began_ms - stalls_ms + 20 * 51


async def test_a_stall_across_the_deadline_leaves_the_frame_that_was_on_its_way_in_time() -> None:
    async with open_house(SETTINGS) as house:
        ann, began_ms = await begun(house)
        assert ann.view
        loop = asyncio.get_running_loop()
        assert isinstance(loop, VirtualLoop)
        await sleep_until(began_ms + LENGTH_MS - 100)
        await ann.send(answer_to(ann.view))
        loop.stall(30)
        heat = (await ann.until(lambda view: view.heat is not None and view.heat.step == "first across")).heat
        assert heat
        assert heat.route[0].by == "person"


async def test_a_pause_stops_all_clocks() -> None:
    async with open_house(SETTINGS) as house:
        ann, began_ms = await begun(house)
        await sleep_until(began_ms + 5_000)
        await ann.ask(Pause())
        await ann.until(lambda view: view.heat is not None and view.heat.paused)
        await asyncio.sleep(3_600)
        assert ann.view
        refusal = await ann.ask(Pass(step="first right", tiles=()))
        assert isinstance(refusal, Refused)
        assert refusal.code == "paused"
        await ann.ask(Resume())
        view = await ann.until(lambda view: view.heat is not None and not view.heat.paused)
        assert view.heat
        assert view.heat.clock.left_ms == LENGTH_MS - 5_000


async def test_the_host_can_give_everybody_more_time() -> None:
    async with open_house(SETTINGS) as house:
        ann, began_ms = await begun(house)
        await ann.ask(Extend(by_ms=20_000))
        await ann.until(lambda view: view.heat is not None and view.heat.step == "first across")
        assert now_ms() == began_ms + LENGTH_MS + 20_000 + GRACE_MS + 1


async def test_what_is_left_of_a_step_is_carried_into_the_next() -> None:
    async with open_house(SETTINGS) as house:
        ann, began_ms = await begun(house)
        assert ann.view
        await sleep_until(began_ms + 1_234)
        await ann.ask(answer_to(ann.view))
        view = await ann.until(lambda view: view.heat is not None and view.heat.step == "first across")
        assert view.heat
        assert view.heat.clock.carried_ms == LENGTH_MS - 1_234
        assert view.heat.clock.budget_ms == 14 * 1_800 + LENGTH_MS - 1_234


async def test_a_table_where_nobody_answers_runs_by_its_clocks_alone() -> None:
    """A heat at which four people sit and do nothing takes each step's length and grace, one after the other."""
    async with open_house(SETTINGS) as house, four_players(house.listener.port) as players:
        for player in players:
            await player.send(Ready())
        view = await players[0].until(lambda view: view.heat is not None)
        assert view.heat
        lengths = {step.step: step.length_ms for step in view.heat.route}
        moments: list[tuple[str, int]] = []
        for step in lengths:
            if step == "courtesy give":
                continue
            await players[0].until(lambda view, step=step: view.heat is not None and view.heat.step == step)
            moments.append((step, now_ms()))
        await players[0].until(lambda view: bool(view.results))
        for (step, began_ms), (_, ended_ms) in pairwise([*moments, ("", now_ms())]):
            assert ended_ms - began_ms == lengths[step] + GRACE_MS + 1


async def test_four_blind_passes_and_a_stop_go_through_the_wire() -> None:
    async with open_house(SETTINGS) as house, four_players(house.listener.port) as players:
        for player in players:
            await player.send(Ready())
        for step in ("first right", "first across"):
            for player in players:
                view = await player.until(
                    lambda view, step=step: view.heat is not None and view.heat.step == step and owes(view)
                )
                await player.ask(answer_to(view))
        racks = {}
        for player in players:
            view = await player.until(lambda view: view.heat is not None and view.heat.step == "first left")
            assert view.heat
            racks[player.name] = sorted(view.heat.rack)
            assert isinstance(await player.ask(Pass(step="first left", tiles=(), blind=3)), Done)
        for player in players:
            view = await player.until(lambda view: view.heat is not None and view.heat.step == "go on")
            assert view.heat
            assert sorted(view.heat.rack) == racks[player.name]
            assert isinstance(await player.ask(Vote(go_on=player.name != "Cy")), Done)
        for player in players:
            view = await player.until(lambda view: view.heat is not None and view.heat.step == "courtesy offer")
            assert view.heat
            assert view.heat.stopped
            assert isinstance(await player.ask(Offer(count=0)), Done)
        results: View = await players[0].until(lambda view: bool(view.results))
        assert all(len(seat.final) in (13, 14) for seat in results.results[0].seats)


async def test_a_stall_is_told_to_every_table_and_dated_by_its_beginning(monkeypatch: pytest.MonkeyPatch) -> None:
    async with Admission.open(Store.open(None)) as admission:
        told: list[tuple[int, int]] = []

        def put(item: Any) -> None:
            told.append((item.at_ms, item.by_ms))

        for code in ("maple-otter-lemon-07", "bronze-piano-atlas-11"):
            monkeypatch.setattr(admission.add(make_table(code=code))._inbox, "put_quietly", put)
        admission.stalled(700)
        assert told == [(now_ms() - 700, 700)] * 2


async def test_tables_are_woken_for_a_stall_one_after_the_other_and_for_the_next_no_sooner_than_a_second_later(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    async with Admission.open(Store.open(None)) as admission:
        woken_ms: list[int] = []
        for code in ("maple-otter-lemon-07", "bronze-piano-atlas-11", "tiger-lotus-cedar-23"):
            inbox = admission.add(make_table(code=code))._inbox
            monkeypatch.setattr(
                inbox, "wake_at", lambda at_ms, wake_at=inbox.wake_at: (woken_ms.append(at_ms), wake_at(at_ms))
            )
        first_ms = now_ms()
        admission.stalled(700)
        assert [at_ms - first_ms for at_ms in woken_ms] == [0, 20, 40]
        await asyncio.sleep(0.5)
        admission.stalled(700)
        assert [at_ms - first_ms for at_ms in woken_ms[3:]] == [1_000, 1_020, 1_040]
