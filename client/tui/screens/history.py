"""What the player's heats say: seconds, speed against loss, what costs most, the next clock, and the heats.

Reads and computes beside the event loop; heats that nobody has looked at yet are looked at while the screen is open.
"""

import asyncio
from collections.abc import Sequence

from rich.cells import cell_len
from textual import work
from textual.app import ComposeResult

from client.coach.queue import Looking
from client.models.real_racks import ClockedHeat
from client.reports.history import clock_lines, cost_lines, counts, level_lines, plot_lines, set_lines
from client.reports.history_lesson import as_lines, lesson, sources
from client.reports.history_stats import (
    HistoryReport,
    history_report,
    in_order,
    is_inside,
    is_played,
    next_settings,
)
from client.storage.history_db import HistoryEntry, Read
from client.text import some, wrapped
from client.tui.ports import AtRacks, AtSolo
from client.tui.screens.base import BaseScreen
from client.tui.screens.review import ReviewScreen
from client.tui.widgets.canvas import Canvas, Painting
from client.tui.widgets.head import Title, seconds_text
from client.tui.widgets.key_bar import BACK, KeyBar, Keys, Note
from shared.measures.pacing import FEWEST
from shared.names import clean_name
from shared.rules.seats import Seat
from shared.rules.settings import Settings
from shared.times import write_time

PAGES = ("what they say", "seconds", "speed and loss", "sets and costs", "the next clock", "heats")
LOOKED_AT = 20
"""How many heats without a review are looked at when the screen opens, the latest ones."""
_WIDTH = 80


