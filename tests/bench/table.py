"""How a host bears many tables: python -m tests.bench.table [--json] [--tables 10,50,250] [--seconds 60] [--no-coach]

One process holds all tables behind one listener, on a file that is written through to the disk; four people a table
come over sockets from a second process, this one. They answer between two and twelve seconds after a step began,
lifting their tiles first; at every fourth table one of them never answers, so that clocks run out. Beside them, one
table has a person and three of the coach's strongest bots.

What is measured, with both processes on the same cores:
- a pass: from the moment the last of four sends it to the moment the last of four has read the next step's view;
- a deadline: how much later than the clock said, grace included, the next step's view has been read;
- the host's processor time, in parts of one core; and with --no-coach, since what the coach keeps in memory has
  nothing to do with the number of tables, its memory a table beyond the first, lines included.
"""

import argparse
import asyncio
import json
import os
import random
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import msgpack
from websockets.asyncio.client import ClientConnection, connect

from client.models.wall import WallWatch
from server.admission import Admission
from server.clock import spare_pauses, wall_time
from server.net.door import DoorLimits
from server.net.listener import Limits, open_listener
from server.records import TableRecord
from server.store import Store
from server.table.table import Table
from shared.cards.play import shipped_text
from shared.rules.intents import Intent, Lift, Offer, Pass, Ready, Vote
from shared.rules.pace import GRACE_MS
from shared.rules.settings import Settings
from shared.rules.steps import STEP_NAMES, STEPS
from shared.rules.tiles import JOKER
from shared.wire.messages import PROTOCOL, TO_CLIENT, TO_SERVER, Command, Hello
from shared.wire.views import View

STEP_MS = 14_000
SETTINGS = Settings(lengths_ms=dict.fromkeys(STEP_NAMES, STEP_MS), carry_over=False, heats=12)
SLEEPER_EVERY = 4
FIRST_S, LAST_S = 2.0, 12.0


# ---- the host, in a process of its own


def memory_kib() -> int:
    """Return the resident memory of this process in KiB."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") // 1024


async def serve(tables: int, coach: bool) -> None:
    """Hold tables until the standard input ends; answer every line on it with memory and processor time so far."""
    with tempfile.TemporaryDirectory() as folder:
        store = Store.open(Path(folder) / "tables.sqlite3")
        limits = Limits(DoorLimits(most=10_000, each=10_000), connections=10_000, connections_each=10_000)
        async with (
            Admission.open(store) as admission,
            open_listener(admission, "127.0.0.1", 0, limits=limits) as listener,
        ):
            for number in range(tables + coach):
                skill = "coach, thinking ahead" if number == tables else "simple"
                settings = SETTINGS.model_copy(update={"bot_skill": skill})
                record = TableRecord(
                    id=f"t{number}",
                    name=f"Table {number}",
                    code=f"code {number}",
                    settings=settings,
                    card=shipped_text(),
                )
                admission.add(Table(record, os.urandom, wall_time))
            spare_pauses()
            print(listener.port, flush=True)
            loop = asyncio.get_running_loop()
            while await loop.run_in_executor(None, sys.stdin.readline):
                used = resource.getrusage(resource.RUSAGE_SELF)
                told = {"kib": memory_kib(), "cpu_s": used.ru_utime + used.ru_stime}
                print(json.dumps(told), flush=True)
        await store.close()


class Host:
    """The host's process."""

    def __init__(self, tables: int, coach: bool) -> None:
        words = [sys.executable, "-m", "tests.bench.table", "--serve", str(tables), *([] if coach else ["--no-coach"])]
        self.process = subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        self.port = int(self._line())

    def ask(self) -> dict[str, float]:
        assert self.process.stdin
        self.process.stdin.write("?\n")
        self.process.stdin.flush()
        told: dict[str, float] = json.loads(self._line())
        return told

    def close(self) -> None:
        assert self.process.stdin
        self.process.stdin.close()
        self.process.wait(timeout=60)

    def _line(self) -> str:
        assert self.process.stdout
        return self.process.stdout.readline()


