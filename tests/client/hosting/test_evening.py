"""An evening that runs by a plan, in virtual time with the real server: its end waits for the coach, and can be
stopped.
"""

import asyncio
import csv
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, cast

import pytest

from client import cli
from client.connection.opened import Line, Opened
from client.hosting.evening import WAYS_ON, Unfinished, follow, open_desk
from client.hosting.evening_plan import EXAMPLE, Plan, read_plan
from server.evening import HostedClub
from shared.rules.settings import Settings
from shared.wire.club_views import ClubView, Evening
from shared.wire.desk_intents import DeskOrder
from shared.wire.messages import TO_CLIENT
from tests.client.relay import in_virtual_time
from tests.clubs import ClubEvening
from tests.reviewers import FakeReviewer
from tests.server.players import Player, answer_to, owes

THREE_STEPS = Settings(level_ms=100_000, second="never", courtesy=False, heats=2, bot_pace="quick", same_deal=True)


@dataclass
class Run:
    """A plan that is followed, what it said, and the evening it opened."""

    folder: Path
    reviewer: FakeReviewer
    go_on: Any = "ask"
    example: Plan | None = None
    said: list[str] = field(default_factory=list)
    hosted: HostedClub | None = None
    is_open: asyncio.Event = field(default_factory=asyncio.Event)

    @property
    def plan(self) -> Plan:
        if self.example:
            return self.example
        files = {name: str(self.folder / name) for name in ("heats", "standings", "page")}
        return Plan(name="Tuesday", tables=("", ""), settings=THREE_STEPS, pause_ms=0, countdown_ms=0, files=files)

    def start(self) -> "asyncio.Task[int]":
        def say(hosted: HostedClub) -> None:
            self.hosted = hosted
            self.is_open.set()

        loop, path = asyncio.get_running_loop(), self.folder / "evening.sqlite3"
        opening = _unannounced(
            open_desk(
                self.plan.settings,
                self.plan.name,
                self.plan.tables,
                port=0,
                go_on=self.go_on,
                path=path,
                reviewer=self.reviewer,
                say=say,
            )
        )
        return asyncio.create_task(follow(self.plan, opening, self.said.append, loop.time, 0))

    def rows(self, name: str) -> list[dict[str, str]]:
        return list(csv.DictReader((self.folder / name).read_text("utf-8-sig").splitlines()))


@asynccontextmanager
async def _unannounced(opening: Any) -> AsyncIterator[Opened]:
    async with opening as opened:
        yield Opened(opened.line)


async def play(run: Run, name: str) -> None:
    assert run.hosted
    player = Player(run.hosted.own_listener.port, name, run.hosted.record.code)
    await player.come()
    while player.view is None or player.view.phase != "over":
        view = await player.until(lambda view: owes(view) or view.phase == "over")
        if owes(view):
            await asyncio.sleep(1)
            await player.ask(answer_to(view))
    await player.go()


async def play_the_heats(run: Run) -> "asyncio.Task[int]":
    """Start a run, and let eight people play both heats."""
    following = run.start()
    await run.is_open.wait()
    await asyncio.gather(*(play(run, f"P{number}") for number in range(1, 9)))
    return following


def test_the_results_wait_for_the_coach_and_lines_say_how_far_it_is(home: Path) -> None:
    async def scene() -> None:
        run = Run(home, FakeReviewer(seconds=3))
        following = await play_the_heats(run)
        began_s = asyncio.get_running_loop().time()
        assert await following == 0
        assert 30 < asyncio.get_running_loop().time() - began_s < 60
        told = [line for line in run.said if line.startswith("The coach")]
        assert told[-1] == "The coach has reviewed 16 of 16."
        assert 4 <= len(told) <= 8
        assert run.said.index(told[-1]) < run.said.index("Asked: end evening.")
        assert run.said[-1] == "The evening is over."
        heats = run.rows("heats")
        assert len(heats) == 16
        for row in heats:
            number = float(row["name"][1:])
            assert (float(row["points lost"]), row["passes with a choice"], float(row["points"])) == (
                number,
                "2",
                10 * number,
            )
            assert row["tables compared"] == "1"
        losses = [row for row in run.rows("standings") if row["standing"] == "points lost a pass"]
        assert [(row["name"], float(row["value"])) for row in losses] == [(f"P{n}", n / 2) for n in range(1, 9)]
        page = (home / "page").read_text()
        assert "Nothing to compare yet." not in page
        assert "No heat has been reviewed yet" not in page

    in_virtual_time(scene())


