"""How long a player alone waits: python -m tests.bench.solo [--json] [--heats 3] [--seconds 3] [--pace "no wait"]

A scripted player sits at the real full screen (headless, 80x24) before a real table for one: its own process, sockets,
a file that is written through to the disk, and the coach's bots. It takes the same seconds for every answer and plays
whole heats at 3:00. Measured are

- each heat against the sum of the player's own seconds, from the first rack on screen to the end screen; at most 1.15;
- from the key that commits to the next rack on screen; 95% within 150 ms; apart, to the end screen after the last;
- from the last commit to the end screen with all that the coach says on it; median within 1 s, 95% within 2 s;
- from a key that lifts a tile to the screen that shows it, while the coach looks at the pass before; 95% within 33 ms.
"""

import argparse
import asyncio
import json
import os
import statistics
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from client.connection.join import open_join
from client.hosting.alone import open_solo
from client.hosting.table import open_host
from client.models.rack import PLACES
from client.models.table import TableModel
from client.tui.app import RacktempoApp
from client.tui.ports import AtSolo, Openers
from client.tui.screens.end import EndScreen
from client.tui.screens.start import StartScreen
from client.tui.screens.table import TableScreen
from shared.rules.settings import Settings

MOST_RATIO, MOST_MS = 1.15, 150.0
MOST_MEDIAN_MS, MOST_COMPLETE_MS, MOST_KEY_MS = 1_000.0, 2_000.0, 33.0


@dataclass
class Heat:
    """One heat: its answers' own seconds, its whole length, and the wait after each answer in milliseconds."""

    began_s: float
    own_s: list[float] = field(default_factory=list)
    waits_ms: list[float] = field(default_factory=list)
    keys_ms: list[float] = field(default_factory=list)
    whole_s: float = 0.0
    complete_ms: float = 0.0

    @property
    def ratio(self) -> float:
        return self.whole_s / sum(self.own_s)


class Timed(RacktempoApp):
    """The app, which notes when a step of the player's, or the end of a heat, has been painted."""

    shown: tuple[int, str] = (0, "over")
    shown_at_s = 0.0
    complete: tuple[int, float] = (0, 0.0)

    def redraw(self) -> None:
        super().redraw()
        table = self.session
        if isinstance(table, TableModel) and table.view:
            heat = table.heat
            asks = heat is not None and heat.owes and table.stage == "deciding"
            now = (table.heat_number, heat.step or "" if heat and asks else "" if heat else "over")
            if now[1] and now != self.shown:
                self.call_after_refresh(self._painted, now)
        if isinstance(self.screen, EndScreen) and self.complete[0] < table.heat_number and self.screen.end().points:
            self.call_after_refresh(self._completed, table.heat_number)

    def _completed(self, number: int) -> None:
        if self.complete[0] < number:
            self.complete = number, time.monotonic()

    def _painted(self, now: tuple[int, str]) -> None:
        if now != self.shown:
            self.shown, self.shown_at_s = now, time.monotonic()


async def play(heats: int, seconds: float, pace: str) -> list[Heat]:
    settings = Settings.model_validate({"seed": 20260, "heats": heats, "bot_pace": pace})
    app = Timed(Openers(solo=open_solo, host=open_host, join=open_join), AtSolo(settings), name="Script")
    played: list[Heat] = []
    async with app.run_test(size=(80, 24)) as pilot:

        async def until(holds: Callable[[], bool]) -> None:
            while not holds():  # noqa: ASYNC110 (what is painted sets no event)
                await asyncio.sleep(0.001)

        for _ in range(heats):
            while not isinstance(app.screen, StartScreen):
                if isinstance(app.screen, EndScreen):
                    app.screen.do("enter")
                await asyncio.sleep(0.02)
            app.screen.do("enter")
            await until(lambda: app.shown[1] != "over" and isinstance(app.screen, TableScreen))
            heat = Heat(app.shown_at_s)
            while app.shown[1] != "over":
                table, screen, before = app.session, app.screen, app.shown
                assert isinstance(table, TableModel)
                assert isinstance(screen, TableScreen)
                assert table.step
                free = [PLACES[at] for at in range(len(table.rack.tiles)) if table.rack.may_lift(at)]
                for key in {"vote": ["1"], "offer": ["1"]}.get(table.step.ask, free[: table.wanted]):
                    painted, pressed_s = asyncio.Event(), time.monotonic()
                    screen.do(key)
                    app.call_after_refresh(painted.set)
                    await painted.wait()
                    heat.keys_ms.append(1_000 * (time.monotonic() - pressed_s))
                await asyncio.sleep(app.shown_at_s + seconds - time.monotonic())
                sent_s = time.monotonic()
                screen.do("enter")
                heat.own_s.append(sent_s - app.shown_at_s)
                await until(lambda before=before: app.shown != before)
                heat.waits_ms.append(1_000 * (app.shown_at_s - sent_s))
            heat.whole_s = app.shown_at_s - heat.began_s
            number = app.shown[0]
            await until(lambda number=number: app.complete[0] == number)
            heat.complete_ms = 1_000 * (app.complete[1] - sent_s)
            played.append(heat)
        await pilot.pause()
    return played


def p95(values: list[float]) -> float:
    """Return the value that 95% do not exceed."""
    return sorted(values)[min(len(values) - 1, int(0.95 * len(values)))]


def spread(values: list[float]) -> dict[str, float]:
    median = statistics.median(values)
    return {"median": round(median, 1), "p95": round(p95(values), 1), "longest": round(max(values), 1)}


def main() -> int:
    parser = argparse.ArgumentParser("python -m tests.bench.solo", description=__doc__)
    parser.add_argument("--heats", type=int, default=3)
    parser.add_argument("--seconds", type=float, default=3.0)
    parser.add_argument("--pace", default="no wait")
    parser.add_argument("--json", action="store_true")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        for name in ("HOME", "XDG_DATA_HOME", "XDG_STATE_HOME", "XDG_CONFIG_HOME"):
            os.environ[name] = folder
        played = asyncio.run(play(args.heats, args.seconds, args.pace))
    waits_ms = [wait for heat in played for wait in heat.waits_ms[:-1]]
    complete_ms = [heat.complete_ms for heat in played]
    keys_ms = [key for heat in played for key in heat.keys_ms]
    worst = max(heat.ratio for heat in played)
    found = {
        "heats": len(played),
        "answers": sum(len(heat.waits_ms) for heat in played),
        "own seconds": [round(sum(heat.own_s), 2) for heat in played],
        "whole seconds": [round(heat.whole_s, 2) for heat in played],
        "worst ratio": round(worst, 3),
        "commit to next rack ms": spread(waits_ms),
        "key to paint ms": spread(keys_ms),
        "commit to complete end screen ms": spread(complete_ms),
        "commit to end screen ms": [round(heat.waits_ms[-1], 1) for heat in played],
        "each wait ms": [[round(wait) for wait in heat.waits_ms] for heat in played],
        "met": worst <= MOST_RATIO
        and p95(waits_ms) <= MOST_MS
        and p95(keys_ms) <= MOST_KEY_MS
        and statistics.median(complete_ms) <= MOST_MEDIAN_MS
        and p95(complete_ms) <= MOST_COMPLETE_MS,
    }
    if args.json:
        print(json.dumps(found, indent=2))
    else:
        for name, value in found.items():
            print(f"{name}: {value}")
    return 0 if found["met"] else 1


if __name__ == "__main__":
    raise SystemExit(main())