class HistoryScreen(BaseScreen):
    """Six pages; left and right turn them."""

    ABOUT = (
        "Medians come with 95% intervals; a trend needs at least 20 heats. A pass that the clock or a bot made does "
        "not count. The next clock is a suggestion: it is used only if you ask for it."
    )

    def __init__(self) -> None:
        super().__init__()
        self.page = 0
        self.has_sources = False
        self.level = 0
        self.row = 0
        self.read = Read(())
        self.report: HistoryReport | None = None
        self.offered: Settings | None = None
        self._looking: list[Looking] = []

    def compose(self) -> ComposeResult:
        """Build a title, the page, a line of words and the keys."""
        yield Title(lambda: f"History   {PAGES[self.page]}   page {self.page + 1} of {len(PAGES)}")
        yield Painting(self._draw)
        yield Note(self._words)
        yield KeyBar(self.keys)

    def on_mount(self) -> None:
        """Begin to read."""
        self._load(True)

    @work(exclusive=True, group="history")
    async def _load(self, look: bool) -> None:
        read = await asyncio.to_thread(self.shell.journal.read)
        self.report, self.offered = await asyncio.to_thread(lambda: (history_report(read), next_settings(read)))
        self.read = read
        if look:
            missing = [entry for entry in self.entries() if entry.heat.dealt and not entry.losses][:LOOKED_AT]
            self._look_at(missing)
        self.redraw()

    def redraw(self) -> None:
        """Draw everything again; read again once what was missing has been looked at."""
        if self._looking and not any(looking.running for looking in self._looking):
            self._looking = []
            self._load(False)
        super().redraw()

    def _look_at(self, entries: Sequence[HistoryEntry]) -> None:
        self._looking = [self.shell.coaching.look_at(entry.heat) for entry in entries]
        for looking in self._looking:
            self.shell.coaching.go_on(looking)

    def _older(self) -> list[HistoryEntry]:
        """Return the heats that an earlier coach judged, the latest first."""
        return [entry for entry in self.entries() if entry.is_older and entry.heat.dealt]

    def entries(self) -> Sequence[HistoryEntry]:
        """Return the heats, the latest first."""
        return in_order(self.read.entries)[::-1]

    # ---- what is shown

    def _words(self) -> str:
        if self.told:
            return self.told
        if self._looking:
            done = sum(looking.done for looking in self._looking) / len(self._looking)
            return f"Judging {some(len(self._looking), 'heat')} ... {done:.0%}"
        older = len(self._older())
        return f"{some(older, 'heat')} judged by an earlier coach: a judges them anew." if older else ""

    def _draw(self, canvas: Canvas) -> None:
        left, report = max(0, (canvas.width - _WIDTH) // 2), self.report
        if report is None:
            canvas.put(left, 1, "Reading ...", "quiet")
            return
        y = 0
        for line in wrapped(counts(report), _WIDTH) if self.page == 1 or not report.overall else ():
            canvas.put(left, y, line, "quiet")
            y += 1
        for line in self._fitting(self._lines(report, canvas), canvas, y) if report.overall else ():
            canvas.put(left, y, line, bold=not line.startswith(" ") and self.page not in (0, 2))
            y += 1
        if self.page == len(PAGES) - 1:
            self._draw_heats(canvas, left)
        for fault in report.faults if self.page == 0 else ():
            for line in wrapped(fault, _WIDTH):
                canvas.put(left, y, line, "warn")
                y += 1

    def _fitting(self, lines: Sequence[str], canvas: Canvas, y: int) -> Sequence[str]:
        """Return lines broken where they are too long; where that makes too many of them, the last says so."""
        if self.page == 2:
            return lines
        found = [part for line in lines for part in _broken(line, canvas.width)]
        room = canvas.height - y
        return found if len(found) <= room else [*found[: room - 1], "... racktempo history prints the rest."]

    def _lines(self, report: HistoryReport, canvas: Canvas) -> Sequence[str]:
        match self.page:
            case 0:
                said, width = sources() if self.has_sources else lesson(report), min(_WIDTH, canvas.width)
                lines = [as_lines(one, width) for one in said]
                close = [line for one in lines for line in one]
                airy = [line for one in lines for line in (*([] if one[0].startswith(" ") else [""]), *one)][1:]
                return airy if len(airy) <= canvas.height else close
            case 1:
                levels = (report.overall, *(report.levels if len(report.levels) > 1 else ()))
                level = levels[self.level % len(levels)]
                return tuple(level_lines(level, min(_WIDTH, canvas.width))) if level else ()
            case 2:
                found = tuple(plot_lines(report, _WIDTH - 1, canvas.height - 3, plain=canvas.look.ascii))
                return found or ("No pass has been reviewed yet.",)
            case 3:
                return (*set_lines(report), "", *cost_lines(report.costs))
            case 4:
                told = tuple(clock_lines(report.next_clock, min(_WIDTH, canvas.width)))
                return told or (f"No clock to propose yet: that takes {FEWEST} good passes at one step.",)
        return ()

    def _draw_heats(self, canvas: Canvas, left: int) -> None:
        entries = self.entries()
        where = canvas.fitted("where", _where(canvas) + 1)
        canvas.put(left, 0, f"{'played':<18}{where}{'level':<8}{'seconds':>8}  {'lost':>6}", "quiet")
        room = canvas.height - 3
        first = max(0, min(self.row - room // 2, len(entries) - room))
        for y, number in enumerate(range(first, min(len(entries), first + room)), start=1):
            here = number == self.row
            line = _heat_line(canvas, entries[number])
            canvas.put(
                left,
                y,
                canvas.fitted(line, _WIDTH),
                "text",
                "chosen" if here else "page",
                bold=here,
                key=f"heat {number}",
            )
        if entries and (named := [target.words or "none" for target in entries[self.row].targets]):
            told = f" target: {', then '.join(clean_name(words, '?') for words in named)}"
            canvas.put(left, canvas.height - 1, canvas.fitted(told, _WIDTH), "quiet")

    # ---- what is pressed

    def keys(self) -> Keys:
        """Return what can be pressed now."""
        here: Keys = ()
        if self.page == 0 and self.report and self.report.overall:
            here = (("s", "back" if self.has_sources else "sources", "s"),)
        elif self.page == 1 and self.report and len(self.report.levels) > 1:
            here = (("up down", "level", "down"),)
        elif self.page == len(PAGES) - 1 and self.read.entries:
            here = (("up down", "heat", ""), ("enter", "review", "enter"))
        play: Keys = (("n", "play by the next clock", "n"),) if self.offered else ()
        again: Keys = (("a", "stop judging" if self._looking else "judge anew", "a"),) if self._judging() else ()
        return (("left right", "page", "right"), *here, *play, *again, *BACK)

    def help_keys(self) -> Keys:
        """Return every key."""
        return (
            ("left right", "another page", "right"),
            ("s", "on the first page: what its sentences rest on", "s"),
            ("up down", "another level; another heat", ""),
            ("enter", "on the last page: review the heat again", ""),
            ("n", "a set alone, by the suggested clock", "n"),
            ("a", "judge heats anew that an earlier coach judged; again to stop", "a"),
            ("q", "back", "q"),
        )

    def _judging(self) -> bool:
        return bool(self._looking or self._older())

    def _judge_anew(self) -> None:
        """Begin with the heats of an earlier coach, or stop what is being judged."""
        if not self._looking:
            self._look_at(self._older())
            return
        for looking in self._looking:
            self.shell.coaching.stop(looking)

    def press(self, key: str) -> None:
        """Turn pages, choose, open a review, or play."""
        self.told = ""
        word, _, number = key.partition(" ")
        step = 1 if word in ("down", "right") else -1
        match word:
            case "q" | "escape":
                self.app.pop_screen()
            case "left" | "right":
                self.page = (self.page + step) % len(PAGES)
            case "s" if self.page == 0:
                self.has_sources = not self.has_sources
            case "up" | "down" if self.page == 1:
                self.level += step
            case "up" | "down":
                self.row = max(0, min(self.row + step, len(self.read.entries) - 1))
            case "heat" if number:
                self.row = int(number)
                self._review()
            case "enter" if self.page == len(PAGES) - 1:
                self._review()
            case "a" if self._judging():
                self._judge_anew()
            case "n" if self.offered:
                if (card := self.card_text(self.shell.card)) is not None:
                    self.shell.go(AtSolo(self.offered, card))

    def _review(self) -> None:
        entries = self.entries()
        if not entries:
            return
        heat = entries[self.row].heat
        if heat.dealt:
            self.app.push_screen(ReviewScreen((heat,), entries[self.row].targets))
        else:
            east = heat.seat == Seat.EAST
            self.shell.go(AtRacks((ClockedHeat(heat.commitment, heat.number, east, heat.settings, heat),)))


def _broken(line: str, width: int) -> list[str]:
    """Return a line in as many as it takes, those after the first set in."""
    if cell_len(line) <= width:
        return [line]
    indent = line[: len(line) - len(line.lstrip())]
    return wrapped(line.lstrip(), width, indent, f"{indent}    ")


def _where(canvas: Canvas) -> int:
    """Return the cells for where a heat was played."""
    return 25 if canvas.width >= _WIDTH else 10


def _heat_line(canvas: Canvas, entry: HistoryEntry) -> str:
    heat = entry.heat
    spent_ms = sum(step.spent_ms for step in heat.steps if step.step != "plan")
    drilled = clean_name(entry.detail.removeprefix("replay from "), "?")
    where = f"drill: {drilled}" if entry.source == "drill" else clean_name(heat.table, "?")
    losses = entry.by_this_coach().losses.values()
    lost = f"{sum(loss.points for loss in losses if not loss.forced):.1f}" if losses else "-"
    level, seconds = write_time(heat.settings.total_ms() // 1000 * 1000), seconds_text(spent_ms)
    when = clean_name(heat.played_at[:16].replace("T", " "), "?")
    out = any(step.by == "timeout" for step in heat.steps)
    inside = "" if is_inside(entry) else "  out" if out else "  over"
    inside = inside if is_played(entry) else "  not played"
    return f" {when:<17}{canvas.fitted(where, _where(canvas))} {level:<8}{seconds:>8}  {lost:>6}{inside}"
