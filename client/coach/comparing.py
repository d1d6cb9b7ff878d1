"""Looking at what others have handed in: the bots answered again, every heat reviewed, on two processes.

What was found is kept heat by heat: whoever stops goes on later where it was.
"""

import asyncio
from collections.abc import AsyncGenerator, Callable, Sequence
from dataclasses import dataclass, field

from client.coach.jobs import look_at_handed
from client.coach.process import CoachFailed, CoachService
from client.hosting.set_bots import bots_fault
from client.reports.set_compare import Compared
from client.storage.set_reviews import keep_found, kept_found
from client.storage.sets import Results, card_for, kept_set, played_numbers
from shared.cards.owned import told_card
from shared.coach.heats import NoReview, ToReview, to_review
from shared.measures.side_by_side import HeatFound
from shared.rules.set_result import Handed, counted

PROCESSES = 2


@dataclass(slots=True)
class Comparing:
    """Which heats have been looked at: by player and heat; of how many in all."""

    every: int = 0
    found: dict[tuple[str, int], HeatFound] = field(default_factory=dict)

    @property
    def done(self) -> int:
        """How many have been looked at."""
        return len(self.found)


def known_already(handed: Sequence[Handed]) -> Comparing:
    """Return what was found before."""
    comparing = Comparing(sum(len(one.heats) for one in handed))
    for one in handed:
        for heat, packed in _packed(one):
            if found := kept_found(one.taken.line, packed):
                comparing.found[one.result.player, heat] = found
    return comparing


async def compare_all(
    handed: Sequence[Handed], card: str, comparing: Comparing, make: Callable[[], CoachService] = CoachService
) -> AsyncGenerator[Comparing, None]:
    """Look at every heat that has not been looked at, and yield after each; closing the generator stops it.

    card is the text of the set's card; what is found goes into comparing, and to disk.
    """
    # Heats of one deal come one after the other, since the coach keeps its last answers.
    rest = sorted(
        (
            (heat, one.result.player, one, packed)
            for one in handed
            for heat, packed in _packed(one)
            if (one.result.player, heat) not in comparing.found
        ),
        key=lambda item: item[:2],
    )
    jobs = iter(rest)
    news: asyncio.Queue[Exception | None] = asyncio.Queue()

    async def work() -> None:
        async with make() as coach:
            for number, player, one, packed in jobs:
                try:
                    comparing.found[player, number] = found = await _look(coach, one, number, card)
                except CoachFailed as failed:
                    news.put_nowait(failed)
                    return
                await asyncio.to_thread(keep_found, one.taken.line, packed, found)
                news.put_nowait(None)

    workers = [asyncio.create_task(work()) for _ in range(min(PROCESSES, len(rest)))]
    try:
        for _ in rest:
            if failed := await news.get():
                raise failed
            yield comparing
        await asyncio.gather(*workers)
    finally:
        for worker in workers:
            worker.cancel()
        await asyncio.gather(*workers, return_exceptions=True)


@dataclass(frozen=True, slots=True)
class Sight:
    """What this machine may see of results: what the set is called, which heats, and whether hands are named."""

    results: Results
    title: str
    heats: frozenset[int]
    shared: bool

    @classmethod
    def here(cls, results: Results) -> "Sight":
        """Return what is seen on this machine: its maker sees all of a set, a player the deals they have played."""
        taken = results.handed[0].taken
        kept = kept_set(taken.line)
        seen = frozenset(range(1, taken.settings.heats + 1)) if kept and kept.maker else frozenset[int]()
        if kept and not kept.maker:
            seen = frozenset(played_numbers(kept))
        title = kept.called if kept else f"Set {taken.line[:6]}"
        return cls(results, title, seen, bool(told_card(card_for(taken)).text))

    def shown(self, comparing: Comparing) -> Compared:
        """Return what is shown. A copy counts once, and of several tries the first; a heat whose bots answered
        otherwise takes its result out."""
        counts, rest = counted(self.results.handed)
        refused = [*self.results.refused, *((one.result.called, _not_counted(one)) for one in rest)]
        fair = list[Handed]()
        for one in counts:
            if wrong := _wrong_bots(one, comparing):
                refused.append((one.result.called, wrong))
            else:
                fair.append(one)
        return Compared(self.title, tuple(fair), dict(comparing.found), tuple(refused), self.heats, self.shared)


def _wrong_bots(one: Handed, comparing: Comparing) -> str:
    said = [(heat.number, comparing.found.get((one.result.player, heat.number))) for heat in one.heats]
    return next((f"Heat {number} does not count: {found.bots}" for number, found in said if found and found.bots), "")


def _not_counted(one: Handed) -> str:
    return f"Try {one.result.number} does not count beside an earlier one, nor does a copy."


async def _look(coach: CoachService, one: Handed, number: int, card: str) -> HeatFound:
    at = next(at for at, heat in enumerate(one.heats) if heat.number == number)
    if not one.taken.is_older and (fault := await coach.one(bots_fault, one.heats[at], card)):
        return HeatFound(reviewed=None, bots=fault)
    try:
        asked: ToReview = to_review(one.own[at], card)
    except NoReview:
        return HeatFound(reviewed=None)
    return await coach.one(look_at_handed, asked)


def _packed(one: Handed) -> list[tuple[int, bytes]]:
    return list(zip((heat.number for heat in one.heats), one.packed, strict=True))
