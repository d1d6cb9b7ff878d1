"""racktempo desk: an evening that runs itself in a process of its own, and what the command line is told."""

import asyncio
import csv
import os
import re
import signal
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from client import cli
from shared.wire.desk_intents import OpenTable
from shared.wire.messages import Done
from tests.server.players import Player, answer_to, owes

PLAN = """
name = "Tuesday"
tables = ["By the window", "Corner"]
wait = 1
countdown = 0.5
pause = 0.5

[settings]
level = "0:10"
heats = 2
second = "never"
courtesy = false
same_deal = true
bot_pace = "quick"

[files]
heats = "{folder}/heats.csv"
standings = "{folder}/standings.csv"
page = "{folder}/evening.html"
"""


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("", 0))
        return int(probe.getsockname()[1])


class Evening:
    """A headless evening in a process of its own."""

    def __init__(self, folder: Path, *more: str) -> None:
        plan = folder / "plan.toml"
        plan.write_text(PLAN.replace("{folder}", str(folder)))
        environment = {**os.environ, "HOME": str(folder), "XDG_DATA_HOME": str(folder), "XDG_STATE_HOME": str(folder)}
        self.process = subprocess.Popen(
            [sys.executable, "-m", "client.cli", "desk", "--headless", str(plan), "--port", str(free_port()), *more],
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        self.said = ""

    def wait_until_open(self) -> "Evening":
        assert self.process.stdout
        for line in self.process.stdout:
            self.said += line
            if line.startswith("Desk code"):
                break
        return self

    def told(self, what: str) -> str:
        found = re.search(rf"^{what}: (\S+)$", self.said, re.M)
        assert found, self.said
        return found[1]

    def end(self) -> tuple[int, str]:
        rest, errors = self.process.communicate(timeout=240)  # the coach gives way to all else that runs
        return self.process.returncode, self.said + rest + errors


@pytest.fixture
def begin(tmp_path: Path) -> Iterator[Callable[..., Evening]]:
    evenings: list[Evening] = []

    def start(*more: str) -> Evening:
        evenings.append(Evening(tmp_path, *more))
        return evenings[-1]

    yield start
    for evening in evenings:
        evening.process.kill()
        evening.process.communicate()


async def play(evening: Evening, name: str) -> None:
    player = Player(int(evening.told("Port")), name, evening.told("Code"))
    await player.come()
    while player.view is None or player.view.phase != "over":
        view = await player.until(lambda view: owes(view) or view.phase == "over")
        if owes(view):
            await player.ask(answer_to(view))
    await player.go()


def test_an_evening_runs_by_its_plan_and_writes_its_results(begin: Callable[..., Evening], tmp_path: Path) -> None:
    evening = begin().wait_until_open()

    async def all_play() -> None:
        await asyncio.gather(*(play(evening, name) for name in ("Ann", "Bo")))

    asyncio.run(all_play())
    status, said = evening.end()
    assert status == 0, said
    assert "The evening is over." in said
    rows = (tmp_path / "heats.csv").read_text("utf-8-sig").splitlines()
    assert len(rows) == 1 + 2 * 4  # nobody sat at the second table, so that it was not played
    own = [row for row in csv.DictReader(rows) if row["name"] in ("Ann", "Bo")]
    assert len(own) == 4
    assert all(
        float(row["points lost"]) >= 0 and row["passes with a choice"] and float(row["points"]) > 0 for row in own
    )
    assert "The coach has reviewed 4 of 4." in said
    standings = (tmp_path / "standings.csv").read_text("utf-8-sig")
    assert "points lost a pass,less,1,no,Ann" in standings or "points lost a pass,less,1,no,Bo" in standings
    assert "<title>Tuesday</title>" in (tmp_path / "evening.html").read_text()


def test_a_stopped_evening_is_gone_on_with_and_a_second_machine_can_be_its_desk(begin: Callable[..., Evening]) -> None:
    evening = begin().wait_until_open()

    async def visit() -> None:
        desk = Player(int(evening.told("Port")), "desk", evening.told("Desk code"), "desk")
        await desk.say_hello()
        await desk.see(lambda shown: len(shown.tables) == 2)
        assert isinstance(await desk.order(OpenTable()), Done)
        evening.process.send_signal(signal.SIGTERM)
        await desk.end()

    asyncio.run(visit())
    status, said = evening.end()
    assert status == 0
    assert "can be resumed" in said
    status, said = begin().end()
    assert status == 2
    assert 'The evening "Tuesday" was left unfinished, with 3 tables.' in said
    again = begin("--resume").wait_until_open()
    assert again.told("Code") == evening.told("Code")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--tables", "0"), "--tables is '0'; it must be a whole number from 1 to 60."),
        (("--tables", "many"), "--tables is 'many'; it must be a whole number from 1 to 60."),
        (("--at", "192.0.2.1"), "--at and --code go together."),
        (("--wall",), "--wall needs --at and --code; at the desk itself, w shows the wall's screen."),
        (("--resume", "--fresh"), "Use only one of --resume and --fresh."),
    ],
)
def test_a_command_line_that_makes_no_sense_is_told(
    words: tuple[str, ...], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["desk", *words]) == 2
    assert told in capsys.readouterr().err


def test_a_plan_that_cannot_be_used_opens_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text("tables = 0")
    assert cli.main(["desk", "--headless", str(plan)]) == 1
    assert "tables is 0;" in capsys.readouterr().err
    assert cli.main(["desk", "--headless", str(tmp_path / "none.toml")]) == 1
    assert "cannot be read" in capsys.readouterr().err
