"""A guest who has to wait because somebody guesses codes is told so, and for how long."""

import asyncio

import pytest

from client.connection.link import _PATIENT_S, MADE_TO_WAIT, Connected, Waiting
from server.clock import now_ms
from server.net.codes import Guesses
from tests.client.connection.listeners import link_to, listening
from tests.client.relay import in_virtual_time
from tests.server.players import guess, open_house


def test_the_sentence_names_the_longest_waits() -> None:
    assert f" {Guesses.LONGEST_MS // 1_000} seconds" in MADE_TO_WAIT
    assert f" {Guesses.MOST_WAITING * Guesses.LONGEST_MS // 60_000} minutes" in MADE_TO_WAIT


@pytest.mark.parametrize("wrong", [0, 1, 7])
def test_who_waits_longer_than_a_moment_is_told_why_and_who_does_not_is_not(wrong: int) -> None:
    async def run() -> tuple[list[object], int]:
        async with open_house() as house:
            for _ in range(wrong):
                await (await guess(house.listener.port)).end()
            began_ms = now_ms()
            async with listening(link_to(house.listener.port)) as listener:
                await listener.until(Connected)
                waited_ms = now_ms() - began_ms
                await asyncio.sleep(10)
                return [heard for heard in listener.heard if isinstance(heard, Waiting | Connected)], waited_ms

    heard, waited_ms = in_virtual_time(run())
    assert (waited_ms > _PATIENT_S * 1_000) == (wrong == 7)
    assert heard[:-1] == ([Waiting(MADE_TO_WAIT)] if wrong == 7 else [])
    assert isinstance(heard[-1], Connected)


def test_who_comes_back_to_a_seat_is_never_told_so() -> None:
    async def run() -> bool:
        async with open_house() as house, listening(link_to(house.listener.port)) as listener:
            await listener.until(Connected)
            for _ in range(7):
                await (await guess(house.listener.port)).end()
            await house.admission.close_lines(1012, "once more")
            await listener.until(Connected, 2)
            await asyncio.sleep(10)
            return any(isinstance(heard, Waiting) for heard in listener.heard)

    assert not in_virtual_time(run())
