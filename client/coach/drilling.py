"""A round of decisions: where each comes from, what the coach says of its answer, and what is kept of it.

The screen and plain lines both play rounds with it. Computes nothing; every wait is on the coach's process or a disk.
"""

import asyncio
from collections.abc import Awaitable, Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from client.coach.queue import Coaching
from client.models.decisions import Decided
from client.storage.costliest import NONE_YET, Costly, comes_next, comes_now, costliest
from client.storage.drilled import Round, record_lines, remember
from client.storage.journal import Journal
from shared.rules.decisions import DRILLS, ROUND, Decision, Drill, HeatKey
from shared.rules.seat_heat import SeatHeat
from shared.rules.settings import Settings
from shared.rules.steps import STEPS, StepName
from shared.rules.tiles import Rack

AGAIN = "That choice again"


@dataclass(frozen=True)
class Drilling:
    """A round of decisions.

    Attributes:
        coaching: the coach.
        supply: returns the decision of a number, counted from 0; raises ValueError with a sentence if there is none.
        count: how many there are.
        title: what is played.
        goal: its goal in a line; empty if it begins at once.
        drill: which drill it is; None if nothing is kept of it.
        journal: where it is kept.
        now: the wall time.
        costly: the decisions of which is kept when they come back.
    """

    coaching: Coaching
    supply: Callable[[int], Awaitable[Decision]]
    count: int
    title: str
    goal: str = ""
    drill: Drill | None = None
    journal: Journal = Journal()
    now: Callable[[], datetime] = datetime.now
    costly: Mapping[HeatKey, Costly] = field(default_factory=dict)

    async def judge(self, done: Decided) -> None:
        """Add what the coach says of an answer; of the costliest decisions keep when they come back."""
        try:
            done.judgement = await self.coaching.judge(done.decision, done.answer)
        except ValueError as error:
            done.trouble = str(error)
            return
        costly = self.costly.get(done.decision.key) if done.decision.key else None
        if costly is not None:
            memory = remember(costly.memory, done.judgement.rating, self.now())
            done.trouble = await asyncio.to_thread(self.journal.remember, costly.heat, costly.step, memory)

    async def finish(self, done: Sequence[Decided]) -> tuple[str, ...]:
        """Keep what came of a round, and return it beside the earlier ones."""
        judged = [(each, each.judgement) for each in done if each.judgement]
        if self.drill is None or not judged:
            return ()
        ratings = [judgement.rating for _, judgement in judged]
        now = Round(
            played_s=int(self.now().timestamp()),
            best=ratings.count("best"),
            close=ratings.count("close"),
            costly=ratings.count("costly"),
            out=ratings.count("out of time"),
            spent_ms=sum(each.spent_ms for each, _ in judged),
            points=sum(judgement.loss.points for _, judgement in judged),
        )
        earlier = await asyncio.to_thread(self.journal.rounds, self.drill)
        trouble = await asyncio.to_thread(self.journal.add_round, self.drill, now)
        return (*record_lines(now, earlier), *([trouble] if trouble else []))


def again(coaching: Coaching, choices: Sequence[tuple[SeatHeat, StepName, float | None]]) -> Drilling:
    """Return decisions of one's own heats, each as it stood; the last of a choice is how many points it lost."""

    async def supply(number: int) -> Decision:
        return await coaching.decision(*choices[number])

    return Drilling(coaching, supply, len(choices), AGAIN)


def every_choice(coaching: Coaching, heat: SeatHeat) -> Drilling:
    """Return every decision of a heat, one after the other."""
    steps = [step for step in heat.steps if STEPS[step.step].ask != "plan" and (step.given or not step.is_pass)]
    return again(coaching, [(heat, step.step, None) for step in steps])


def fresh(
    coaching: Coaching,
    journal: Journal,
    drill: Drill,
    settings: Settings,
    card: str,
    key: bytes,
    now: Callable[[], datetime],
) -> Drilling:
    """Return a round of fresh deals; the key decides them."""

    async def supply(number: int) -> Decision:
        return await coaching.fresh(drill, settings, card, key + bytes([number]))

    aim = DRILLS[drill]
    return Drilling(coaching, supply, ROUND, aim.title, aim.goal, drill, journal, now)


async def own_costliest(coaching: Coaching, journal: Journal, now: Callable[[], datetime]) -> Drilling | str:
    """Return a round of one's own costliest decisions that are due, or one sentence why there is none."""
    read = await asyncio.to_thread(journal.read)
    found = costliest(read.entries)
    decisions: list[Decision] = []
    costly: dict[HeatKey, Costly] = {}
    trouble = ""
    for each in comes_now(found, now()):
        if len(decisions) == ROUND:
            break
        try:
            decision = await coaching.decision(each.heat, each.step, each.points)
        except ValueError as error:  # its card is not at hand, say: another one takes its place
            trouble = str(error)
            continue
        decisions.append(decision)
        if decision.key:
            costly[decision.key] = each
    if not decisions:
        due = comes_next(found)
        waits = f"None is due before {due:%Y-%m-%d}." if due else " ".join(read.faults) or NONE_YET
        return trouble or waits
    supply, aim = _all_of(decisions), DRILLS["costliest"]
    return Drilling(coaching, supply, len(decisions), aim.title, aim.goal, "costliest", journal, now, costly)


async def of_rack(coaching: Coaching, rack: Rack, settings: Settings, card: str) -> Drilling:
    """Return what can be asked about a rack of real tiles; nothing of it is kept.

    Raises:
        ValueError: with a sentence: a rack has 13 or 14 tiles.
    """
    decisions = await coaching.about_rack(rack, settings, card)
    aim = DRILLS["rack"]
    return Drilling(coaching, _all_of(decisions), len(decisions), aim.title, aim.goal)


def _all_of(decisions: Sequence[Decision]) -> Callable[[int], Awaitable[Decision]]:
    async def supply(number: int) -> Decision:
        return decisions[number]

    return supply
