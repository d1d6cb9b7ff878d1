"""The host without a screen, as a process of its own: it says where it is, stops cleanly, and survives a kill."""

import asyncio
import re
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from server.host import READABLE, tls_context
from server.store import Database
from shared.rules.intents import Ready, Resume
from shared.wire.messages import Done
from tests.server.players import Player, answer_to, owes, play_heat

ROOT = Path(__file__).parents[2]
PROGRAM = """
import sys
from pathlib import Path
from server.net.listener import CannotOpen
from server.host import run_headless
from server.store import StoreFault
from shared.rules.settings import Settings
say = lambda line: print(line, flush=True)
settings = Settings(seed=5, heats=1, level_ms=10_000, bot_pace="quick")
path, go_on, port = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
try:
    sys.exit(run_headless(settings, "Boathouse", host="127.0.0.1", port=port, path=path, go_on=go_on, say=say))
except (CannotOpen, StoreFault) as fault:
    say(fault)
    sys.exit(1)
"""


class Host:
    """A headless host in a process of its own, on a file."""

    def __init__(self, path: Path, go_on: str = "ask", port: int = 0) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-c", PROGRAM, str(path), go_on, str(port)],
            cwd=ROOT,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        self.said = ""
        self.port, self.code = 0, ""

    def wait_until_open(self) -> "Host":
        assert self.process.stdout
        for line in self.process.stdout:
            self.said += line
            if line.startswith(READABLE):
                break
        port, code = re.search(r"^Port: (\d+)$", self.said, re.M), re.search(r"^Code: (\S+)$", self.said, re.M)
        assert port, self.said
        assert code, self.said
        self.port, self.code = int(port[1]), code[1]
        return self

    def end(self, number: int | None = None) -> tuple[int, str]:
        """Send a signal, if any, and return the exit status and all that was said."""
        if number is not None:
            self.process.send_signal(number)
        rest, _ = self.process.communicate(timeout=20)
        return self.process.returncode, self.said + rest


@pytest.fixture
def open_host() -> Iterator[Callable[..., Host]]:
    """Start hosts that do not outlive the test."""
    hosts: list[Host] = []

    def start(path: Path, go_on: str = "ask", port: int = 0) -> Host:
        hosts.append(Host(path, go_on, port))
        return hosts[-1]

    yield start
    for host in hosts:
        host.process.kill()
        host.process.communicate()


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_host_says_where_it_is_and_stops_cleanly_on_a_signal(
    open_host: Callable[..., Host], tmp_path: Path, number: int
) -> None:
    host = open_host(tmp_path / "tables").wait_until_open()
    assert f"Address: 127.0.0.1:{host.port}" in host.said
    assert re.fullmatch(r"([a-z]+-){3}\d\d", host.code)

    async def visit() -> tuple[int, str]:
        ann = Player(host.port, code=host.code)
        await ann.come()
        host.process.send_signal(number)
        return await ann.end()

    assert asyncio.run(visit())[0] == 1001
    status, said = host.end()
    assert status == 0
    assert said.endswith("Closing.\n")


def test_a_killed_host_loses_no_acknowledged_pass_and_offers_to_go_on(
    open_host: Callable[..., Host], tmp_path: Path
) -> None:
    path = tmp_path / "tables"
    host = open_host(path).wait_until_open()
    ann = Player(host.port, code=host.code)

    async def play_one_step() -> tuple[str, ...]:
        await ann.come()
        await ann.ask(Ready())
        view = await ann.until(owes)
        answer = answer_to(view)
        assert isinstance(await ann.ask(answer), Done)
        host.end(signal.SIGKILL)
        await ann.end()
        return answer.tiles  # type: ignore[union-attr]

    passed = asyncio.run(play_one_step())
    status, said = open_host(path).end()
    assert status == 2
    assert "heat 1 of 1 was running" in said
    assert "--resume" in said
    again = open_host(path, "resume").wait_until_open()
    assert again.code == host.code

    async def go_on() -> None:
        back = Player(again.port, code=again.code)
        back.token, back.ids = ann.token, ann.ids
        await back.come()
        view = await back.until(lambda view: view.heat is not None)
        assert view.heat
        assert view.heat.paused
        mine = view.heat.route[0]
        if view.heat.step == "first right":
            assert view.heat.answered
        assert sorted(mine.given) == sorted(passed)
        assert isinstance(await back.ask(Resume()), Done)
        await play_heat(back, 1, lambda view: 50)
        await back.until(lambda view: view.phase == "over")
        await back.go()

    asyncio.run(go_on())
    assert again.end(signal.SIGTERM)[0] == 0
    with closing(Database(path)) as database:
        stored = database.load()
    assert [heat.number for heat in stored[0].finished] == [1]


def test_an_unfinished_table_can_be_dropped(open_host: Callable[..., Host], tmp_path: Path) -> None:
    path = tmp_path / "tables"
    host = open_host(path).wait_until_open()

    async def begin() -> None:
        ann = Player(host.port, code=host.code)
        await ann.come()
        await ann.ask(Ready())
        host.end(signal.SIGKILL)
        await ann.end()

    asyncio.run(begin())
    fresh = open_host(path, "fresh").wait_until_open()
    assert fresh.code != host.code
    fresh.end(signal.SIGTERM)
    with closing(Database(path)) as database:
        assert not any(stored.is_unfinished for stored in database.load())


def test_a_second_host_is_told_what_is_in_its_way(open_host: Callable[..., Host], tmp_path: Path) -> None:
    first = open_host(tmp_path / "tables").wait_until_open()
    status, said = open_host(tmp_path / "tables").end()
    assert status == 1
    assert "in use by another racktempo host" in said
    status, said = open_host(tmp_path / "others", port=first.port).end()
    assert status == 1
    what = "taken by another program; leave and start again with --port"
    assert re.search(rf"Port {first.port} of 127.0.0.1 is {what} \d+, which is free\.", said)
    first.end(signal.SIGTERM)


def test_certificates_that_cannot_be_used_are_named(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="cannot be used for wss"):
        tls_context(tmp_path / "none.pem", tmp_path / "none.key")


def test_hosting_needs_no_screen() -> None:
    check = "import server.host, sys; assert 'textual' not in sys.modules and 'numpy' not in sys.modules"
    subprocess.run([sys.executable, "-c", check], cwd=ROOT, check=True)
