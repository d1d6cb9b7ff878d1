"""Does the coach of an evening delay a table? python -m tests.bench.reviewing [--json] [--tables 10] [--windows 8]

One process holds tables as in tests.bench.table, with people over sockets from this process; beside it its review
process looks at a heat again and again, or rests, in turn for a quarter of a minute each, so that whatever else the
machine does meets both alike. Measured as there: how much later than the clock said the next step's view has been read,
and how long after the last of four passes. Run it without nice: the review process has the lowest priority by itself.
"""

import argparse
import asyncio
import contextlib
import json
import os
import random
import resource
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from client.hosting.table import play_bots
from server.admission import Admission
from server.clock import spare_pauses, wall_time
from server.club.review_process import ReviewProcess
from server.net.listener import Limits, open_listener
from server.records import TableRecord
from server.store import Store
from server.table.table import Table
from shared.cards.play import shipped_text
from shared.rules.heat import final_state
from shared.rules.seat_heat import SeatHeat, seat_heat
from shared.rules.seats import Seat
from shared.rules.settings import Settings
from tests.bench.table import LAST_S, SETTINGS, Measured, Person, Sitting, spread

WINDOW_S = 15.0


def a_heat() -> SeatHeat:
    """Return a heat of a person on the practice card."""
    (heat,) = play_bots(Settings(seed=5, heats=1, bot_skill="simple"))
    lived = seat_heat(heat, final_state(heat), Seat.SOUTH)
    return lived.model_copy(update={"steps": tuple(step.model_copy(update={"by": "person"}) for step in lived.steps)})


async def look_on(process: ReviewProcess, heat: SeatHeat, done: list[int]) -> None:
    """Review a heat again and again until cancelled."""
    while True:
        await process.look(heat)
        done[0] += 1


async def serve(tables: int) -> None:
    """Hold tables; at each line of standard input let the coach look or rest and tell how many it has reviewed."""
    heat, process, done = a_heat(), ReviewProcess(), [0]
    with tempfile.TemporaryDirectory() as folder:
        store = Store.open(Path(folder) / "tables.sqlite3")
        limits = Limits(connections=10_000, connections_each=10_000)
        async with (
            Admission.open(store) as admission,
            open_listener(admission, "127.0.0.1", 0, limits=limits) as listener,
        ):
            for number in range(tables):
                settings = SETTINGS.model_copy(update={"bot_skill": "simple"})
                names = {"id": f"t{number}", "name": f"Table {number}", "code": f"code {number}"}
                admission.add(
                    Table(TableRecord(**names, settings=settings, card=shipped_text()), os.urandom, wall_time)
                )
            spare_pauses()
            print(listener.port, flush=True)
            looking: asyncio.Task[None] | None = None
            while line := await asyncio.get_running_loop().run_in_executor(None, sys.stdin.readline):
                if looking:
                    looking.cancel()
                    with contextlib.suppress(asyncio.CancelledError):
                        await looking
                looking = asyncio.create_task(look_on(process, heat, done)) if line == "look\n" else None
                used = resource.getrusage(resource.RUSAGE_CHILDREN)
                print(json.dumps({"reviews": done[0], "cpu_s": used.ru_utime + used.ru_stime}), flush=True)
            if looking:
                looking.cancel()
        await store.close()


class Host:
    """The host's process."""

    def __init__(self, tables: int) -> None:
        words = [sys.executable, "-m", "tests.bench.reviewing", "--serve", str(tables)]
        self.process = subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        assert self.process.stdin
        assert self.process.stdout
        self.write, self.read = self.process.stdin, self.process.stdout
        self.port = int(self.read.readline())

    async def ask(self, word: str) -> dict[str, float]:
        """Let the coach "look" or "rest", and return what it has done so far."""
        self.write.write(f"{word}\n")
        self.write.flush()
        told: dict[str, float] = json.loads(await asyncio.get_running_loop().run_in_executor(None, self.read.readline))
        return told

    def close(self) -> None:
        self.write.close()
        self.process.wait(timeout=60)


async def measure(tables: int, windows: int) -> dict[str, Any]:
    """Let tables play, the coach looking in every second window, and return what was measured in both kinds."""
    host = Host(tables)
    kinds = {"looks": Measured(), "rests": Measured()}
    sittings = []
    people: list[asyncio.Task[None]] = []
    told = {"reviews": 0.0, "cpu_s": 0.0}
    try:
        for table in range(tables):
            sleeper = 3 if table % 2 else -1
            sittings.append(Sitting(Measured(), random.Random(table), sleeper))
            people += [
                asyncio.create_task(Person(sittings[-1], number).run(host.port, f"code {table}")) for number in range(4)
            ]
        await asyncio.sleep(LAST_S + 4)
        for window in range(windows):
            kind = "looks" if window % 2 else "rests"
            told = await host.ask(kind.removesuffix("s"))
            await asyncio.sleep(2)  # its process has started, or has ended
            for sitting in sittings:
                sitting.measured = kinds[kind]
            kinds[kind].is_on = True
            await asyncio.sleep(WINDOW_S)
            kinds[kind].is_on = False
        told = await host.ask("rest")
    finally:
        for person in people:
            person.cancel()
        await asyncio.gather(*people, return_exceptions=True)
        host.close()
    return {
        "tables": tables,
        "reviews": told["reviews"],
        "review processor s": round(told["cpu_s"], 1),
        "load": os.getloadavg(),
        **{
            f"coach {kind}": {
                "deadlines": len(measured.deadlines),
                "deadline_ms": spread(measured.deadlines),
                "passes": len(measured.passes),
                "pass_ms": spread(measured.passes),
            }
            for kind, measured in kinds.items()
        },
    }


def main(argv: Sequence[str] | None = None) -> int:
    """Run the host, or measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--tables", type=int, default=10)
    parser.add_argument("--windows", type=int, default=8)
    parser.add_argument("--serve", type=int, help=argparse.SUPPRESS)
    args = parser.parse_args(argv)
    if args.serve is not None:
        asyncio.run(serve(args.serve))
        return 0
    result = asyncio.run(measure(args.tables, args.windows))
    print(json.dumps(result, indent=1) if args.json else "\n".join(f"{key}: {value}" for key, value in result.items()))
    return 0


if __name__ == "__main__":
    sys.exit(main())