# ---- the people, in this process


@dataclass
class Measured:
    """What all tables together showed; milliseconds."""

    passes: list[float] = field(default_factory=list)
    deadlines: list[float] = field(default_factory=list)
    is_on: bool = False


@dataclass
class Sitting:
    """One table of four people: when the last answer of each step was sent, and who has read what."""

    measured: Measured
    dice: random.Random
    sleeper: int = -1
    sent_s: dict[str, float] = field(default_factory=dict)
    due_s: dict[str, float] = field(default_factory=dict)
    seen: dict[str, int] = field(default_factory=dict)

    def saw(self, step: str, before: str, at_s: float) -> None:
        """Somebody's view shows a step for the first time, which followed the one before."""
        self.seen[step] = self.seen.get(step, 0) + 1
        if self.seen[step] < 4 or not self.measured.is_on:
            return
        if before in self.due_s and self.sleeper >= 0:
            self.measured.deadlines.append((at_s - self.due_s[before]) * 1_000)
        elif before in self.sent_s:
            self.measured.passes.append((at_s - self.sent_s[before]) * 1_000)


class Person:
    """One client that decodes only what it needs before it stamps the time."""

    def __init__(self, sitting: Sitting, number: int) -> None:
        self.sitting, self.number = sitting, number
        self.ids = iter(range(1, 10_000))
        self.step = ""
        self.acting: asyncio.Task[None] | None = None
        self.wall = WallWatch(os.urandom)

    async def run(self, port: int, code: str) -> None:
        """Come, play, and keep playing until cancelled."""
        try:
            await self._play(port, code)
        finally:
            if self.acting:
                self.acting.cancel()

    async def _play(self, port: int, code: str) -> None:
        async with connect(f"ws://127.0.0.1:{port}", compression=None, ping_interval=None, max_size=None) as line:
            hello = Hello(protocol=PROTOCOL, name=f"P{self.number}", code=code, table=code.replace("code ", "t"))
            await line.send(TO_SERVER.pack(hello))
            ready = False
            async for frame in line:
                at_s = time.perf_counter()
                assert isinstance(frame, bytes)
                plain = msgpack.unpackb(frame)
                if plain["kind"] == "welcome":
                    self.wall.connected(plain["table"])
                if plain["kind"] == "view":
                    if plain["phase"] != "heat" and plain["wall"]["attempts"]:
                        await self._take_part(line, frame)
                    if plain["phase"] in ("seating", "between") and not ready:
                        ready = True
                        await self._say(line, Ready(), plain["heat_number"])
                    heat = plain["heat"]
                    if heat and heat["step"]:
                        ready = False
                        self._on_step(line, plain, f"{heat['number']} {heat['step']}", at_s)

    async def _take_part(self, line: ClientConnection, frame: bytes) -> None:
        """Send one's part in a wall that is being made; nothing is measured meanwhile."""
        view = TO_CLIENT.unpack(frame)
        assert isinstance(view, View)
        for intent in self.wall.see(view).intents:
            await self._say(line, intent, view.heat_number)

    def _on_step(self, line: ClientConnection, plain: dict[str, Any], step: str, at_s: float) -> None:
        if step == self.step:
            return
        before, self.step = self.step, step
        self.sitting.saw(step, before, at_s)
        clock = plain["heat"]["clock"]
        if not plain["heat"]["owes"]:
            return  # it waits for others, and no clock of its own ends the step
        if self.number == self.sitting.sleeper:
            self.sitting.due_s[step] = at_s + (clock["left_ms"] + GRACE_MS) / 1_000
        else:
            self.acting = asyncio.create_task(self._act(line, plain["heat"], step))

    async def _act(self, line: ClientConnection, heat: dict[str, Any], step: str) -> None:
        await asyncio.sleep(self.sitting.dice.uniform(FIRST_S, LAST_S))
        answer = answer_to(heat)
        if isinstance(answer, Pass):
            await self._say(line, Lift(step=answer.step, tiles=answer.tiles), heat["number"])
        self.sitting.sent_s[step] = time.perf_counter()
        await self._say(line, answer, heat["number"])

    async def _say(self, line: ClientConnection, intent: Any, heat: int) -> None:
        await line.send(TO_SERVER.pack(Command(id=next(self.ids), heat=heat, intent=intent)))


