"""Sets of one's own: left, killed, gone on with; and two programs that play at the same time."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from client.connection.link import Heard
from client.hosting.alone import MOST_WAITING, open_drill, open_solo, solo_folder, waiting_set
from shared.cards.play import shipped_text
from shared.coach.coach import Coach, coach_of
from shared.coach.tempting import tempting
from shared.rules.intents import Pass, Ready, Resume
from shared.rules.settings import Settings
from shared.wire.views import View
from tests.client.relay import in_virtual_time

READY = Ready()
ALONE = Settings(seed=11, heats=2, bot_pace="no wait")


def view_until(wanted_step: str, go_on: bool = False, name: str = "Ann", settings: Settings = ALONE) -> View:
    """Play alone, or go on with what waits, until a step runs; then leave without giving the seat up."""

    async def scene() -> View:
        views: list[View] = []
        async with open_solo(settings, name, go_on=go_on) as opened:
            if not go_on:
                opened.line.ask(READY, 0)

            def hear(what: Heard) -> None:
                if not isinstance(what, View):
                    return
                views.append(what)
                heat = what.heat
                if heat is None:
                    return
                if heat.paused:
                    opened.line.ask(Resume(), what.heat_number)
                elif heat.step == wanted_step:
                    opened.line.close()
                elif heat.owes and heat.step:
                    tiles = tuple(tile for tile in heat.rack if tile != "J")[: heat.give]
                    opened.line.ask(Pass(step=heat.step, tiles=tiles), what.heat_number)

            await opened.line.run(hear)
        return views[-1]

    return in_virtual_time(scene())


def test_a_set_that_is_left_waits_and_goes_on_in_the_same_seat_with_the_same_tiles() -> None:
    left = view_until("first across")
    waiting = waiting_set()
    assert waiting
    assert waiting.words == "heat 1 of 2"
    back = view_until("first across", go_on=True)
    assert left.heat
    assert back.heat
    assert (back.heat.rack, back.you, back.chairs[back.you].name) == (left.heat.rack, left.you, "Ann")
    assert back.heat.clock.left_ms <= left.heat.clock.left_ms


def test_nothing_waits_before_a_heat_was_played() -> None:
    async def scene() -> None:
        async with open_solo(ALONE, "Ann"):
            assert len(list(solo_folder().glob("*.sqlite3"))) == 1

    in_virtual_time(scene())
    assert waiting_set() is None
    assert list(solo_folder().iterdir()) == []


def test_going_on_with_nothing_is_told() -> None:
    async def scene() -> None:
        async with open_solo(ALONE, "Ann", go_on=True):
            pass

    with pytest.raises(ValueError, match="No set waits"):
        in_virtual_time(scene())


def test_a_new_set_leaves_the_one_that_waits_and_the_oldest_of_many_go() -> None:
    for number in range(MOST_WAITING + 2):
        view_until("first across", settings=ALONE.model_copy(update={"heats": number + 1}))
    waiting = waiting_set()
    assert waiting
    assert waiting.words == f"heat 1 of {MOST_WAITING + 2}"
    assert len(list(solo_folder().glob("*.sqlite3"))) == MOST_WAITING


def test_another_programs_running_set_is_not_offered() -> None:
    async def scene() -> None:
        async with open_solo(ALONE, "Ann") as opened:
            opened.line.ask(READY, 0)
            found: list[object] = []

            def hear(what: Heard) -> None:
                if isinstance(what, View) and what.heat:
                    found.append(waiting_set())
                    opened.line.close()

            await opened.line.run(hear)
            assert found[0] is None

    in_virtual_time(scene())
    assert waiting_set()


def test_a_drill_is_not_kept() -> None:
    coach = coach_of(shipped_text())
    assert isinstance(coach, Coach)
    laid = tempting(coach, "rival", Settings(), b"key")

    async def scene() -> None:
        async with open_drill((laid,), "Ann", "") as opened:
            opened.line.ask(READY, 0)
            await opened.line.run(lambda what: opened.line.close() if isinstance(what, View) and what.heat else None)

    in_virtual_time(scene())
    assert waiting_set() is None


PLAYS = """
import asyncio
from client.hosting.alone import open_solo
from shared.rules.intents import Pass, Ready
from shared.rules.settings import Settings
from shared.wire.views import View

async def play():
    async with open_solo(Settings(seed=11, heats=2, bot_pace="no wait"), "Ann") as opened:
        opened.line.ask(Ready(), 0)
        def hear(what):
            heat = what.heat if isinstance(what, View) else None
            if heat and heat.step == "first right" and heat.owes:
                tiles = tuple(tile for tile in heat.rack if tile != "J")[:3]
                opened.line.ask(Pass(step=heat.step, tiles=tiles), what.heat_number)
            elif heat and heat.step == "first across":
                print(" ".join(heat.rack), flush=True)
        await opened.line.run(hear)

asyncio.run(play())
"""


def test_a_set_survives_kill_9() -> None:
    with subprocess.Popen(
        [sys.executable, "-c", PLAYS],
        stdout=subprocess.PIPE,
        text=True,
        cwd=Path(__file__).parents[3],
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[3])},
    ) as playing:
        assert playing.stdout
        rack = playing.stdout.readline().split()
        assert len(rack) == 14
        assert waiting_set() is None, "it is being played"
        playing.send_signal(signal.SIGKILL)
        playing.wait(timeout=30)
    ends_at = time.monotonic() + 10
    while waiting_set() is None:
        assert time.monotonic() < ends_at
    back = view_until("first across", go_on=True)
    assert back.heat
    assert sorted(back.heat.rack) == sorted(rack)
