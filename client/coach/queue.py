"""The coach as the screens use it: heats under review, one after the other, and a hint on the pass just made.

Asks the service and keeps what it answers; computes nothing and draws nothing. The coach's own modules are slow to
load, so that they are loaded in a thread, and only once somebody asks.
"""

import asyncio
from collections.abc import AsyncGenerator, Callable, Iterator
from contextlib import aclosing, suppress
from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

from client.models.hint import Asked
from client.storage.card_files import text_for
from client.storage.journal import Journal
from shared.rules.decisions import Answer, Decision, Drill
from shared.rules.drills import Laid
from shared.rules.seat_heat import SeatHeat
from shared.rules.settings import Settings
from shared.rules.steps import StepName
from shared.rules.tiles import Rack

if TYPE_CHECKING:
    from client.models.ask import Asked as AskedRack
    from shared.coach.asking import Answer as RackAnswer
    from shared.coach.decisions import Judgement
    from shared.coach.filling import Filled, Turn
    from shared.coach.passes import Position
    from shared.coach.review import Compared, Review

A = TypeVar("A")


class Service(Protocol):
    """What answers jobs of client.coach.jobs; client.coach.process has the real one."""

    def each(self, job: Callable[..., Iterator[A]], *given: object) -> AsyncGenerator[A, None]:
        """Yield the answers of a job as they come."""

    async def one(self, job: Callable[..., A], *given: object) -> A:
        """Return the answer of a job."""

    async def close(self) -> None:
        """End it."""


@dataclass(slots=True)
class Looking:
    """A heat that is, was, or is going to be looked at: the review as far as it has come, and a sentence if it
    stopped before its end. kept is done once the heat is in the history, if it was not there at first."""

    heat: SeatHeat
    is_own: bool = True
    kept: "asyncio.Future[None] | None" = None
    review: "Review | None" = None
    said: str = ""
    running: bool = False

    @property
    def done(self) -> float:
        """The share of the work that is done, 0 to 1."""
        return self.review.done if self.review else 0.0


