"""Hosting an evening of several tables: open it new or go on where it was left. What is done there the desk asks.

Evenings have a file of their own, so that one table and an evening can be hosted side by side.
"""

import secrets
import ssl
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path

from server.admission import Admission
from server.clock import wall_time
from server.club.club import new_club
from server.club.keeper import ClubKeeper
from server.club.review_process import Reviewer, ReviewProcess
from server.host import FindCard, clear, no_cards, own_page_key, text_of
from server.net.codes import make_code
from server.net.listener import Limits, Listener, open_listener
from server.records import ClubRecord
from server.store import Store, default_path
from shared.cards.owned import told_card
from shared.cards.play import shipped_text
from shared.names import EVENING_CELLS, clean_name
from shared.rules.settings import Settings
from shared.rules.wall import SECRET_BYTES
from shared.wire.messages import PORT

CLUB_LIMITS = Limits(connections_each=256)
"""Guests may share one address: several windows of one machine, or browsers served by it."""


@dataclass(frozen=True, slots=True)
class HostedClub:
    """An open evening: its doors (the second for this machine alone), and its keeper with the record of all codes."""

    listener: Listener
    own_listener: Listener
    keeper: ClubKeeper

    @property
    def record(self) -> ClubRecord:
        """The evening's record as it stands."""
        return self.keeper.club.record


def club_path() -> Path:
    """Return where evenings are kept: beside the tables."""
    return default_path().with_name("evening.sqlite3")


def new_club_record(settings: Settings, name: str, card: str = "") -> ClubRecord:
    """Return an evening without tables, with fresh codes; card is TOML text, the practice card if empty.

    The record holds the text only if its owner shares it.
    """
    told = told_card(card or shipped_text())
    return ClubRecord(
        id=secrets.token_hex(8),
        name=clean_name(name, "Club night", EVENING_CELLS),
        code=make_code(secrets.token_bytes(16)),
        desk_code=make_code(secrets.token_bytes(16)),
        teacher_code="",
        settings=settings,
        master=secrets.token_bytes(SECRET_BYTES),
        card=told.text,
        card_title=told.title,
        card_digest=told.digest,
    )


def unfinished_club(store: Store) -> ClubRecord | None:
    """Return the evening that was left before its end, if any. Raises StoreFault."""
    record = store.load_club()
    return record if record and record.phase == "open" and store.load() else None


def clear_club(store: Store) -> None:
    """Forget the evening that was kept, with all its tables. Raises StoreFault."""
    clear(store)
    store.forget_club()


def how_the_evening_stands(record: ClubRecord) -> str:
    """Return one sentence about an unfinished evening."""
    name, tables = clean_name(record.name, cells=EVENING_CELLS), record.opened
    return f'The evening "{name}" was left unfinished, with {tables} table{"s" if tables != 1 else ""}.'


@asynccontextmanager
async def host_club(
    store: Store,
    record: ClubRecord,
    tables: Sequence[str] = (),
    *,
    host: str | None = None,
    port: int = PORT,
    tls: ssl.SSLContext | None = None,
    reviewer: Reviewer | None = None,
    card: str = "",
    find_card: FindCard = no_cards,
) -> AsyncIterator[HostedClub]:
    """Open an evening; one that is not in the store begins with these tables ("": called by its number).

    The reviewer looks at its heats for the standings; if none is given it is the coach in a process of its own.
    card is the text that the evening was opened with; find_card finds that of one that was stored.

    Raises:
        CannotOpen: the port cannot be had.
        StoreFault: the file cannot be read or written.
    """
    async with Admission.open(store, page_key=own_page_key()) as admission:
        is_new = store.load_club() is None
        own_card = text_of(record, card, find_card)
        club = new_club(record, secrets.token_bytes, wall_time, own_card)
        keeper = await admission.add_club(club, () if is_new else store.load(), reviewer or ReviewProcess(own_card))
        for name in tables if is_new else ():
            await keeper.open_table(name)
        async with (
            open_listener(admission, host, port, tls=tls, limits=CLUB_LIMITS) as listener,
            open_listener(admission, "127.0.0.1", 0) as own,
        ):
            yield HostedClub(listener, own, keeper)
