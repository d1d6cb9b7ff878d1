"""What a history says to a player, in a few sentences: the same on the screen and as text. Pure.

Intervals and sources stand behind a key: sources() has the rules, history.py the tables.
"""

from collections.abc import Iterator

from client.reports.habits import RULE, decisions_of, example_lines, habit_words
from client.reports.history import WIDTH, counts
from client.reports.history_stats import SETS_BEFORE, HistoryReport, Pace, SetReport, counted
from client.storage.history_db import Read
from client.text import wrapped
from shared.measures.habits import habit_of
from shared.names import clean_name
from shared.times import write_time

FEWEST = 3
"""From so many heats on something is said."""


def lesson(report: HistoryReport) -> tuple[str, ...]:
    """Return the sentences, the most useful first."""
    if report.heats < FEWEST:
        return (f"From {FEWEST} heats on this says what to work on; so far there {_are(report.heats)}.",)
    return (habit_words(report.habit), *_examples(report), *_sets(report), *_parts(report))


def lesson_report(report: HistoryReport) -> list[str]:
    """Return the lesson for a person to read as text, every line at most 80 cells."""
    if report.overall is None:
        return wrapped(counts(report), WIDTH)
    more = "racktempo history --numbers prints the tables, with intervals and sources."
    return [line for said in (*lesson(report), *report.faults, more) for line in as_lines(said, WIDTH)]


def one_habit(read: Read) -> tuple[str, ...]:
    """Return the habit to work on, for the end of a set; nothing below three heats."""
    heats = counted(read)
    return (habit_words(habit_of(decisions_of(heats))),) if len(heats) >= FEWEST else ()


def as_lines(said: str, width: int) -> list[str]:
    """Return a sentence in lines; an example stays indented."""
    indent = "  " if said.startswith(" ") else ""
    return wrapped(said.strip(), width, indent, 2 * indent)


def sources() -> tuple[str, ...]:
    """Return what the sentences rest on."""
    return (
        "A set's seconds are the mean of its passes, all other seconds medians; points are the mean of the passes "
        "that you made yourself. Only what this version of the coach has judged counts.",
        "Time for the first pass and little for the rest: common practice, no source.",
        RULE,
    )


def _are(heats: int) -> str:
    return "is one" if heats == 1 else f"are {heats or 'none'}"


def _sets(report: HistoryReport) -> Iterator[str]:
    last, before = report.last_set, report.before
    if last and last.pass_seconds is not None:
        now = f"Last set: {_figures(last.pass_seconds, last.loss)}"
        yield f"{now}. Up to {SETS_BEFORE} sets before it: {_pace(before)}." if before else f"{now}."
    fastest, best = report.fastest_set, report.least_loss_set
    if fastest and fastest.pass_seconds is not None:
        yield f"Fastest set with every heat in time: {_when(fastest)}, {fastest.pass_seconds:.1f} s a pass."
    if best and best.loss is not None:
        yield f"Best set by points: {_when(best)}, {_points(best.loss)} lost a pass."


def _parts(report: HistoryReport) -> Iterator[str]:
    if report.first_pass and report.later_passes:
        apart = f"First pass: {_pace(report.first_pass, '')}. Each later pass: {_pace(report.later_passes, '')}"
        yield f"{apart}. A common aim: time for the first, little for the rest."
    if report.as_dealer and report.not_dealer:
        yield f"As dealer: {_pace(report.as_dealer)}. Otherwise: {_pace(report.not_dealer)}."


def _examples(report: HistoryReport) -> tuple[str, ...]:
    return tuple(f"  {line}" for line in example_lines(report.habit)) if report.habit else ()


def _pace(pace: Pace, each: str = " a pass") -> str:
    return _figures(pace.seconds, pace.loss, each)


def _figures(seconds: float, loss: float | None, each: str = " a pass") -> str:
    return f"{seconds:.1f} s{each}" + ("" if loss is None else f", {_points(loss)} lost")


def _points(loss: float) -> str:
    return f"{loss:.1f} point{'' if f'{loss:.1f}' == '1.0' else 's'}"


def _when(found: SetReport) -> str:
    return f"{clean_name(found.played_at[:10], '?')} at {write_time(found.level_ms)}"
