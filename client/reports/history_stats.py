"""Statistics of a player's heats: one frozen value, computed from the history, for the screen and the command alike.

Pure. The rules:
- heats at a table and with real tiles count; drills, heats in which the player answered nothing ("not played"), and
  heats in which a bot answered even one step for the player, are only counted apart;
- a heat is inside its level if no step timed out and its steps took no longer than their lengths together;
- a pass is a step that takes tiles; it is forced if it timed out or the review says so;
- there is no trend from fewer than 20 heats.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from statistics import fmean, median

from client.reports.habits import decisions_of
from client.storage.history_db import HistoryEntry, Read, Source, StepLoss
from shared.coach.kinds import EARLIER_WORDS
from shared.measures.habits import Habit, habit_of
from shared.measures.pacing import NextLength, Trial, judged, next_length
from shared.measures.stats import Estimate, mean, middle, share, slope
from shared.rules.seat_heat import SeatHeat, SeatStep
from shared.rules.seats import Seat
from shared.rules.settings import Settings
from shared.rules.steps import FIRST, STEP_NAMES, STEPS, StepName

TREND_HEATS = 20
SETS_BEFORE = 5
"""How many sets the last one is set against."""
_TREND_OVER = 200
_PLOT_PASSES = 400
_SITTING_S = 12 * 3600


@dataclass(frozen=True, slots=True)
class Trend:
    """The change from one heat to the next, over this many heats; slope is None below 20 heats."""

    heats: int
    slope: Estimate | None


@dataclass(frozen=True, slots=True)
class StepTimes:
    """One step over all heats: the median seconds (timeouts count with the time they took), and how many timed out."""

    step: StepName
    seconds: Estimate
    timeouts: int


@dataclass(frozen=True, slots=True)
class LevelReport:
    """The heats of one level, which is the length of a whole Charleston; level_ms None means all levels.

    inside is the share of heats inside the level; heat_seconds the median time of a heat; loss the mean points lost for
    each unforced pass, forced_loss for each forced one. The trends are in seconds per pass and in points per pass, from
    heat to heat.
    """

    level_ms: int | None
    heats: int
    inside: Estimate
    heat_seconds: Estimate
    steps: tuple[StepTimes, ...]
    loss: Estimate | None
    forced_loss: Estimate | None
    speed_trend: Trend
    loss_trend: Trend


@dataclass(frozen=True, slots=True)
class SetReport:
    """One set: the heats played and planned, how many stayed inside the level, the mean seconds per pass, and the mean
    points lost for each unforced pass (None unless all its heats were reviewed)."""

    played_at: str
    table: str
    source: Source
    level_ms: int
    heats: int
    of: int
    inside: int
    pass_seconds: float | None
    loss: float | None


@dataclass(frozen=True, slots=True)
class KindCost:
    """One kind of decision: its mean loss in points, its total, and its share of all losses. A decision may be of
    several kinds, so shares need not add up to one."""

    kind: str
    loss: Estimate
    total: float
    share_of_all: float


@dataclass(frozen=True, slots=True)
class Pace:
    """Some passes: how many, their seconds, and the mean points lost for each unforced one (None if none is reviewed).

    The seconds are a mean where sets are compared, else a median.
    """

    passes: int
    seconds: float
    loss: float | None


@dataclass(frozen=True, slots=True)
class HistoryReport:
    """The whole report. speed_and_loss has (seconds, points) of the latest unforced passes, loss_by_speed is the change
    in points for one second more; next_clock is the clock to offer for the next set. older is how many heats an earlier
    version of the coach judged: their losses are in another unit and count nowhere. before is the five sets before the
    last one; first_pass and later_passes, as_dealer and not_dealer part all passes; habit is the dearest one."""

    heats: int
    drills: int
    not_played: int
    with_a_bot: int
    overall: LevelReport | None
    levels: tuple[LevelReport, ...]
    speed_and_loss: tuple[tuple[float, float], ...]
    loss_by_speed: Trend
    last_set: SetReport | None
    fastest_set: SetReport | None
    least_loss_set: SetReport | None
    costs: tuple[KindCost, ...]
    next_clock: tuple[NextLength, ...]
    older: int
    faults: tuple[str, ...]
    before: Pace | None = None
    first_pass: Pace | None = None
    later_passes: Pace | None = None
    as_dealer: Pace | None = None
    not_dealer: Pace | None = None
    habit: Habit | None = None


def history_report(read: Read) -> HistoryReport:
    """Return the report of all heats. Their order does not matter if their times can be read."""
    older = sum(entry.is_older for entry in read.entries)
    ordered = in_order(map(HistoryEntry.by_this_coach, read.entries))
    opened = [entry for entry in ordered if entry.source != "drill"]
    played = [entry for entry in opened if is_played(entry)]
    counted = _counted(ordered)
    levels = sorted({entry.heat.settings.total_ms() for entry in counted}, reverse=True)
    pairs = [pair for entry in counted for pair in _speed_and_loss(entry)][-_PLOT_PASSES:]
    sets = sets_of(counted)
    reports = [_set_report(entries) for entries in sets]
    whole = [report for report in reports if report.heats == report.of]
    reviewed = [entry for entry in counted if entry.losses]
    return HistoryReport(
        heats=len(counted),
        drills=len(ordered) - len(opened),
        not_played=len(opened) - len(played),
        with_a_bot=len(played) - len(counted),
        overall=_level_report(None, counted) if counted else None,
        levels=tuple(
            _level_report(level, [entry for entry in counted if entry.heat.settings.total_ms() == level])
            for level in levels
        ),
        speed_and_loss=tuple(pairs),
        loss_by_speed=_trend(len(reviewed), [seconds for seconds, _ in pairs], [points for _, points in pairs]),
        last_set=reports[-1] if reports else None,
        fastest_set=_fastest(whole),
        least_loss_set=_least_loss(whole),
        costs=_costs(counted),
        next_clock=next_clock(counted),
        older=older,
        faults=read.faults,
        before=_before(sets),
        first_pass=_pace(counted, lambda _, step: step == FIRST[0]),
        later_passes=_pace(counted, lambda _, step: step != FIRST[0]),
        as_dealer=_pace(counted, lambda heat, _: heat.seat == Seat.EAST),
        not_dealer=_pace(counted, lambda heat, _: heat.seat != Seat.EAST),
        habit=habit_of(decisions_of(counted)),
    )


def next_settings(read: Read) -> Settings | None:
    """Return the settings of the last heat with the next clock, waiting for nobody; None if it offers no new length.

    Steps without an offer keep their length.
    """
    heats = counted(read)
    offers = next_clock(heats)
    if not offers:
        return None
    base = heats[-1].heat.settings
    lengths_ms = {**base.lengths_ms, **{offer.step: offer.next_ms for offer in offers}}
    return base.model_copy(update={"lengths_ms": lengths_ms, "seed": None, "bot_pace": "no wait"})


# ---- heats, sets and passes


def counted(read: Read) -> list[HistoryEntry]:
    """Return the heats of a history that count, in the order of play, with the losses of this coach only."""
    return _counted(in_order(map(HistoryEntry.by_this_coach, read.entries)))


def _counted(ordered: Iterable[HistoryEntry]) -> list[HistoryEntry]:
    """Return the heats that count: no drills, none that was not played, none in which a bot answered for the player."""
    played = [entry for entry in ordered if entry.source != "drill" and is_played(entry)]
    return [entry for entry in played if all(step.by not in ("bot", "other") for step in entry.heat.steps)]


def is_played(entry: HistoryEntry) -> bool:
    """Say whether the player answered anything at all in a heat."""
    return any(step.by == "person" for step in entry.heat.steps)


def in_order(entries: Iterable[HistoryEntry]) -> list[HistoryEntry]:
    """Return heats in the order of play; one without a readable time follows the one added before it."""
    keyed: list[tuple[float, HistoryEntry]] = []
    for entry in entries:
        played_s = _played_s(entry)
        keyed.append((keyed[-1][0] if played_s is None and keyed else played_s or 0.0, entry))
    return [entry for _, entry in sorted(keyed, key=lambda pair: pair[0])]


def sets_of(entries: Iterable[HistoryEntry]) -> list[list[HistoryEntry]]:
    """Group ordered heats into sets: same table, same first heat, rising numbers, within half a day."""
    sets: list[list[HistoryEntry]] = []
    for entry in entries:
        if sets and _follows(sets[-1][-1], entry):
            sets[-1].append(entry)
        else:
            sets.append([entry])
    return sets


def _follows(before: HistoryEntry, entry: HistoryEntry) -> bool:
    same = (before.source, before.heat.table, before.set_first) == (entry.source, entry.heat.table, entry.set_first)
    then_s, now_s = _played_s(before), _played_s(entry)
    soon = then_s is None or now_s is None or now_s - then_s < _SITTING_S
    return same and soon and before.heat.number < entry.heat.number


def _played_s(entry: HistoryEntry) -> float | None:
    try:
        moment = datetime.fromisoformat(entry.heat.played_at)
        return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()
    except (ValueError, OverflowError):
        return None


def is_inside(entry: HistoryEntry) -> bool:
    """Say whether a heat stayed inside its level. The plan step has a clock of its own and does not count."""
    steps = [step for step in entry.heat.steps if step.step != "plan"]
    within = sum(step.spent_ms for step in steps) <= sum(step.length_ms for step in steps)
    return within and all(step.by != "timeout" for step in steps)


def _losses(entry: HistoryEntry, forced: bool, passes_only: bool = True) -> list[tuple[SeatStep, StepLoss]]:
    """Return the reviewed steps that were forced, or the others."""
    reviewed = [(step, entry.losses[step.step]) for step in entry.heat.steps if step.step in entry.losses]
    return [
        (step, loss)
        for step, loss in reviewed
        if (loss.forced or step.by != "person") == forced and (step.is_pass or not passes_only)
    ]


def _heat_seconds(entry: HistoryEntry) -> float:
    return sum(step.spent_ms for step in entry.heat.steps if step.step != "plan") / 1000


def _pass_seconds(entries: Iterable[HistoryEntry]) -> float | None:
    spent = [step.spent_ms / 1000 for entry in entries for step in entry.heat.steps if step.is_pass]
    return fmean(spent) if spent else None


def _pass_loss(entries: Iterable[HistoryEntry]) -> float | None:
    points = [loss.points for entry in entries for _, loss in _losses(entry, forced=False)]
    return fmean(points) if points else None


def _before(sets: Sequence[Sequence[HistoryEntry]]) -> Pace | None:
    """Return the sets before the last one, together; None if there are none."""
    entries = [entry for entries in sets[-1 - SETS_BEFORE : -1] for entry in entries]
    seconds = _pass_seconds(entries)
    passes = sum(step.is_pass for entry in entries for step in entry.heat.steps)
    return None if seconds is None else Pace(passes, seconds, _pass_loss(entries))


def _pace(entries: Iterable[HistoryEntry], wanted: Callable[[SeatHeat, StepName], bool]) -> Pace | None:
    """Return the passes that are wanted by their heat and step; None if there are none."""
    chosen = [
        (step, entry.losses.get(step.step))
        for entry in entries
        for step in entry.heat.steps
        if step.is_pass and wanted(entry.heat, step.step)
    ]
    if not chosen:
        return None
    points = [loss.points for step, loss in chosen if loss and not loss.forced and step.by == "person"]
    seconds = median(step.spent_ms / 1000 for step, _ in chosen)
    return Pace(len(chosen), seconds, fmean(points) if points else None)


def _speed_and_loss(entry: HistoryEntry) -> list[tuple[float, float]]:
    return [(step.spent_ms / 1000, loss.points) for step, loss in _losses(entry, forced=False)]


# ---- the parts of the report


def _level_report(level_ms: int | None, entries: Sequence[HistoryEntry]) -> LevelReport:
    inside = share(sum(map(is_inside, entries)), len(entries))
    heat_seconds = middle([_heat_seconds(entry) for entry in entries])
    assert inside
    assert heat_seconds
    return LevelReport(
        level_ms=level_ms,
        heats=len(entries),
        inside=inside,
        heat_seconds=heat_seconds,
        steps=tuple(times for step in STEP_NAMES if (times := _step_times(step, entries))),
        loss=mean([loss.points for entry in entries for _, loss in _losses(entry, forced=False)]),
        forced_loss=mean([loss.points for entry in entries for _, loss in _losses(entry, forced=True)]),
        speed_trend=_heat_trend([_pass_seconds([entry]) for entry in entries]),
        loss_trend=_heat_trend([_pass_loss([entry]) for entry in entries]),
    )


def _step_times(name: StepName, entries: Iterable[HistoryEntry]) -> StepTimes | None:
    steps = [step for entry in entries for step in entry.heat.steps if step.step == name]
    seconds = middle([step.spent_ms / 1000 for step in steps])
    return StepTimes(name, seconds, sum(step.by == "timeout" for step in steps)) if seconds else None


def _heat_trend(values: Iterable[float | None]) -> Trend:
    known = [value for value in values if value is not None][-_TREND_OVER:]
    return _trend(len(known), range(len(known)), known)


def _trend(heats: int, xs: Sequence[float], ys: Sequence[float]) -> Trend:
    return Trend(heats, slope(xs, ys) if heats >= TREND_HEATS else None)


def _set_report(entries: Sequence[HistoryEntry]) -> SetReport:
    last = entries[-1]
    reviewed = all(entry.losses for entry in entries)
    return SetReport(
        played_at=entries[0].heat.played_at,
        table=last.heat.table,
        source=last.source,
        level_ms=last.heat.settings.total_ms(),
        heats=len(entries),
        of=last.heat.settings.heats,
        inside=sum(map(is_inside, entries)),
        pass_seconds=_pass_seconds(entries),
        loss=_pass_loss(entries) if reviewed else None,
    )


def _fastest(whole: Iterable[SetReport]) -> SetReport | None:
    """Return the whole set with the fewest seconds per pass, among those with every heat inside the level."""
    fit = [(report.pass_seconds, report) for report in whole if report.inside == report.heats]
    return min(
        ((seconds, report) for seconds, report in fit if seconds is not None),
        key=lambda pair: pair[0],
        default=(0, None),
    )[1]


def _least_loss(whole: Iterable[SetReport]) -> SetReport | None:
    """Return the whole set with the least loss for each unforced pass."""
    fit = [(report.loss, report) for report in whole if report.loss is not None]
    return min(fit, key=lambda pair: pair[0], default=(0, None))[1]


def _costs(entries: Iterable[HistoryEntry]) -> tuple[KindCost, ...]:
    by_kind: dict[str, list[float]] = {}
    everything = 0.0
    for entry in entries:
        for _, loss in _losses(entry, forced=False, passes_only=False):
            everything += loss.points
            for kind in dict.fromkeys(EARLIER_WORDS.get(kind, kind) for kind in loss.kinds):
                by_kind.setdefault(kind, []).append(loss.points)
    costs = [
        KindCost(kind, estimate, sum(points), sum(points) / everything if everything else 0.0)
        for kind, points in by_kind.items()
        if (estimate := mean(points))
    ]
    return tuple(sorted(costs, key=lambda cost: (-cost.total, cost.kind)))


def next_clock(heats: Sequence[HistoryEntry]) -> tuple[NextLength, ...]:
    """Return what to offer after these heats; it uses only reviewed ones."""
    if not heats:
        return ()
    played = heats[-1].heat.settings
    level = played.model_copy(update={"lengths_ms": {}})
    steps = [name for name in STEP_NAMES if STEPS[name].ask in ("pass", "give")]
    passes: dict[StepName, list[Trial]] = {name: [] for name in steps}
    for entry in heats:
        for step, loss in _losses(entry, forced=False):
            passes[step.step].append(judged(step.length_ms, step.spent_ms, step.by, loss.points))
    offers = (next_length(name, passes[name], played.length_ms(name), level.length_ms(name)) for name in steps)
    return tuple(offer for offer in offers if offer)
