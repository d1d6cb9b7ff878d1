"""Looking at what others have handed in: the bots answered again, every heat reviewed, on two processes.

What was found is kept heat by heat: whoever stops goes on later where it was.
"""

import asyncio
from collections.abc import AsyncIterator, Callable, Sequence
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
) -> AsyncIterator[Comparing]:
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


def shown_here(results: Results, comparing: Comparing) -> Compared:
    """Return what this machine shows of results: its maker all of it, a player the deals that they have played.

    A copy counts once, and of several tries the first; a heat whose bots answered otherwise takes its result out.
    """
    counts, rest = counted(results.handed)
    refused = [*results.refused, *((one.result.called, _not_counted(one)) for one in rest)]
    fair = list[Handed]()
    for one in counts:
        said = [(number, comparing.found.get((one.result.player, number))) for number, _ in _packed(one)]
        wrong = next(
            (f"Heat {number} does not count: {found.bots}" for number, found in said if found and found.bots), ""
        )
        refused += [(one.result.called, wrong)] if wrong else []
        fair += [] if wrong else [one]
    taken = results.handed[0].taken
    kept = kept_set(taken.line)
    every = range(1, taken.settings.heats + 1)
    seen = set(every) if kept and kept.maker else played_numbers(kept) if kept else set()
    title = kept.called if kept else f"Set {taken.line[:6]}"
    shared = bool(told_card(card_for(taken)).text)
    return Compared(title, tuple(fair), comparing.found, tuple(refused), frozenset(seen), shared)


def _wrong_bots(one: Handed, comparing: Comparing) -> str:
    said = [(heat.number, comparing.found.get((one.result.player, heat.number))) for heat in one.heats]
    return next((f"Heat {number} does not count: {found.bots}" for number, found in said if found and found.bots), "")


def _not_counted(one: Handed) -> str:
    return f"Try {one.result.number} does not count beside an earlier one, nor does a copy."


async def _look(coach: CoachService, one: Handed, number: int, card: str) -> HeatFound:
    at = next(at for at, heat in enumerate(one.heats) if heat.number == number)
    if fault := await coach.one(bots_fault, one.heats[at], card):
        return HeatFound(reviewed=None, bots=fault)
    try:
        asked: ToReview = to_review(one.own[at], card)
    except NoReview:
        return HeatFound(reviewed=None)
    return await coach.one(look_at_handed, asked)


def _packed(one: Handed) -> list[tuple[int, bytes]]:
    return list(zip((heat.number for heat in one.heats), one.packed, strict=True))
