"""A history report as plain lines of at most 80 cells or as JSON; the heats themselves as CSV.

Pure text. Names that came from a table are cleaned before they are shown. Numbers in the CSV are numbers.
"""

import csv
import io
import json
from collections.abc import Iterable, Iterator
from dataclasses import asdict
from math import inf

from client.reports.csv_cell import safe_cell
from client.reports.history_stats import TREND_HEATS, HistoryReport, KindCost, LevelReport, SetReport, Trend
from client.reports.text_scatter import scatter
from client.storage.history_db import HistoryEntry
from client.text import wrapped
from shared.cards.freedom import listed
from shared.measures.pacing import NextLength, in_words, rule_in_words
from shared.measures.stats import Estimate
from shared.names import clean_name
from shared.rules.seats import Seat
from shared.rules.tiles import format_tiles
from shared.times import write_time

WIDTH = 80


# ---- for people


def report_lines(report: HistoryReport, plain: bool = True) -> list[str]:
    """Return the report for a person to read, every line at most 80 cells; plain is for ASCII alone."""
    if report.overall is None:
        return [*_wrapped(counts(report)), *_faults(report)]
    levels = report.levels if len(report.levels) > 1 else ()
    return [
        *_wrapped(counts(report)),
        "",
        *level_lines(report.overall),
        *(line for level in levels for line in ("", *level_lines(level))),
        "",
        *set_lines(report),
        "",
        *plot_lines(report, plain=plain),
        *cost_lines(report.costs),
        *clock_lines(report.next_clock),
        *_faults(report),
    ]


def counts(report: HistoryReport) -> str:
    """Return how many heats count and how many do not, in one sentence."""
    apart = [f"{report.drills} in drills"] if report.drills else []
    apart += [f"{report.not_played} not played"] if report.not_played else []
    apart += [f"{report.with_a_bot} in which a bot answered for you"] if report.with_a_bot else []
    left_out = f", not counting {listed(apart)}" if apart else ""
    older = f"; the losses of {_heats(report.older)} are by an earlier coach and not counted" if report.older else ""
    return (
        f"{_heats(report.heats)}{left_out}{older}. In brackets: 95% intervals."
        if report.heats
        else (f"No heats yet{left_out}.")
    )


def level_lines(level: LevelReport, width: int = WIDTH) -> Iterator[str]:
    """Yield the lines of one level, sentences broken at width: share inside, whole heats, losses, then each step."""
    name = "All levels" if level.level_ms is None else f"Level {write_time(level.level_ms)}"
    yield f"{name}: {_heats(level.heats)}"
    yield f"  inside the level    {level.inside.value:.0%}{_interval(level.inside, 100, '.0f', '%')}"
    yield f"  whole heat, median  {_seconds(level.heat_seconds)} s"
    yield from _wrapped(f"seconds a pass      {_trend_words(level.speed_trend, 's')}", "  ", width)
    if level.loss:
        yield f"  lost a pass, mean   {_points(level.loss)} points, {_passes(level.loss.count, 'unforced ')}"
        yield from _wrapped(f"points a pass       {_trend_words(level.loss_trend, 'points')}", "  ", width)
    if level.forced_loss:
        yield f"  lost when forced    {_points(level.forced_loss)} points, {_passes(level.forced_loss.count)}"
    yield "  step               median seconds      times  timeouts"
    for times in level.steps:
        yield f"  {times.step:<18} {_seconds(times.seconds):<19} {times.seconds.count:>5}  {times.timeouts or '-':>8}"


def _passes(count: int, kind: str = "") -> str:
    return f"{count} {kind}pass{'' if count == 1 else 'es'}"


def _trend_words(trend: Trend, unit: str) -> str:
    if trend.slope is None:
        return not_enough(trend)
    found = f"{trend.slope.value:+.2f} {unit} a heat{_interval(trend.slope, 1, '+.2f')}"
    return f"{found} over the last {trend.heats} heats"


def not_enough(trend: Trend) -> str:
    """Say why there is no trend yet."""
    return f"not enough heats yet: {trend.heats} of {TREND_HEATS}"


def set_lines(report: HistoryReport) -> Iterator[str]:
    """Yield the lines about the last set and the best ones."""
    named = (
        ("Last set", report.last_set, ""),
        ("Fastest set", report.fastest_set, "every heat of a whole set inside its level"),
        ("Least loss", report.least_loss_set, "whole sets count"),
    )
    for name, found, wanted in named:
        yield f"{name:<12} {_set_words(found) if found else f'none yet: {wanted}'}"


def _set_words(found: SetReport) -> str:
    day, table = clean_name(found.played_at[:10], "?"), clean_name(found.table, "?")
    speed = "" if found.pass_seconds is None else f", {found.pass_seconds:.1f} s a pass"
    loss = "" if found.loss is None else f", {found.loss:.2f} lost"
    return f"{day} {table}: {found.inside}/{found.heats} inside {write_time(found.level_ms)}{speed}{loss}"


