"""One soak: a host that is killed again and again, people behind a bad network, and what the disk holds at the end."""

import asyncio
import json
import os
import signal
import sys
import time
from collections import Counter
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from server.store import Database
from shared.cards.play import complete
from shared.rules.events import AnyEvent, Passed
from shared.rules.heat import faults
from shared.rules.intents import Pass
from shared.rules.seats import seat_of
from tests.ports import free_port
from tests.soak.person import Person
from tests.soak.relay import Relay, open_relay

ROOT = Path(__file__).parents[2]
NAMES = ("Ann", "Bo", "Cy", "Di")
PAGE = os.sysconf("SC_PAGE_SIZE")
OPEN_S = 30.0
SETTLE_S = 3.0
MOST_MB, MOST_GROWTH_MB = 200, 30
MOST_FILES, MOST_TASKS = 80, 120
"""What a host with one table may use at most; lines that have gone silent count until their ping is missed."""


@dataclass
class Host:
    """The host's process, and the most it was seen to use."""

    path: Path
    port: int
    code: str = ""
    starts: int = 0
    process: asyncio.subprocess.Process | None = None
    tasks: list[int] = field(default_factory=list)
    files: list[int] = field(default_factory=list)
    mb: list[float] = field(default_factory=list)
    _watching: asyncio.Task[None] | None = None

    async def start(self) -> None:
        """Start it, fresh the first time, and wait until its listener is open."""
        way = "resume" if self.starts else "fresh"
        command = (sys.executable, "-m", "tests.soak.host", str(self.path), way, str(self.port))
        self.process = await asyncio.create_subprocess_exec(*command, cwd=ROOT, stdout=asyncio.subprocess.PIPE)
        assert self.process.stdout
        async with asyncio.timeout(OPEN_S):
            first = await self.process.stdout.readline()
        self.code = json.loads(first)["code"]
        self.starts += 1
        for seen in (self.tasks, self.files, self.mb):
            seen.clear()
        self._watching = asyncio.create_task(self._watch(self.process))

    async def kill(self) -> None:
        """End it as a power cut would."""
        if self.process and self.process.returncode is None:
            self.process.send_signal(signal.SIGKILL)
            await self.process.wait()
        if self._watching:
            await self._watching

    async def _watch(self, process: asyncio.subprocess.Process) -> None:
        assert process.stdout
        while line := await process.stdout.readline():
            self.tasks.append(json.loads(line)["tasks"])
            try:
                files, mb = _use_of(process.pid)
            except OSError:
                return
            self.files.append(files)
            self.mb.append(mb)


@dataclass
class Result:
    """What a soak came to. lost and doubled are acknowledged passes that the disk does not hold exactly once."""

    seconds: float = 0.0
    kills: int = 0
    connections: int = 0
    relaunches: int = 0
    faults: dict[str, int] = field(default_factory=dict)
    heats: int = 0
    acknowledged: int = 0
    refused: int = 0
    lost: list[str] = field(default_factory=list)
    doubled: list[str] = field(default_factory=list)
    untrue: list[str] = field(default_factory=list)
    ended: list[str] = field(default_factory=list)
    over: list[str] = field(default_factory=list)
    most_mb: float = 0.0
    growth_mb: float = 0.0
    most_files: int = 0
    most_tasks: int = 0

    @property
    def is_well(self) -> bool:
        """Nothing was lost, doubled or untrue, nobody was turned away, nothing grew beyond its bound."""
        return not (self.lost or self.doubled or self.untrue or self.ended or self.over)


async def soak(path: Path, seconds: float, seed: int = 1) -> Result:
    """Let four people play for so long: kills in the first two thirds, then only a bad network.

    path is the host's file of tables, which must not be there yet. All is on this machine's loopback.
    """
    random, result, began_s = Random(seed), Result(), time.monotonic()
    host = Host(path, free_port())
    quiet: dict[str, int] = {}
    try:
        await host.start()
        async with open_relay(host.port, random) as relay:
            people = [Person(name, relay.port, host.code, Random(seed * 10 + at)) for at, name in enumerate(NAMES)]
            playing = [asyncio.create_task(person.run()) for person in people]
            weather = asyncio.create_task(_weather(relay, people, random))
            try:
                await _kill_now_and_then(host, result, random, seconds * 2 / 3)
                await asyncio.sleep(seconds / 3)
                _note_use(host, result)
            finally:
                weather.cancel()
                relay.clear_up()
                await _let_end(people, playing)
            result.faults = dict(sorted(relay.faults.items()))
        await asyncio.sleep(SETTLE_S)
        quiet = {"tasks": host.tasks[-1], "files": host.files[-1]}
    finally:
        await host.kill()
    _note_people(people, result)
    if quiet["tasks"] > host.tasks[0] or quiet["files"] > host.files[0] + 4:
        result.over.append(f"left behind when all had gone: {quiet}, at first {host.tasks[0]} and {host.files[0]}")
    _compare(path, people, result)
    result.seconds = round(time.monotonic() - began_s, 1)
    return result


