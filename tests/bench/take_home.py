"""How long it takes to compare many results of one set: python -m tests.bench.take_home FOLDER --people 200

Invented people play a set of three heats; their results lie in FOLDER afterwards. Then the times are compared, all
heats are looked at by the coach on two processes, and all is compared again. Prints seconds by the clock and of this
process's own core, and the size of the page. With --page no coach looks: what it would find is made up, as long as it
usually is, and the page and the lines of the results are measured.
"""

import argparse
import asyncio
import os
import statistics
import time
from pathlib import Path

from client.coach.comparing import Comparing, Sight
from client.hosting.result_lines import line_of, result_of_line
from client.hosting.take_home import looked_at, results_of
from client.reports.set_compare import Compared, compared_page
from client.storage.sets import made_here
from shared.measures.side_by_side import HeatFound, StepFound
from shared.measures.standings import Reviewed
from shared.rules.seat_heat import SeatHeat
from shared.rules.set_result import RESULT
from shared.rules.settings import Settings
from tests.take_home import SETTINGS, handed_in, made


def hand_in_all(folder: Path, people: int, skill: str) -> None:
    """Let people play and put their results into the folder; whoever is there already has played."""
    taken = made(Settings.model_validate({**SETTINGS.model_dump(), "bot_skill": skill}))
    made_here(taken, "ab" * 8, "Bench", "")
    folder.mkdir(parents=True, exist_ok=True)
    for who in range(1, people + 1):
        path = folder / f"{who}.result"
        if not path.exists():
            path.write_bytes(RESULT.pack(handed_in(taken, who)))


def compare(folder: Path, with_coach: bool) -> tuple[Compared, float]:
    """Compare, and return what is shown with the seconds that it took."""
    begun, used = time.perf_counter(), time.process_time()
    results = results_of([str(folder)])
    sight, now = Sight.here(results), Comparing()

    async def look() -> None:
        nonlocal now
        async for found in looked_at(results, with_coach):
            now = found

    asyncio.run(look())
    shown = sight.shown(now)
    page = compared_page(shown, "2026-12-01")
    seconds = time.perf_counter() - begun
    done = f"{len(shown.counts)} results, {now.done} of {now.every} heats looked at"
    print(f"{done}: {seconds:.1f} s ({time.process_time() - used:.1f} s here), {len(page)} bytes", flush=True)
    return shown, seconds


def measure_page(folder: Path) -> None:
    """Print the size of the page with made-up findings, and how long the results are as lines."""
    results = results_of([str(folder)])
    found = {(one.result.player, own.number): _made_up(own) for one in results.handed for own in one.own}
    shown = Sight.here(results).shown(Comparing(len(found), found))
    page, begun = compared_page(shown, "2026-12-01"), time.perf_counter()
    lines = [line_of(one.result) for one in results.handed]
    write_ms = 1000 * (time.perf_counter() - begun) / len(lines)
    begun = time.perf_counter()
    for line in lines:
        result_of_line(line)
    read_ms = 1000 * (time.perf_counter() - begun) / len(lines)
    lengths = [len(line) for line in lines]
    print(f"{len(shown.counts)} results, {len(shown.racks)} racks: a page of {len(page.encode()):,} bytes")
    print(f"lines of {min(lengths)} to {max(lengths)} characters, {statistics.median(lengths):g} in the median")
    print(f"{write_ms:.0f} ms to write one, {read_ms:.0f} ms to read")


def _made_up(own: SeatHeat) -> HeatFound:
    words = (
        "It keeps 2468 four pungs, two suits, 2 F (9 tiles to go), and gives up the run of one suit, 123 and 4567.",
        "It is a tile nearer to consecutive pungs with a kong of flowers.",
    )
    steps = tuple(
        StepFound(step=step.step, best=step.given[:3], words=words, cost=len(step.given) / 3, close=False)
        for step in own.steps
    )
    return HeatFound(reviewed=Reviewed(loss=2.5, unforced=6, points=20.0), steps=steps)


def main() -> None:
    """Measure."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--people", type=int, default=200)
    parser.add_argument("--skill", default="coach, at a glance")
    parser.add_argument("--page", action="store_true", help="only the size of the page and of lines, without a coach")
    parser.add_argument("--times", action="store_true", help="only the times")
    args = parser.parse_args()
    home = args.folder / "home"
    for name in ("HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME"):
        os.environ[name] = f"{home}"
    hand_in_all(args.folder / "in", args.people, args.skill)
    if args.page:
        measure_page(args.folder / "in")
        return
    print(f"load {os.getloadavg()[0]:.0f}")
    compare(args.folder / "in", with_coach=False)
    if not args.times:
        compare(args.folder / "in", with_coach=True)
        compare(args.folder / "in", with_coach=True)


if __name__ == "__main__":
    main()