def plot_lines(report: HistoryReport, width: int = WIDTH - 2, height: int = 12, *, plain: bool = True) -> Iterator[str]:
    """Yield a plot of loss against speed, width x height cells, and its slope."""
    passes = report.speed_and_loss
    if not passes:
        return
    free = sum(lost == 0 for _, lost in passes)
    yield f"Points lost (up), seconds (right): latest {len(passes)} unforced passes, {free} at no loss"
    yield from scatter(passes, width, height, plain)
    trend = report.loss_by_speed
    if trend.slope is None:
        yield f"  {not_enough(trend)}"
    else:
        yield f"  {trend.slope.value:+.3f} points for a second more{_interval(trend.slope, 1, '+.3f')}"
    yield ""


def cost_lines(costs: Iterable[KindCost]) -> Iterator[str]:
    """Yield the lines about the kinds of decision that cost most."""

    def row(cost: KindCost) -> str:
        kind = clean_name(cost.kind, "?", 38)
        return f"  {kind:<38} {cost.loss.count:>5} {_points(cost.loss):<22} {cost.share_of_all:>5.0%}"

    rows = [row(cost) for cost in costs]
    if rows:
        yield f"{'What costs most':<40} {'times':>5} {'points each':<22} of all"
        yield from rows
        yield "  One decision may count under several names."
        yield ""


def clock_lines(offers: Iterable[NextLength], width: int = WIDTH) -> Iterator[str]:
    """Yield the lines about the next clock to offer, with its rule and numbers."""
    told = [line for offer in offers for line in _wrapped(f"{offer.step}: {in_words(offer)}", "  ", width)]
    if told:
        yield "A clock for the next set, if you like"
        yield from _wrapped(rule_in_words(), "  ", width)
        yield from told


def _faults(report: HistoryReport) -> Iterator[str]:
    for fault in report.faults:
        yield from _wrapped(fault)


def _wrapped(text: str, indent: str = "", width: int = WIDTH) -> list[str]:
    return wrapped(text, width, indent, indent + "  " * bool(indent))


def _heats(count: int) -> str:
    return "1 heat" if count == 1 else f"{count} heats"


def _seconds(estimate: Estimate) -> str:
    return f"{estimate.value:.1f}{_interval(estimate, 1, '.1f')}"


def _points(estimate: Estimate) -> str:
    """Return a mean loss; its interval ends at zero, because no loss is negative."""
    return f"{estimate.value:.2f}{_interval(estimate, 1, '.2f', least=0.0)}"


def _interval(estimate: Estimate, scale: float, form: str, unit: str = "", least: float = -inf) -> str:
    if estimate.interval is None:
        return ""
    low, high = max(least, estimate.interval.low * scale), estimate.interval.high * scale
    return f" ({low:{form}} to {high:{form}}{unit})"


# ---- for programs and spreadsheets


def report_json(report: HistoryReport) -> str:
    """Return the report as one JSON object: its fields by name, estimates as value, count and interval or null."""
    return json.dumps(asdict(report), indent=2, allow_nan=False)


CSV_COLUMNS = (
    "heat", "played at", "source", "detail", "table", "number", "seat", "level s", "step", "length s", "had s",
    "spent s", "by", "given", "blind", "came", "coach", "loss", "loss se", "luck", "forced", "kinds",
)  # fmt: skip


Cell = str | int | float


def heats_csv(entries: Iterable[HistoryEntry]) -> str:
    """Return one row for each step of each heat (RFC 4180); unknown values stay empty."""
    out = io.StringIO()
    writer = csv.writer(out, quoting=csv.QUOTE_NONNUMERIC)
    writer.writerow(CSV_COLUMNS)
    for entry in entries:
        for row in _rows(entry):
            writer.writerow([safe_cell(cell) if isinstance(cell, str) else cell for cell in row])
    return out.getvalue()


def _rows(entry: HistoryEntry) -> Iterator[list[Cell]]:
    heat = entry.heat
    seat, level_s = Seat(heat.seat % 4).word, heat.settings.total_ms() / 1000
    played: list[Cell] = [entry.id, heat.played_at, entry.source, entry.detail, heat.table, heat.number, seat, level_s]
    for step in heat.steps:
        times: list[Cell] = [step.step, step.length_ms / 1000, step.budget_ms / 1000, step.spent_ms / 1000, step.by]
        tiles: list[Cell] = [format_tiles(step.given), step.blind, format_tiles(step.came)]
        loss = entry.losses.get(step.step)
        review: list[Cell] = [""] * 6
        if loss:
            forced = int(loss.forced or step.by != "person")
            review = [entry.coach, loss.points, loss.error, loss.luck, forced, "; ".join(loss.kinds)]
        yield [*played, *times, *tiles, *review]
