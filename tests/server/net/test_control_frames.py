"""Pings, pongs and pieces of frames count like whole frames: who sends more of them than is allowed is cut off."""

import asyncio

import pytest

from server.clock import now_ms
from server.net.listener import _SLICE, DEFAULT_LIMITS, _Socket
from shared.rules.intents import NotReady, Ready
from shared.wire.messages import Close, Done
from tests.server.players import CODE, House, Player, open_house

MASK = b"\x80\x00\x00\x00\x00"
PING, PONG, PIECE = b"\x89" + MASK, b"\x8a" + MASK, b"\x00" + MASK
BEGINNING = b"\x02" + MASK
"""The first piece of a binary message, which PIECE goes on with and nothing ends (RFC 6455, section 5.4)."""
KINDS = {"ping": (b"", PING), "pong": (b"", PONG), "piece": (BEGINNING, PIECE)}


async def mallory_in(house: House) -> Player:
    mallory = Player(house.listener.port, "Mallory", CODE)
    await mallory.come()
    await asyncio.sleep(5)
    return mallory


@pytest.mark.parametrize(("first", "frame"), KINDS.values(), ids=KINDS.keys())
async def test_more_at_once_than_is_allowed_ends_the_line_and_nobody_elses(first: bytes, frame: bytes) -> None:
    async with open_house() as house:
        ann = Player(house.listener.port)
        await ann.come()
        mallory = await mallory_in(house)
        mallory.line.transport.write(first + frame * (DEFAULT_LIMITS.burst + 1))
        code, text = await mallory.end()
        assert (code, text) == (Close.BAD_FRAME, "You are sending too fast.")
        assert (await ann.ask(Ready())).kind == "done"


@pytest.mark.parametrize(("first", "frame"), KINDS.values(), ids=KINDS.keys())
async def test_no_more_a_second_than_is_allowed_for_however_long(first: bytes, frame: bytes) -> None:
    async with open_house() as house:
        mallory, sent = await mallory_in(house), 0
        mallory.line.transport.write(first)
        began_ms = now_ms()
        while not mallory.closed and sent < 5_000:
            mallory.line.transport.write(frame)
            sent += 1
            await asyncio.sleep(1 / 80)
        assert mallory.closed
        assert mallory.closed[0] == Close.BAD_FRAME
        allowed = DEFAULT_LIMITS.burst + (now_ms() - began_ms) / 1_000 * DEFAULT_LIMITS.frames_per_s
        assert DEFAULT_LIMITS.burst < sent <= allowed + 3


@pytest.mark.parametrize("frame", [PING, PONG], ids=["ping", "pong"])
async def test_as_many_as_are_allowed_cost_nobody_the_line(frame: bytes) -> None:
    async with open_house() as house:
        mallory = await mallory_in(house)
        for _ in range(300):
            mallory.line.transport.write(frame)
            await asyncio.sleep(1 / 30)
        assert mallory.closed is None
        assert isinstance(await mallory.ask(NotReady()), Done)


@pytest.mark.parametrize(("first", "frame"), KINDS.values(), ids=KINDS.keys())
async def test_of_a_burst_that_comes_at_once_only_the_beginning_is_looked_at(
    first: bytes, frame: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    looked_at, fault = [], _Socket._fault
    monkeypatch.setattr(_Socket, "_fault", lambda self, one: looked_at.append(one) or fault(self, one))  # type: ignore[func-returns-value]
    async with open_house() as house:
        mallory = await mallory_in(house)
        looked_at.clear()
        mallory.line.transport.write(first + frame * 40_000)
        assert (await mallory.end())[0] == Close.BAD_FRAME
        assert len(looked_at) <= _SLICE / len(frame) + DEFAULT_LIMITS.burst
        assert _SLICE <= 4_096
