"""An evening of several tables inside the desk's own process, with a screen or run by a plan.

All that the desk sees and asks goes over a line like anybody's.
"""

import asyncio
import contextlib
import datetime
import signal
import ssl
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from pathlib import Path

from client.connection.link import Ended, Heard
from client.connection.opened import Opened
from client.console import log_to_standard_error
from client.hosting.evening_plan import Plan, Progress, next_order
from client.hosting.opener import Kind, Tls, as_sentences, open_for_others
from client.hosting.opener import Unfinished as Unfinished
from client.reports.evening_files import write_evening
from client.storage.card_files import find_played
from server.clock import spare_pauses
from server.club.review_process import Reviewer
from server.evening import (
    HostedClub,
    clear_club,
    club_path,
    host_club,
    how_the_evening_stands,
    new_club_record,
    unfinished_club,
)
from server.host import GoOn as GoOn
from server.host import lost_card, privacy
from server.records import ClubRecord
from server.store import Store
from shared.measures.standings import Played
from shared.rules.settings import Settings
from shared.wire.club_views import ClubView, Evening
from shared.wire.messages import PORT, Refused

WAYS_ON = "Start racktempo desk --resume to go on with it, or --fresh to begin anew."
_LOOK_S = 0.25
"""How often a plan looks at the evening."""
_TELL_MS = 10_000
"""How often it says how far the coach is."""


def open_desk(
    settings: Settings,
    name: str,
    tables: Sequence[str],
    *,
    port: int = PORT,
    card: str = "",
    go_on: GoOn = "ask",
    tls: Tls | None = None,
    path: Path | None = None,
    reviewer: Reviewer | None = None,
    say: Callable[[HostedClub], None] = lambda hosted: None,
) -> AbstractAsyncContextManager[Opened]:
    """Open an evening on every network of this machine, and a line to its desk; say is called once it is open.

    tables are names ("": by number) of the first tables of a new evening. go_on says what becomes of one that was
    left unfinished; path is its file (the user's data folder if None), reviewer who looks at its heats (the coach, in
    a process of its own, if None).

    Raises:
        Unfinished: there is one, and go_on is "ask".
        ValueError: it could not be opened; the message is one sentence.
    """

    @asynccontextmanager
    async def host(store: Store, left: ClubRecord | None, tls: ssl.SSLContext | None) -> AsyncIterator[HostedClub]:
        record = left or new_club_record(settings, name, card)
        opening = host_club(
            store, record, tables, port=port, tls=tls, reviewer=reviewer, card=card, find_card=find_played
        )
        async with opening as hosted:
            say(hosted)
            spare_pauses()
            yield hosted

    def sentence(left: ClubRecord) -> str:
        return f"{how_the_evening_stands(left)} {WAYS_ON}"

    kind = Kind(path or club_path(), unfinished_club, sentence, clear_club, host, role="desk", card=card)
    return open_for_others(kind, "desk", go_on, tls)


def left_unfinished() -> str:
    """Return a sentence about the evening that was left unfinished on this machine, or nothing if there is none.

    Raises:
        ValueError: the file of evenings cannot be read, or another desk is using it.
    """

    async def look() -> str:
        store = Store.open(club_path())
        try:
            left = unfinished_club(store)
        finally:
            await store.close()
        return how_the_evening_stands(left) if left else ""

    with as_sentences():
        return asyncio.run(look())


# ---- an evening that runs itself


def run_plan(plan: Plan, *, port: int, card: str, go_on: GoOn, tls: Tls | None, say: Callable[[str], None]) -> int:
    """Host an evening by a plan until it is over or a signal comes; return the exit code.

    Raises:
        ValueError: it could not be opened; the message is one sentence.
    """
    log_to_standard_error()
    opening = open_desk(
        plan.settings,
        plan.name,
        plan.tables,
        port=port,
        card=card,
        go_on=go_on,
        tls=tls,
        say=lambda hosted: _tell(hosted, say, privacy(tls[0] if tls else None)),
    )
    return asyncio.run(_until_stopped(plan, opening, say))


