"""What a heat and a set are held against when they end: the player's last ones, out of the history. Pure."""

from collections.abc import Collection, Sequence
from statistics import fmean, median

from client.models.heat_end import LastHeats
from client.reports.history_stats import counted, sets_of
from client.storage.history_db import HistoryEntry, Read
from client.target import Named
from shared.rules.seat_heat import SeatHeat

_MOST = 5


def last_heats(read: Read, heat: SeatHeat) -> LastHeats | None:
    """Return the last five heats of the same length before this one; None if there is none."""
    before = list[HistoryEntry]()
    for entry in counted(read):
        if _key(entry.heat) == _key(heat):
            break
        before.append(entry)
    return _summed(_alike(before, heat)[-_MOST:])


def this_set(read: Read, heats: Collection[SeatHeat]) -> tuple[LastHeats | None, LastHeats | None]:
    """Return the heats of a set that count, and those of the last five sets of the same length before it."""
    keys = set(map(_key, heats))
    sets = sets_of(counted(read))
    own = [entry for entries in sets for entry in entries if _key(entry.heat) in keys]
    if not own:
        return None, None
    first = next(number for number, entries in enumerate(sets) if any(_key(entry.heat) in keys for entry in entries))
    alike = [some for entries in sets[:first] if (some := _alike(entries, own[-1].heat))][-_MOST:]
    return _summed(own), _summed([entry for entries in alike for entry in entries])


def kept_targets(read: Read, heat: SeatHeat) -> tuple[Named, ...]:
    """Return the targets that the history keeps for a heat."""
    return next((entry.targets for entry in read.entries if _key(entry.heat) == _key(heat)), ())


def _key(heat: SeatHeat) -> tuple[str, int, str]:
    return heat.commitment, heat.seat, heat.played_at


def _alike(entries: Sequence[HistoryEntry], heat: SeatHeat) -> list[HistoryEntry]:
    return [entry for entry in entries if entry.heat.settings.total_ms() == heat.settings.total_ms()]


def _summed(entries: Sequence[HistoryEntry]) -> LastHeats | None:
    if not entries:
        return None
    lost = [_lost(entry) for entry in entries if entry.losses]
    return LastHeats(len(entries), round(median(map(_spent_ms, entries))), fmean(lost) if lost else None)


def _spent_ms(entry: HistoryEntry) -> int:
    return sum(step.spent_ms for step in entry.heat.steps if step.step != "plan")


def _lost(entry: HistoryEntry) -> float:
    return sum((loss.points for loss in entry.losses.values() if not loss.forced), 0.0)
