"""The waits that a player sees: a whole review, a rack read from a cold start, and the screen while the coach thinks.

    python -m tests.bench.review [--json] [--quick] [--only review,read,loop]

Reviews are of East's heat (14 tiles) by the practice card, which has more variants than the 1,000 that the target
names. The processor's seconds are told beside the clock's: on a machine that is busy with other things only the former
say anything. The loop's lateness is measured beside a loop that wakes every 10 ms and then works as a screen does.
"""

import argparse
import asyncio
import json
import resource
import subprocess
import sys
import time
from collections.abc import Awaitable, Callable
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from client.coach.jobs import review_heat
from client.coach.process import CoachService
from client.hosting.table import play_bots
from shared.cards.play import shipped_text
from shared.coach.coach import Coach, coach_of
from shared.coach.heats import ToReview, to_review
from shared.coach.ranking import THINK
from shared.rules.heat import final_state
from shared.rules.seat_heat import seat_heat
from shared.rules.seats import Seat
from shared.rules.settings import Settings
from tests.bench.coach import lines, machine

SEED = 4040
REVIEW_S, READ_S = 1.0, 1.0
RACK = "1b 1b 2b 3b 5c 6c 7c 9d N E F F J 2d"
READS = {
    "the passing over": [],
    "first left, JSON": ["--step", "first left", "--json"],
    "the vote": ["--step", "go on"],
}
PARTS = ("review", "read", "loop")
_WAKE_S, _WORK_S = 0.010, 0.003


def heats(count: int) -> list[ToReview]:
    """Return East's part of heats that four coached bots played on the practice card."""
    settings = Settings(seed=SEED, heats=min(count, 12), plan=True, bot_skill="coach, at a glance")
    seeds = range(SEED, SEED + -(-count // settings.heats))
    played = [heat for seed in seeds for heat in play_bots(settings.model_copy(update={"seed": seed}))]
    return [to_review(seat_heat(heat, final_state(heat), Seat.EAST)) for heat in played[:count]]


def reviews(asked: list[ToReview]) -> dict[str, object]:
    """Measure whole reviews one after the other, in this process, the engine warm."""
    coach = coach_of(shipped_text())
    assert isinstance(coach, Coach)
    *_, _ = review_heat(asked[0])
    clock, processor, first = [], [], []
    for each in asked:
        began, began_cpu = time.perf_counter(), time.process_time()
        steps = review_heat(each)
        next(steps), next(steps)
        first.append(time.perf_counter() - began)
        for _ in steps:
            pass
        clock.append(time.perf_counter() - began)
        processor.append(time.process_time() - began_cpu)
    return {
        "heats": len(asked),
        "variants": len(coach.engine.patterns),
        "rounds": THINK.rounds,
        "whole, s by the clock": spread(clock),
        "whole, s of the processor": spread(processor),
        "first step, s by the clock": spread(first),
        "target, median s": REVIEW_S,
    }


def reads(times: int) -> dict[str, object]:
    """Measure racktempo read, each time in a process of its own that knows nothing yet."""
    result: dict[str, object] = {}
    for name, words in READS.items():
        clock, processor = [], []
        for _ in range(times):
            before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
            command = [sys.executable, "-m", "client.cli", "ask", RACK, *words]
            subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
            clock.append(time.perf_counter() - began)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            processor.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
        result[name] = {"s by the clock": spread(clock), "s of the processor": spread(processor)}
    return {"runs": times, **result, "target, s": READ_S}


async def lateness(beside: Awaitable[object]) -> dict[str, object]:
    """Return how late a loop wakes while something runs beside it, in milliseconds."""
    task, late = asyncio.ensure_future(beside), list[float]()
    while not task.done():
        began = time.perf_counter()
        await asyncio.sleep(_WAKE_S)
        late.append(1000 * (time.perf_counter() - began - _WAKE_S))
        until = time.thread_time() + _WORK_S
        while time.thread_time() < until:
            pass
    return {"wakes": len(late), "late, ms": spread(late)}


async def loops(asked: list[ToReview]) -> dict[str, object]:
    """Measure the loop alone, beside reviews in a thread, and beside reviews in the service's process."""

    def here() -> None:
        for each in asked:
            for _ in review_heat(each):
                pass

    async def there() -> None:
        for each in asked:
            async for _ in service.each(review_heat, each):
                pass

    with ThreadPoolExecutor(1) as thread:
        async with CoachService() as service:
            await there()  # Both are warm when they are measured.
            here()
            return {
                "nothing beside it": await lateness(asyncio.sleep(3)),
                "reviews in a thread": await lateness(asyncio.get_running_loop().run_in_executor(thread, here)),
                "reviews in a process": await lateness(there()),
            }


def spread(values: list[float]) -> dict[str, float]:
    """Return median, 95% and greatest of some values."""
    return {"median": float(np.median(values)), "95%": float(np.quantile(values, 0.95)), "most": max(values)}


def measure(parts: set[str], quick: bool, tell: Callable[[str], None]) -> dict[str, object]:
    """Run the parts asked for and return everything measured."""
    result: dict[str, object] = {"machine": machine(), "seed": SEED}
    asked = heats(4 if quick else 24) if parts & {"review", "loop"} else []
    if "review" in parts:
        tell("reviews")
        result["review"] = reviews(asked)
    if "read" in parts:
        tell("reading a rack from a cold start")
        result["read"] = reads(3 if quick else 15)
    if "loop" in parts:
        tell("the loop beside the coach")
        result["loop"] = asyncio.run(loops(asked[: 1 if quick else 4]))
    return result


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="Measure the waits that a player sees.")
    parser.add_argument("--json", action="store_true", help="print JSON")
    parser.add_argument("--quick", action="store_true", help="few heats and runs, to see that it works")
    parser.add_argument("--only", default=",".join(PARTS), help="review,read,loop")
    options = parser.parse_args()
    result = measure(set(options.only.split(",")), options.quick, lambda text: print(text, file=sys.stderr, flush=True))
    print(json.dumps(result, indent=2) if options.json else "\n".join(lines(result)))


if __name__ == "__main__":
    main()