def _tell(hosted: HostedClub, say: Callable[[str], None], who_reads: str) -> None:
    say(f"Evening: {hosted.record.name}")
    for address in hosted.listener.addresses:
        say(f"Address: {address}")
    say(f"Port: {hosted.listener.port}")
    say(f"Code: {hosted.record.code}")
    say(f"Desk code: {hosted.record.desk_code}")
    say(who_reads)
    if lost := lost_card(hosted.record, find_played):
        say(lost)


async def _until_stopped(
    plan: Plan, opening: contextlib.AbstractAsyncContextManager[Opened], say: Callable[[str], None]
) -> int:
    running = asyncio.create_task(follow(plan, opening, say, asyncio.get_running_loop().time, _time_of_day_ms()))
    for number in (signal.SIGINT, signal.SIGTERM):
        with contextlib.suppress(NotImplementedError):
            asyncio.get_running_loop().add_signal_handler(number, running.cancel)
    try:
        return await running
    except asyncio.CancelledError:
        say("Closing; the evening can be resumed.")
        return 0


async def follow(
    plan: Plan,
    opening: contextlib.AbstractAsyncContextManager[Opened],
    say: Callable[[str], None],
    now_s: Callable[[], float],
    day_ms: int,
) -> int:
    """Be the desk of an evening as its plan says, until it is over and its files are written; return the exit code.

    The end waits for the coach's reviews. To end sooner, stop it: before the evening is over it can be
    gone on with, and after that the files are written with what is known.

    now_s is a monotonic clock in seconds, day_ms the time of day at its present moment.
    """
    run = _Run(plan, say, Progress(int(now_s() * 1_000), day_ms))
    async with opening as opened:
        opened.announce(opened.addresses, say)
        carrying = asyncio.create_task(opened.line.run(run.hear))
        try:
            while not (run.is_over and run.is_looked_at):
                if carrying.done():
                    say(run.trouble or "The connection to the evening has ended.")
                    return 1
                now_ms = int(now_s() * 1_000)
                run.tell_of_coach(now_ms)
                if run.view and (order := next_order(plan, run.view, run.progress, now_ms)):
                    opened.line.ask(order, 0)
                    say(f"Asked: {order.kind}.")
                    run.view = None  # nothing more is asked before the club has shown what came of it
                await asyncio.sleep(_LOOK_S)
        except asyncio.CancelledError:
            if not run.is_over:
                raise
            say("Stopped: the results leave out what the coach has not reviewed.")
        finally:
            opened.line.close()
            await asyncio.gather(carrying, return_exceptions=True)
    day = f"{datetime.date.today():%Y-%m-%d}"
    files = {key: Path(path) for key, path in plan.files.items()}
    faults = write_evening(run.played, plan.name, day, files, run.least)
    for sentence in (*faults, "The evening is over."):
        say(sentence)
    return 1 if faults else 0


class _Run:
    """What a running plan has heard."""

    def __init__(self, plan: Plan, say: Callable[[str], None], progress: Progress) -> None:
        self.plan, self.say, self.progress = plan, say, progress
        self.view: ClubView | None = None
        self.played: tuple[Played, ...] = ()
        self.is_over = False
        self.least = 1
        self.looked = self.to_look_at = self._told_looked = self._told_ms = 0
        self.trouble = ""

    @property
    def is_looked_at(self) -> bool:
        return self.looked == self.to_look_at

    def tell_of_coach(self, now_ms: int) -> None:
        """Say how far the coach is, now and then and once it is through."""
        if self.looked == self._told_looked or (not self.is_looked_at and now_ms < self._told_ms + _TELL_MS):
            return
        self._told_looked, self._told_ms = self.looked, now_ms
        self.say(f"The coach has reviewed {self.looked} of {self.to_look_at}.")

    def hear(self, heard: Heard) -> None:
        match heard:
            case ClubView():
                self.view, self.is_over, self.least = heard, heard.over, heard.least
                self.looked, self.to_look_at = heard.looked, heard.to_look_at
            case Evening():
                heats = {one.heat for one in heard.played} - {one.heat for one in self.played}
                self.played = heard.played
                for heat in sorted(heats):
                    self.say(f"Heat {heat} has been played to its end at a table.")
            case Refused(text=text):
                self.say(text)
                self.progress.asked_for = 0
            case Ended(text=text):
                self.trouble = text


def _time_of_day_ms() -> int:
    now = datetime.datetime.now()
    return ((now.hour * 60 + now.minute) * 60 + now.second) * 1_000
