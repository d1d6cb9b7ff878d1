"""How long ten decisions of a drill take: python -m tests.bench.drills [--json] [--drill first] [--seconds 3]

A scripted player sits at the real full screen (headless, 80x24) with the real coach in its own process. From the enter
that leaves the goal it takes the same seconds for every answer, waits for each verdict to be painted, and goes on at
once. The limit is ten times the seconds used, and five more. Apart: from the answer to the painted verdict, and from
the enter after a verdict to the next rack on screen.
"""

import argparse
import asyncio
import json
import os
import statistics
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime

from client.coach.drilling import fresh
from client.connection.join import open_join
from client.hosting.alone import open_solo
from client.hosting.table import open_host
from client.tui.app import RacktempoApp
from client.tui.ports import AtHome, Openers
from client.tui.screens.decisions import DecisionScreen
from shared.cards.play import shipped_text
from shared.rules.decisions import ROUND, Drill
from shared.rules.settings import Settings
from shared.rules.wall import seeded_secret

MORE_S = 5.0
FRESH: tuple[Drill, ...] = ("first", "tempting", "go on", "courtesy", "discard", "family")


async def play(drill: Drill, seconds: float, seed: int) -> dict[str, object]:
    app = RacktempoApp(Openers(solo=open_solo, host=open_host, join=open_join), AtHome(), name="Script")
    verdicts_ms: list[float] = []
    racks_ms: list[float] = []
    used_s: list[float] = []
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        key = seeded_secret(seed, 1)
        app.decide(fresh(app.coaching, app.journal, drill, Settings(), shipped_text(), key, lambda: datetime.now(UTC)))
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, DecisionScreen)
        model = screen.model

        async def until(holds: Callable[[], object]) -> None:
            while not holds():  # noqa: ASYNC110 (what is painted sets no event)
                await asyncio.sleep(0.001)
            painted = asyncio.Event()
            screen.call_after_refresh(painted.set)
            await painted.wait()

        began_s = asked_s = time.monotonic()
        screen.do("enter")
        for number in range(ROUND):
            await until(lambda: model.phase == "deciding")
            shown_s = time.monotonic()
            racks_ms.append(1_000 * (shown_s - asked_s))
            free = [letter for at, letter in enumerate("abcdefghijklmn") if model.rack.may_lift(at)]
            keys = [*(model.numbers[-1:] or free[: model.wanted]), "enter"]
            for letter in keys[:-1] if drill != "family" else ():
                screen.do(letter)
            await asyncio.sleep(max(0.0, shown_s + seconds - time.monotonic()))
            answered_s = time.monotonic()
            screen.do(keys[-1] if drill != "family" else keys[0])
            used_s.append(answered_s - shown_s)
            await until(lambda number=number: model.done[number].judgement or model.done[number].trouble)
            assert not model.done[number].trouble, model.done[number].trouble
            asked_s = time.monotonic()
            verdicts_ms.append(1_000 * (asked_s - answered_s))
            screen.do("enter")
        whole_s = time.monotonic() - began_s
    limit_s = sum(used_s) + MORE_S
    return {
        "drill": drill,
        "used s": round(sum(used_s), 2),
        "whole s": round(whole_s, 2),
        "limit s": round(limit_s, 2),
        "goal to first rack ms": round(racks_ms[0]),
        "to the next rack ms": {
            "median": round(statistics.median(racks_ms[1:]), 1),
            "longest": round(max(racks_ms[1:]), 1),
        },
        "to the verdict ms": {"median": round(statistics.median(verdicts_ms)), "longest": round(max(verdicts_ms))},
        "met": whole_s <= limit_s,
    }


def main() -> int:
    parser = argparse.ArgumentParser("python -m tests.bench.drills", description=__doc__)
    parser.add_argument("--drill", choices=FRESH, help="one drill; default: all that deal fresh racks")
    parser.add_argument("--seconds", type=float, default=3.0)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--json", action="store_true")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        for name in ("HOME", "XDG_DATA_HOME", "XDG_STATE_HOME", "XDG_CONFIG_HOME"):
            os.environ[name] = folder
        found = [asyncio.run(play(drill, args.seconds, args.seed)) for drill in ([args.drill] if args.drill else FRESH)]
    if args.json:
        print(json.dumps(found, indent=2))
    else:
        for each in found:
            print(each)
    return 0 if all(each["met"] for each in found) else 1


if __name__ == "__main__":
    raise SystemExit(main())