def answer_to(heat: dict[str, Any]) -> Intent:
    """Return a legal answer without checking the view: what clients compute is not what is measured."""
    match STEPS[heat["step"]].ask:
        case "vote":
            return Vote(go_on=True)
        case "offer":
            return Offer(count=1)
    free = [tile for tile in heat["rack"] if tile != JOKER]
    return Pass(step=heat["step"], tiles=tuple(free[: heat["give"]]))


async def measure(tables: int, seconds: float, coach: bool, one_kib: float) -> dict[str, Any]:
    """Let so many tables play for so long and return what was measured; one_kib is the memory with one table."""
    host, measured = Host(tables, coach), Measured()
    people: list[asyncio.Task[None]] = []
    try:
        for table in range(tables + coach):
            sleeps = table % SLEEPER_EVERY == SLEEPER_EVERY - 1 and table < tables
            sitting = Sitting(measured, random.Random(table), sleeper=3 if sleeps else -1)
            if table == tables:
                sitting.measured = Measured()  # the table of bots is there to be busy, not to be measured
            for number in range(4 if table < tables else 1):
                people.append(asyncio.create_task(Person(sitting, number).run(host.port, f"code {table}")))
            if table % 10 == 9:
                await asyncio.sleep(0.5)  # nobody opens a thousand doors in one moment
        await asyncio.sleep(LAST_S + 4)
        before, began_s, own_s = host.ask(), time.perf_counter(), time.process_time()
        measured.is_on = True
        await asyncio.sleep(seconds)
        measured.is_on = False
        after, took_s, own_s = host.ask(), time.perf_counter() - began_s, time.process_time() - own_s
        faults = [person.exception() for person in people if person.done()]
    finally:
        for person in people:
            person.cancel()
        await asyncio.gather(*people, return_exceptions=True)
        host.close()
    return {
        "tables": tables,
        "passes": len(measured.passes),
        "pass_ms": spread(measured.passes),
        "deadlines": len(measured.deadlines),
        "deadline_ms": spread(measured.deadlines),
        "cpu_cores": round((after["cpu_s"] - before["cpu_s"]) / took_s, 3),
        "clients_cpu_cores": round(own_s / took_s, 3),
        "kib": after["kib"],
        "kib_a_table": round((after["kib"] - one_kib) / (tables - 1), 1) if tables > 1 and not coach else None,
        "lines lost": len(faults),
    }


def spread(values: Sequence[float]) -> dict[str, float] | None:
    """Return median, 99th percentile and the most."""
    if len(values) < 2:
        return None
    return {
        "median": round(statistics.median(values), 1),
        "p99": round(statistics.quantiles(values, n=100, method="inclusive")[98], 1),
        "most": round(max(values), 1),
    }


def main(argv: Sequence[str] | None = None) -> int:
    """Run the host, or measure and print a table or one JSON object."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--tables", default="10,50,250")
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--no-coach", action="store_true", help="no bots beside the people")
    parser.add_argument("--serve", type=int, help=argparse.SUPPRESS)
    args = parser.parse_args(argv)
    if args.serve is not None:
        asyncio.run(serve(args.serve, not args.no_coach))
        return 0
    one = asyncio.run(measure(1, 5, not args.no_coach, 0))
    rows = []
    for text in args.tables.split(","):
        rows.append(asyncio.run(measure(int(text), args.seconds, not args.no_coach, one["kib"])))
        if not args.json:
            print(rows[-1], flush=True)
    if args.json:
        load = os.getloadavg()
        print(
            json.dumps({"seconds": args.seconds, "cores": os.cpu_count(), "load_after": load, "rows": rows}, indent=1)
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
