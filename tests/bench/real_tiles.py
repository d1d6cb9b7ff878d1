"""How many keys real tiles cost, and how long a question from the command line takes when nothing is warm.

    python -m tests.bench.real_tiles [--racks 200] [--heats 50] [--cold 10]

Racks and heats are dealt at random from whole sets; each is typed key by key into the model that the screen uses, and
what the model then says is compared with what was dealt. Counted are the keys of the compact form with its blanks, and
for a whole heat every enter and the key that opens the lines. The cold time is that of `racktempo ask "TILES"` in a
process of its own, from its start to its end; the first run is left out, since it may compile the modules. Beside it
stands the time of a core, which other work on the machine changes less.
"""

import argparse
import resource
import statistics
import subprocess
import sys
import time
from random import Random

from client.models.real_racks import ClockedHeat, RacksModel
from shared.clock.real_clock import RealClock, real_tiles_heat
from shared.rules.settings import Settings
from shared.rules.tiles import by_suit, full_set
from shared.rules.typed_tiles import compact
from tests.client.real_heats import played_heat

MOST_KEYS, MOST_KEYS_A_HEAT, MOST_COLD_S = 30, 200, 1.0
YEAR = 2026


def keys_of(text: str) -> list[str]:
    """Return the keys that type a text."""
    return ["space" if character == " " else character for character in text]


def clocked(seed: int) -> ClockedHeat:
    """Return a heat of six passes that is over, timed by the real clock; nobody offered a courtesy."""
    settings = Settings()
    clock, now_ms = RealClock(settings=settings).begin(0, "2030-01-01T20:00:00Z"), 0
    while step := clock.face(now_ms).step:
        now_ms += 10_000
        clock = clock.decline(now_ms) if step == "courtesy offer" else clock.done(now_ms)
    (heat,) = clock.finished()
    times = real_tiles_heat(f"bench {seed}", heat, settings)
    return ClockedHeat(times.commitment, 1, True, settings, times)


def keys_for_a_rack(seed: int) -> int:
    """Type 14 tiles dealt at random and return the keys, the enter behind them not counted."""
    rack = tuple(Random(seed).sample(full_set(), 14))
    model, keys = RacksModel((clocked(seed),), YEAR), keys_of(compact(by_suit(rack)))
    for key in keys:
        model.press(key)
    assert by_suit(model.read.dealt) == by_suit(rack), "the rack was not read as it was typed"
    return len(keys)


def keys_for_a_heat(seed: int) -> int:
    """Type a whole heat, the last rack too, and return all keys."""
    heat, count = played_heat(seed, 14), 1
    model = RacksModel((clocked(seed),), YEAR)
    for line in (*heat.typed(), compact(by_suit(heat.final))):
        for key in (*keys_of(line), "enter"):
            model.press(key)
            count += 1
    assert model.read.is_whole, model.read.faults
    assert by_suit(model.read.left) == by_suit(heat.final)
    return count


def cold_s(rack: str) -> tuple[float, float]:
    """Return how long the command takes in a new process: by the clock on the wall, and in time of a core."""
    before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    command = "import sys; from client.cli import main; sys.exit(main())"
    subprocess.run([sys.executable, "-c", command, "ask", rack], check=True, stdout=subprocess.DEVNULL)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent_s = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return time.perf_counter() - began, spent_s


def main() -> int:
    """Print the figures; the exit code says whether they keep to the aims."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--racks", type=int, default=200)
    parser.add_argument("--heats", type=int, default=50)
    parser.add_argument("--cold", type=int, default=10)
    args = parser.parse_args()
    racks = [keys_for_a_rack(seed) for seed in range(args.racks)]
    heats = [keys_for_a_heat(seed) for seed in range(args.heats)]
    print(f"14 tiles, {len(racks)} racks: median {statistics.median(racks):.0f} keys, most {max(racks)}")
    print(f"whole heat, {len(heats)} heats: median {statistics.median(heats):.0f} keys, most {max(heats)}")
    kept = statistics.median(racks) <= MOST_KEYS and max(heats) <= MOST_KEYS_A_HEAT
    if args.cold:
        typed = [compact(by_suit(Random(seed).sample(full_set(), 14))) for seed in range(args.cold + 1)]
        times = [cold_s(rack) for rack in typed][1:]
        for which, measured in zip(("by the clock", "of a core"), zip(*times, strict=True), strict=True):
            median, most = statistics.median(measured), max(measured)
            print(f"racktempo ask, cold, {len(times)} times: median {median:.2f} s {which}, most {most:.2f} s")
        kept = kept and statistics.median(wall for wall, _ in times) <= MOST_COLD_S
    return 0 if kept else 1


if __name__ == "__main__":
    sys.exit(main())
