"""Frames that somebody kept are sent again: later, in the next heat, at another table, by somebody else."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import pytest

from server.admission import Admission
from server.net.listener import open_listener
from server.store import Store
from server.table.table import Table
from shared.rules.intents import Pass, Ready
from shared.rules.settings import Settings
from shared.wire.messages import TO_SERVER, Close, Command, Refused
from tests.server.players import Player, answer_to, make_table, owes

ONE, OTHER = "maple-kettle-07", "otter-lemon-11"
QUICK = Settings(seed=7, heats=2, bot_pace="quick", second="never", courtesy=False)
READY = Ready()


@asynccontextmanager
async def two_tables() -> AsyncIterator[tuple[int, Table, Table]]:
    async with Admission.open(Store.open(None)) as admission, open_listener(admission, "127.0.0.1", 0) as listener:
        one, other = make_table(QUICK, ONE), make_table(QUICK.model_copy(update={"seed": 8}), OTHER)
        admission.add(one)
        admission.add(other)
        yield listener.port, one, other


def at_table(port: int, name: str, code: str) -> Player:
    """Return somebody who knocks at the table of that code."""
    player = Player(port, name, code)
    player.table = f"t {code}"
    return player


async def play_a_heat(player: Player) -> list[bytes]:
    """Play one heat and return every frame that was sent for it."""
    frames = []

    async def say(intent) -> None:  # type: ignore[no-untyped-def]
        number = next(player.ids)
        assert player.view
        frames.append(TO_SERVER.pack(Command(id=number, heat=player.view.heat_number, intent=intent)))
        before = len(player.heard)
        await player.line.send(frames[-1])
        await player._answer(number, before)

    await say(READY)
    while (view := await player.until(lambda now: owes(now) or now.phase in ("between", "over"))).phase == "heat":
        await say(answer_to(view))
    return frames


async def answered(player: Player, frames: list[bytes]) -> list[str]:
    """Send frames and return the kinds of the answers to them."""
    before = len(player.heard)
    for frame in frames:
        await player.line.send(frame)
        await asyncio.sleep(0.1)
    return [message.kind for message in player.heard[before:] if message.kind in ("done", "refused")]


def events_of(table: Table) -> tuple[object, ...]:
    record, heat, *_ = table.checkpoint()
    return record.phase, record.number, heat and heat.events


async def test_the_frames_of_a_heat_are_worth_nothing_in_the_next() -> None:
    async with two_tables() as (port, one, _):
        ann = at_table(port, "Ann", ONE)
        await ann.come()
        kept = await play_a_heat(ann)
        assert len(kept) > 3
        await ann.ask(READY)
        view = await ann.until(owes)
        assert view.heat_number == 2
        before = events_of(one)
        assert set(await answered(ann, kept)) <= {"done"}
        assert events_of(one) == before
        again = [
            TO_SERVER.pack(TO_SERVER.unpack(frame).model_copy(update={"id": 1_000 + number}))
            for number, frame in enumerate(kept)
            if isinstance(command := TO_SERVER.unpack(frame), Command) and isinstance(command.intent, Pass)
        ]
        assert set(await answered(ann, again)) == {"refused"}
        assert events_of(one) == before
        for number, heat, code in ((5_000, 1, "out of turn"), (5_001, 3, "other heat")):
            await ann.send(answer_to(view), number, heat=heat)  # it would be legal, but was meant for another heat
            refused = await ann._answer(number, 0)
            assert isinstance(refused, Refused)
            assert refused.code == code
        assert events_of(one) == before
        await ann.go()


async def test_the_frames_of_one_table_move_nothing_of_another_seat_at_another_table() -> None:
    async with two_tables() as (port, one, other):
        ann, bo = at_table(port, "Ann", ONE), at_table(port, "Bo", OTHER)
        await ann.come()
        await bo.come()
        kept = [frame for frame in await play_a_heat(ann) if isinstance(_intent(frame), Pass)]
        assert kept
        await bo.ask(READY)
        await bo.until(owes)
        racks, at_one = _racks_of_others(other), events_of(one)
        fresh = [
            TO_SERVER.pack(TO_SERVER.unpack(frame).model_copy(update={"id": 1_000 + number}))
            for number, frame in enumerate(kept)
        ]
        assert set(await answered(bo, fresh)) == {"refused"}
        assert _racks_of_others(other) == racks
        assert events_of(one) == at_one
        await ann.go()
        await bo.go()


@pytest.mark.parametrize("code", [OTHER, "wrong-code-00"])
async def test_a_token_of_one_table_opens_no_chair_of_another(code: str) -> None:
    """It leads to its own chair and to no other, whatever code is said with it."""
    async with two_tables() as (port, one, other):
        ann = at_table(port, "Ann", ONE)
        await ann.come()
        thief = at_table(port, "Mallory", code)
        thief.token = ann.token
        await thief.say_hello()
        await thief.until(lambda view: True)
        assert (await ann.end())[0] == Close.SEAT_TAKEN_OVER
        assert [chair.sitter for chair in other.record.chairs] == ["nobody"] * 4
        assert [chair.name for chair in one.record.chairs if chair.sitter == "person"] == ["Ann"]
        await thief.go()


def _intent(frame: bytes) -> object:
    message = TO_SERVER.unpack(frame)
    return message.intent if isinstance(message, Command) else None


def _racks_of_others(table: Table) -> tuple[object, ...]:
    _, heat, *_ = table.checkpoint()
    assert heat
    return tuple(heat.state.racks[seat] for seat in range(1, 4))
