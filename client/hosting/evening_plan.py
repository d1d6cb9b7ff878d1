"""The plan of an evening that runs itself: a TOML file, and what it asks of the club when.

Pure: no file is opened and no clock read here. A plan with faults is not used at all, and every fault is reported in a
sentence of its own. At each moment the plan looks at the evening as the desk sees it and says at most one thing, so
that it can be taken up in the middle after a new start. EXAMPLE is a plan with all that it may hold.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

from client.storage.presets import card_in, settings_in
from client.text import some
from shared.names import EVENING_CELLS, clean_name
from shared.rules.settings import Settings
from shared.times import time_ms_of
from shared.toml import read_table
from shared.troubles import quoted
from shared.wire.club_views import ClubView
from shared.wire.desk_intents import (
    COUNTDOWN_MS,
    MOST_TABLES,
    DeskIntent,
    EndEvening,
    RankFrom,
    RunClocks,
    StartAll,
    WaitFor,
)

EXAMPLE = """\
# A plan for an evening that runs itself: racktempo desk --headless THIS_FILE
# Every line may be left out; what it says then is in brackets.

name = "Tuesday at the Boathouse"     # shown to everybody ["Club night"]
tables = ["By the window", "Corner"]  # names, or how many [1]
start = "when full"                   # or "19:30", or one time for each heat: ["19:30", "19:50", "20:10"] ["when full"]
wait = "5:00"                         # with "when full": begin with bots after this long all the same [for ever]
countdown = "0:10"                    # from the announcement to the start of all tables ["0:10"]
pause = "2:00"                        # between heats, where no time is given for each ["2:00"]
patience = "1:00"                     # a table waits so long for one person who is away or not ready ["1:00"]
places_from = 2                       # a place takes so many heats [all but one of a set, 2 at least]
card = "practice"                     # a card of hands, by its name or file; --card wins over it ["practice"]

[settings]                            # what a preset may hold: racktempo host shows all of it
level = "3:00"                        # for all steps of a heat together ["3:00"]
heats = 3                             # [3]
same_deal = true                      # every table plays the same deal, seat for seat [false]