class Coaching:
    """Heats under review, each once. changed is called whenever there is something new to draw."""

    def __init__(self, service: Service, journal: Journal, changed: Callable[[], None]) -> None:
        self._service, self._journal, self._changed = service, journal, changed
        self._lookings: dict[tuple[str, int, str], Looking] = {}
        self._tasks: dict[tuple[str, int, str], asyncio.Task[None]] = {}
        self._ahead: asyncio.Task[None] | None = None
        self._ahead_of: list[tuple[str, Asked]] = []

    def look_at(self, heat: SeatHeat, *, is_own: bool = True, kept: "asyncio.Future[None] | None" = None) -> Looking:
        """Return the review of a heat; it begins now if it had not begun.

        A whole one of one's own is kept, once the heat itself is, if that is still to come.
        """
        key = _key(heat)
        if key not in self._lookings:
            self._lookings[key] = Looking(heat, is_own, kept)
            self._begin(key)
        return self._lookings[key]

    def known(self, heat: SeatHeat) -> Looking | None:
        """Return the review of a heat if it has begun."""
        return self._lookings.get(_key(heat))

    def forget(self, heat: SeatHeat) -> None:
        """Drop the review of a heat whose tiles have changed."""
        if looking := self.known(heat):
            self.stop(looking)
            del self._lookings[_key(heat)]

    def go_on(self, looking: Looking) -> None:
        """Begin again with a review that was stopped."""
        if not looking.running and looking.done < 1:
            self._begin(_key(looking.heat))

    def stop(self, looking: Looking) -> None:
        """Stop a review; what is there stays."""
        task = self._tasks.get(_key(looking.heat))
        if task is not None:
            task.cancel()

    async def compare(self, card: str, position: "Position", tiles: Rack, blind: int, seed: int) -> "Compared":
        """Return another pass at a step beside the best.

        Raises:
            ValueError: with a sentence.
        """
        jobs = await _jobs()
        found: Compared = await self._service.one(jobs.compare_pass, card, position, tiles, blind, seed)
        return found

    async def hint(self, card: str, asked: Asked) -> "Compared":
        """Return a pass that has been made beside the best.

        Raises:
            ValueError: with a sentence.
        """
        jobs = await _jobs()
        found: Compared = await self._service.one(jobs.compare_made, card, asked)
        return found

    async def answer(self, card: str, asked: "AskedRack") -> "RackAnswer":
        """Return the answer to a question about a typed rack.

        Raises:
            ValueError: with a sentence.
        """
        jobs = await _jobs()
        found: RackAnswer = await self._service.one(jobs.answer_asked, card, asked)
        return found

    async def after(self, heat: SeatHeat) -> tuple[str, "Position"]:
        """Return the text of a heat's card, and what its seat knew after the last pass.

        Raises:
            ValueError: with a sentence.
        """
        jobs = await _jobs()
        asked = await asyncio.to_thread(lambda: jobs.to_review(heat, text_for(heat)))
        return asked.card, asked.lived.final

    async def filling(self, card: str, position: "Position", seed: int) -> AsyncGenerator["Filled", None]:
        """Yield what came of a rack that is played on many times, as far as it has come; closing it stops the coach.

        Raises:
            ValueError: with a sentence.
        """
        jobs = await _jobs()
        async with aclosing(self._service.each(jobs.fill_rack, card, position, seed)) as answers:
            async for filled in answers:
                yield filled

    async def one_game(self, card: str, position: "Position", seed: int) -> "tuple[Turn, ...]":
        """Return one game of a rack that is played on, turn by turn.

        Raises:
            ValueError: with a sentence.
        """
        jobs = await _jobs()
        found: tuple[Turn, ...] = await self._service.one(jobs.play_once, card, position, seed)
        return found

    async def judge(self, decision: Decision, answer: Answer | None) -> "Judgement":
        """Return what the coach says of an answer to a decision; None if there was none in time.

        Raises:
            ValueError: with a sentence.
        """
        jobs = await _jobs()
        found: Judgement = await self._service.one(jobs.judge_decision, decision.card, decision, answer)
        return found

    async def decision(self, heat: SeatHeat, step: StepName, lost: float | None = None) -> Decision:
        """Return a decision of one's own as it stood in a heat; lost is how many points it cost, if that is known.

        Raises:
            ValueError: with a sentence: there was none, or the card is not at hand.
        """
        jobs = await _jobs()
        asked = await asyncio.to_thread(lambda: jobs.to_review(heat, text_for(heat)))
        what = f"heat {heat.number}, {step}"
        found: Decision | str = await asyncio.to_thread(jobs.decision_of, heat, step, asked.card, what, lost)
        if isinstance(found, str):
            raise ValueError(found)
        return found

    async def fresh(self, drill: Drill, settings: Settings, card: str, key: bytes) -> Decision:
        """Return a fresh decision of a drill; the key decides it.

        Raises:
            ValueError: with a sentence.
        """
        jobs = await _jobs()
        found: Decision = await self._service.one(jobs.deal_decision, card, drill, settings, key)
        return found

    async def about_rack(self, rack: Rack, settings: Settings, card: str) -> tuple[Decision, ...]:
        """Return what can be asked about a rack of real tiles.

        Raises:
            ValueError: with a sentence.
        """
        jobs = await _jobs()
        found: tuple[Decision, ...] = await self._service.one(jobs.decisions_of_rack, rack, settings, card)
        return found

    def look_ahead(self, card: str, asked: Asked) -> None:
        """Let the coach think about an answer of a heat that still runs, so that its review comes at once."""
        if self._ahead is None or self._ahead.done():
            self._ahead_of, self._ahead = [], asyncio.create_task(self._think_ahead())
        self._ahead_of.append((card, asked))

    async def _think_ahead(self) -> None:
        jobs = await _jobs()
        with suppress(ValueError):  # the review will say what is wrong
            while self._ahead_of:
                await self._service.one(jobs.look_ahead, *self._ahead_of.pop(0))

    async def lay(self, card: str, kind: str, settings: Settings, key: bytes) -> Laid:
        """Return a tempting deal of a kind listed in shared.rules.drills.

        Raises:
            ValueError: with a sentence.
        """
        jobs = await _jobs()
        found: Laid = await self._service.one(jobs.lay_drill, card, kind, settings, key)
        return found

    async def close(self) -> None:
        """Stop everything."""
        tasks = [*self._tasks.values(), *([self._ahead] if self._ahead else [])]
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        await self._service.close()

    def _begin(self, key: tuple[str, int, str]) -> None:
        self._lookings[key].running, self._lookings[key].said = True, ""
        self._tasks[key] = asyncio.create_task(self._look(key))

    async def _look(self, key: tuple[str, int, str]) -> None:
        looking = self._lookings[key]
        try:
            jobs = await _jobs()
            card = await asyncio.to_thread(text_for, looking.heat)
            asked = await asyncio.to_thread(jobs.to_review, looking.heat, card, partly=True)
            async with aclosing(self._service.each(jobs.review_heat, asked)) as reviews:
                async for review in reviews:
                    looking.review = review
                    self._changed()
            if not looking.heat.final:
                looking.said = "Judged as far as the tiles are known."
            elif looking.is_own and looking.review is not None:
                if looking.kept:
                    await asyncio.wait((looking.kept,))
                looking.said = await asyncio.to_thread(self._journal.add_review, looking.heat, looking.review)
        except asyncio.CancelledError:
            looking.said = "Stopped."
            raise
        except ValueError as error:
            looking.said = str(error)
        finally:
            looking.running = False
            with suppress(Exception):
                self._changed()


def _key(heat: SeatHeat) -> tuple[str, int, str]:
    return heat.commitment, heat.seat, heat.played_at


async def _jobs() -> Any:
    return await asyncio.to_thread(import_module, "client.coach.jobs")