def test_whoever_stops_it_while_the_coach_looks_can_go_on_and_gets_the_whole_results(home: Path) -> None:
    async def scene() -> None:
        run = Run(home, FakeReviewer(seconds=3))
        following = await play_the_heats(run)
        await asyncio.sleep(5)
        assert run.reviewer.at_once == 1
        following.cancel()
        with pytest.raises(asyncio.CancelledError):
            await following
        assert run.reviewer.at_once == 0
        assert not (home / "heats").exists()
        with pytest.raises(Unfinished, match=WAYS_ON):
            await Run(home, FakeReviewer()).start()
        again = Run(home, FakeReviewer(seconds=3), "resume")
        assert await again.start() == 0
        assert len(again.reviewer.asked) < 16
        assert len(again.reviewer.asked) + len(run.reviewer.asked) == 17, "one was stopped in the middle"
        assert all(row["points lost"] for row in again.rows("heats"))

    in_virtual_time(scene())


class OverLine:
    """A line to an evening that is over while the coach has yet to look at something."""

    rtt_ms = 0

    def __init__(self, view: ClubView, evening: Evening) -> None:
        self.view, self.evening = view, evening
        self.closed = asyncio.Event()

    def ask(self, intent: object, heat: int) -> int:
        raise AssertionError(f"nothing is asked any more: {cast(DeskOrder, intent)}")

    async def run(self, hear: Callable[[Any], None]) -> None:
        hear(self.view)
        hear(self.evening)
        await self.closed.wait()

    def close(self) -> None:
        self.closed.set()


def test_after_the_evening_is_over_stopping_writes_what_is_known(home: Path) -> None:
    async def scene() -> None:
        shown = ClubEvening(tables=1).shown().model_copy(update={"over": True, "looked": 1, "to_look_at": 3})
        shown = cast(ClubView, TO_CLIENT.unpack(TO_CLIENT.pack(shown)))
        run = Run(home, FakeReviewer())

        @asynccontextmanager
        async def opening() -> AsyncIterator[Opened]:
            yield Opened(cast(Line, OverLine(shown, Evening(played=()))))

        loop = asyncio.get_running_loop()
        following = asyncio.create_task(follow(run.plan, opening(), run.said.append, loop.time, 0))
        await asyncio.sleep(100)
        assert not following.done()
        following.cancel()
        assert await following == 0
        assert run.said[-2].startswith("Stopped: the results leave out what the coach")
        assert run.said[-1] == "The evening is over."
        assert (home / "heats").exists()

    in_virtual_time(scene())


def test_the_plan_that_is_printed_as_an_example_runs_an_evening_to_its_end(
    home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["desk", "--plan-example"]) == 0
    printed = capsys.readouterr().out
    assert printed == EXAMPLE
    monkeypatch.chdir(home)

    async def scene() -> None:
        run = Run(home, FakeReviewer(seconds=1), example=read_plan(printed.encode()))
        assert await (await play_the_heats(run)) == 0
        assert run.said[-1] == "The evening is over."
        assert [line for line in run.said if line.startswith("Asked")] == [
            *("Asked: start all.",) * 3,
            "Asked: end evening.",
        ]
        assert len(run.rows("heats.csv")) == 24
        assert {row["place"] != "" for row in run.rows("standings.csv")} == {True}
        assert "Tuesday at the Boathouse" in (home / "evening.html").read_text()

    in_virtual_time(scene())


def test_every_field_of_a_plan_is_in_the_example() -> None:
    plan, plain = read_plan(EXAMPLE.encode()), Plan()
    same = {name for name in Plan.__dataclass_fields__ if getattr(plan, name) == getattr(plain, name)}
    assert same == {"starts_ms", "countdown_ms", "pause_ms"}, "those that say what would be anyway"
    assert (plan.places_from, plan.patience_ms, plan.card) == (2, 60_000, "practice")