[files]                               # written at the end; without a line here, not at all
heats = "heats.csv"                   # every heat: seconds by step, points lost
standings = "standings.csv"           # what the screen shows
page = "evening.html"                 # both, with plots, to look at and to print
"""
"""What racktempo desk --plan-example prints."""
MOST_BYTES = 64 * 1024
PAUSE_MS = 120_000
_WHEN_FULL = "when full"
_FILES = ("heats", "standings", "page")
_DAY_MS = 24 * 3_600_000


class BadPlan(ValueError):
    """A plan that cannot be used; the message is one or more sentences for a person."""


@dataclass(frozen=True, slots=True)
class Plan:
    """An evening as it is meant to go. starts_ms are times of day; empty: as soon as every chair has a person."""

    name: str = "Club night"
    tables: tuple[str, ...] = ("",)
    settings: Settings = field(default_factory=Settings)
    starts_ms: tuple[int, ...] = ()
    pause_ms: int = PAUSE_MS
    countdown_ms: int = COUNTDOWN_MS
    wait_ms: int | None = None
    patience_ms: int | None = None
    places_from: int = 0
    files: Mapping[str, str] = field(default_factory=dict)
    card: str = ""


@dataclass(slots=True)
class Progress:
    """What a run of a plan remembers: when it began, when all tables were last through, which heat was asked for."""

    began_ms: int
    day_ms: int
    idle_since_ms: int | None = None
    asked_for: int = 0

    def time_of_day_ms(self, now_ms: int) -> int:
        """Return the time of day now, counted on over midnight; day_ms was the time of day at began_ms."""
        return self.day_ms + now_ms - self.began_ms


def read_plan(data: bytes) -> Plan:
    """Return the plan in a file's bytes; more than MOST_BYTES are too many.

    Raises:
        BadPlan: every fault, each in a sentence.
    """
    values = read_table(data, MOST_BYTES)
    if isinstance(values, str):
        raise BadPlan(values)
    faults: list[str] = []
    known = (
        "name",
        "tables",
        "start",
        "wait",
        "countdown",
        "pause",
        "patience",
        "places_from",
        "card",
        "settings",
        "files",
    )
    faults += [
        f"A plan has no field {quoted(key)}; it may have {', '.join(known)}." for key in values if key not in known
    ]
    settings = _settings(values.get("settings", {}), faults)
    plan = Plan(
        name=_name(values.get("name", "Club night"), faults),
        tables=_tables(values.get("tables", 1), faults),
        settings=settings,
        starts_ms=_starts(values.get("start", _WHEN_FULL), settings.heats, faults),
        pause_ms=_time_ms("pause", values["pause"], faults) if "pause" in values else PAUSE_MS,
        countdown_ms=_time_ms("countdown", values["countdown"], faults) if "countdown" in values else COUNTDOWN_MS,
        wait_ms=_time_ms("wait", values["wait"], faults) if "wait" in values else None,
        patience_ms=_time_ms("patience", values["patience"], faults) if "patience" in values else None,
        places_from=_places_from(values.get("places_from", 0), faults),
        card=_card(values, faults),
        files=_files(values.get("files", {}), faults),
    )
    for name, ms in (("countdown", plan.countdown_ms), ("patience", plan.patience_ms or 0)):
        if ms > 600_000:
            faults.append(f"{name} is longer than ten minutes.")
    if faults:
        raise BadPlan(" ".join(faults))
    return plan


def next_order(plan: Plan, view: ClubView, progress: Progress, now_ms: int) -> DeskIntent | None:
    """Return what is to be asked of the club now, if anything; progress is kept up to date.

    Where a heat was interrupted by the end of the process its clocks run on as soon as the plan does.
    """
    if view.over or view.starts_in_ms is not None:
        return None
    if plan.places_from and view.least != plan.places_from:
        return RankFrom(heats=plan.places_from)
    if plan.patience_ms is not None and view.wait_ms != plan.patience_ms:
        return WaitFor(ms=plan.patience_ms)
    running = [table for table in view.tables if table.phase == "heat"]
    if running:
        progress.idle_since_ms = None
        stopped = [table for table in running if table.paused]
        return RunClocks(table=stopped[0].number) if stopped else None
    if progress.idle_since_ms is None:
        progress.idle_since_ms = now_ms
    heat = max((table.heat_number for table in view.tables), default=0) + 1
    if heat > plan.settings.heats:
        # The results want what the coach finds, and an evening that is stopped meanwhile can be gone on with.
        return EndEvening() if view.looked == view.to_look_at else None
    if progress.asked_for >= heat or not _is_time(plan, view, progress, heat, now_ms):
        return None
    if not any(chair.sitter == "person" for table in view.tables for chair in table.chairs):
        return None
    progress.asked_for = heat
    return StartAll(in_ms=plan.countdown_ms)


def _is_time(plan: Plan, view: ClubView, progress: Progress, heat: int, now_ms: int) -> bool:
    assert progress.idle_since_ms is not None
    idle_ms = now_ms - progress.idle_since_ms
    if len(plan.starts_ms) >= heat:
        return progress.time_of_day_ms(now_ms) >= _coming(plan.starts_ms[heat - 1], progress.day_ms)
    if heat > 1:
        return idle_ms >= plan.pause_ms
    is_full = all(chair.sitter == "person" for table in view.tables for chair in table.chairs)
    return is_full or (plan.wait_ms is not None and idle_ms >= plan.wait_ms)


def _coming(start_ms: int, day_ms: int) -> int:
    """Return a start as a time of this day, or of the next where it lies more than half a day back."""
    return start_ms + _DAY_MS if start_ms < day_ms - _DAY_MS // 2 else start_ms


# ---- reading


def _name(value: object, faults: list[str]) -> str:
    name = clean_name(value, cells=EVENING_CELLS) if isinstance(value, str) else ""
    if not name:
        faults.append(f"name is {quoted(value)}; it must be text.")
    return name


def _card(values: Mapping[str, Any], faults: list[str]) -> str:
    card, wrong = card_in(values)
    faults += wrong
    return card


def _tables(value: object, faults: list[str]) -> tuple[str, ...]:
    if isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= MOST_TABLES:
        return ("",) * value
    if isinstance(value, list) and 1 <= len(value) <= MOST_TABLES and all(isinstance(name, str) for name in value):
        return tuple(value)
    faults.append(f"tables is {quoted(value)}; it must be a number from 1 to {MOST_TABLES}, or a list of names.")
    return ("",)


def _places_from(value: object, faults: list[str]) -> int:
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= 12:
        return value
    faults.append(f"places_from is {quoted(value)}; it must be a whole number from 0 to 12.")
    return 0


def _settings(value: object, faults: list[str]) -> Settings:
    if not isinstance(value, dict):
        faults.append("settings must be a table of its own: [settings].")
        return Settings()
    read = settings_in(value)
    if isinstance(read, Settings):
        return read
    faults += read
    return Settings()


def _starts(value: object, heats: int, faults: list[str]) -> tuple[int, ...]:
    if value == _WHEN_FULL:
        return ()
    texts = value if isinstance(value, list) else [value]
    times = [_time_of_day_ms(text) for text in texts]
    read = tuple(time for time in times if time is not None)
    if len(read) < len(times) or not times:
        faults.append(
            f'start is {quoted(value)}; it must be "{_WHEN_FULL}", a time such as "19:30", or one for each heat.'
        )
        return ()
    if isinstance(value, list) and len(read) != heats:
        faults.append(f"start gives {some(len(read), 'time')} for {some(heats, 'heat')}.")
    if any(later <= earlier for earlier, later in pairwise(read)):
        faults.append("start gives times that are not in order.")
    return read


def _time_of_day_ms(value: object) -> int | None:
    found = re.fullmatch(r"([01]?\d|2[0-3]):([0-5]\d)", value) if isinstance(value, str) else None
    return (int(found[1]) * 60 + int(found[2])) * 60_000 if found else None


def _time_ms(name: str, value: object, faults: list[str]) -> int:
    ms = time_ms_of(value)
    if ms is None:
        faults.append(f'{name} is {quoted(value)}; it must be a time such as "2:00", or seconds.')
    return ms or 0


def _files(value: Any, faults: list[str]) -> Mapping[str, str]:
    if not isinstance(value, dict):
        faults.append("files must be a table of its own: [files].")
        return {}
    for key, path in value.items():
        if key not in _FILES:
            faults.append(f"files has no field {quoted(key)}; it may have {', '.join(_FILES)}.")
        elif not isinstance(path, str) or not path.strip() or "\0" in path:
            faults.append(f"files: {key} is {quoted(path)}; it must be the name of a file.")
    return {key: path for key, path in value.items() if key in _FILES and isinstance(path, str)}