async def _kill_now_and_then(host: Host, result: Result, random: Random, seconds: float) -> None:
    until_s = time.monotonic() + seconds
    while (left_s := until_s - time.monotonic()) > 0:
        await asyncio.sleep(min(left_s, random.uniform(0.5, 6.0)))
        await host.kill()
        result.kills += 1
        await asyncio.sleep(random.uniform(0, 0.5))
        await host.start()


async def _weather(relay: Relay, people: list[Person], random: Random) -> None:
    while True:
        await asyncio.sleep(random.uniform(0.2, 1.5))
        if random.random() < 0.1:
            random.choice(people).relaunch()
        else:
            relay.worsen()


async def _let_end(people: list[Person], playing: list[asyncio.Task[None]]) -> None:
    """Let everybody go; whatever is on its way then stays unanswered, and promises nothing."""
    for task in playing:
        task.cancel()
    await asyncio.gather(*playing, return_exceptions=True)
    for person in people:
        await person.leave()


def _note_use(host: Host, result: Result) -> None:
    third = max(1, len(host.mb) // 3)
    result.most_mb, result.most_files = round(max(host.mb), 1), max(host.files)
    result.growth_mb = round(max(host.mb[-third:]) - max(host.mb[:third]), 1)
    result.most_tasks = max(host.tasks)
    for what, used, most in (
        ("megabytes", result.most_mb, MOST_MB),
        ("megabytes more", result.growth_mb, MOST_GROWTH_MB),
        ("descriptors", result.most_files, MOST_FILES),
        ("tasks", result.most_tasks, MOST_TASKS),
    ):
        if used > most:
            result.over.append(f"{used} {what}, {most} at most")


def _note_people(people: list[Person], result: Result) -> None:
    result.connections = sum(person.connections for person in people)
    result.relaunches = sum(person.relaunches for person in people)
    result.refused = sum(person.refused for person in people)
    result.acknowledged = sum(len(person.acknowledged) for person in people)
    result.ended = [text for person in people for text in person.ended]


def _compare(path: Path, people: list[Person], result: Result) -> None:
    """Look for everything that was promised in what the disk holds, and check every heat that ended."""
    with closing(Database(path)) as disk:
        stored = disk.load()[-1]
    heats: dict[int, tuple[int, tuple[AnyEvent, ...]]] = {}
    for heat in stored.finished:
        heats[heat.number] = heat.east, heat.heat().events
        result.untrue += [f"heat {heat.number}: {fault}" for fault in faults(heat.data, complete)]
    if stored.record.head:
        heats[stored.record.head.number] = stored.record.head.east, stored.events
    result.heats = len(stored.finished)
    kept: Counter[tuple[object, ...]] = Counter()
    for number, (east, events) in heats.items():
        kept.update((number, east, *_pass_of(event)) for event in _with_steps(events))
    for person in people:
        for chair, number, intent in person.acknowledged:
            count = kept[_promised(heats, chair, number, intent)]
            if count != 1:
                where = f"{person.name}, heat {number}, {intent.step}"
                (result.doubled if count else result.lost).append(where)


def _with_steps(events: tuple[AnyEvent, ...]) -> list[tuple[str, Passed]]:
    found, step = [], ""
    for event in events:
        if event.kind == "step began":
            step = event.step
        elif isinstance(event, Passed):
            found.append((step, event))
    return found


def _pass_of(found: tuple[str, Passed]) -> tuple[object, ...]:
    step, event = found
    return step, event.seat, tuple(sorted(event.tiles)), event.blind, event.by


def _promised(
    heats: dict[int, tuple[int, tuple[AnyEvent, ...]]], chair: int, number: int, intent: Pass
) -> tuple[object, ...]:
    east = heats[number][0] if number in heats else 0
    seat = int(seat_of(chair, east))
    return number, east, intent.step, seat, tuple(sorted(intent.tiles)), intent.blind, "person"


def _use_of(pid: int) -> tuple[int, float]:
    """Return a process's open descriptors and its resident megabytes. Raises OSError when it is gone."""
    pages = int(Path(f"/proc/{pid}/statm").read_text().split()[1])
    return len(os.listdir(f"/proc/{pid}/fd")), pages * PAGE / 2**20
