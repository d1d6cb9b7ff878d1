"""The player's own heats as the screens use them: what was played, what a review found, and heats with real tiles.

The defaults keep nothing, so that tests hand in what they want; disk_journal is the history on this machine. Every call
may take as long as a disk takes, and may come from any thread.
"""

from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from client.storage.card_files import find_played
from client.storage.drilled import Memory, Round
from client.storage.heat_files import find_whole, heats_folder
from client.storage.history_db import History, HistoryFault, Read, Source, history_path
from client.storage.real_tiles import clock_left, keep_clock, keeper
from client.target import Named
from shared.clock.real_clock import ClockLeft, RealHeat
from shared.rules.decisions import Drill
from shared.rules.heat import SavedHeat
from shared.rules.seat_heat import SeatHeat
from shared.rules.settings import Settings
from shared.rules.steps import StepName

if TYPE_CHECKING:
    from shared.coach.review import Review


@dataclass(frozen=True, slots=True)
class Added:
    """Whether a heat is in the history now for the first time, and a sentence if there is trouble."""

    is_new: bool = False
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class Journal:
    """read returns all heats; add keeps one, with where it was played, which drill it was, and the number of the
    first heat of its set; add_review keeps what a whole review found and returns a sentence if it could not;
    add_targets keeps which targets were named in a heat that is kept, and returns such a sentence too;
    remember keeps when a decision of a kept heat comes back, add_round what came of a round of a drill, and each
    returns such a sentence; rounds returns the rounds of a drill, oldest first;
    whole returns the heat with all its racks if it was opened and kept; real_tiles returns what keeps the heats of one
    set with real tiles; racks returns what was typed of heats at clocks, the one typed last at the end; keep_racks
    keeps it, add_tiles keeps a heat whose tiles are all known, and each returns a sentence if it could not; clock_left
    returns the clock of a set with real tiles that was cut off, keep_clock keeps one against that, or none."""

    read: Callable[[], Read] = lambda: Read(())
    add: Callable[[SeatHeat, Source, str, int], Added] = lambda heat, source, detail, first: Added()
    add_review: "Callable[[SeatHeat, Review], str]" = lambda heat, review: ""
    add_targets: Callable[[SeatHeat, tuple[Named, ...]], str] = lambda heat, named: ""
    whole: Callable[[SeatHeat], SavedHeat | None] = lambda heat: None
    real_tiles: Callable[[Settings, str], Callable[[RealHeat], str]] = lambda settings, set_id: lambda heat: ""
    remember: Callable[[SeatHeat, StepName, Memory], str] = lambda heat, step, memory: ""
    add_round: Callable[[Drill, Round], str] = lambda drill, played: ""
    rounds: Callable[[Drill], tuple[Round, ...]] = lambda drill: ()
    racks: Callable[[], Mapping[str, Mapping[str, str]]] = dict
    keep_racks: Callable[[str, Mapping[str, str]], str] = lambda clocked, lines: ""
    add_tiles: Callable[[SeatHeat], str] = lambda heat: ""
    clock_left: Callable[[], ClockLeft | None] = lambda: None
    keep_clock: Callable[[ClockLeft | None], str] = lambda left: ""


def disk_journal(path: Path | None = None, heats: Path | None = None) -> Journal:
    """Return the history on this machine, or in another file; whole heats lie in their folder, or in another one."""
    where = path or history_path()

    def read() -> Read:
        try:
            with closing(History(where)) as history:
                found = history.read()
                return Read(found.entries, (*([history.notice] if history.notice else []), *found.faults))
        except HistoryFault as fault:
            return Read((), (str(fault),))

    def add(heat: SeatHeat, source: Source, detail: str, first: int) -> Added:
        try:
            with closing(History(where)) as history:
                return Added(history.add(heat, source, detail, first).is_new, history.notice)
        except HistoryFault as fault:
            return Added(False, str(fault))

    def add_review(heat: SeatHeat, review: "Review") -> str:
        from client.storage.reviews import keep_losses

        return _trouble(lambda history: keep_losses(history, heat, review))

    def add_targets(heat: SeatHeat, named: tuple[Named, ...]) -> str:
        return _trouble(lambda history: history.set_targets(history.add(heat).id, named))

    def remember(heat: SeatHeat, step: StepName, memory: Memory) -> str:
        return _trouble(lambda history: history.set_memory(history.add(heat).id, step, memory))

    def add_round(drill: Drill, played: Round) -> str:
        return _trouble(lambda history: history.add_round(drill, played))

    def rounds(drill: Drill) -> tuple[Round, ...]:
        try:
            with closing(History(where)) as history:
                return history.rounds(drill)
        except HistoryFault:
            return ()

    def racks() -> Mapping[str, Mapping[str, str]]:
        try:
            with closing(History(where)) as history:
                return history.racks()
        except HistoryFault:
            return {}

    def keep_racks(clocked: str, lines: Mapping[str, str]) -> str:
        return _trouble(lambda history: history.set_racks(clocked, lines))

    def add_tiles(heat: SeatHeat) -> str:
        if not heat.card:
            find_played(heat.card_digest)  # what is found is kept, so that the heat has this version of its card
        return _trouble(lambda history: history.add_tiles(heat))

    def _trouble(act: Callable[[History], None]) -> str:
        try:
            with closing(History(where)) as history:
                act(history)
        except HistoryFault as fault:
            return str(fault)
        return ""

    return Journal(
        read,
        add,
        add_review,
        add_targets,
        lambda heat: find_whole(heat, heats or heats_folder()),
        lambda settings, set_id: keeper(where, settings, set_id),
        remember,
        add_round,
        rounds,
        racks,
        keep_racks,
        add_tiles,
        clock_left,
        keep_clock,
    )
