"""Hosting one table: open it new or go on where it was left, and serve it without a screen until a signal comes.

What a host with a screen needs is here too, as host_table; which of the two ways to go on is never guessed.
"""

import asyncio
import contextlib
import hashlib
import secrets
import signal
import ssl
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from server.admission import Admission
from server.clock import wall_time
from server.net.beacon import Announcer
from server.net.codes import make_code
from server.net.listener import Listener, open_listener
from server.records import ClubRecord, TableRecord
from server.store import Store, StoredTable, default_path
from server.table.keeper import Keeper
from server.table.seating import Seating
from server.table.table import Table
from shared.cards.owned import copy_lost, is_copy, told_card
from shared.cards.play import shipped_text
from shared.names import clean_name
from shared.rules.drills import Laid
from shared.rules.settings import Settings
from shared.troubles import describe_error
from shared.visitors import KEY_BYTES, KEY_FILE, page_key
from shared.wire.announce import Announcement
from shared.wire.messages import PORT

READABLE = "Others on this network can read along; --tls-cert and --tls-key prevent it."
_FINGERPRINT_DIGITS = 20
"""80 bits of a SHA-256: nobody finds another certificate that begins alike."""
GoOn = Literal["resume", "fresh", "ask"]
FindCard = Callable[[str], str]
"""Finds the text of a card of this machine by its digest; empty if there is none."""


def no_cards(digest: str) -> str:
    """Find nothing."""
    return ""


@dataclass(frozen=True, slots=True)
class Hosted:
    """An open table: its listener, that for its host's own line, and its keeper with the record of name and code."""

    listener: Listener
    own_listener: Listener
    keeper: Keeper

    @property
    def record(self) -> TableRecord:
        """The table's record as it stands."""
        return self.keeper.table.record


def unfinished(store: Store) -> StoredTable | None:
    """Return the table that was left last with a heat or a set unfinished. Raises StoreFault."""
    left = [stored for stored in store.load() if stored.is_unfinished]
    return left[-1] if left else None


def clear(store: Store) -> None:
    """Forget every table of the file: people keep their own heats, and a code is for one evening. Raises StoreFault."""
    for stored in store.load():
        store.forget(stored.record.id)


def how_it_stands(stored: StoredTable) -> str:
    """Return one sentence about an unfinished table, or shared clock."""
    record = stored.record
    done = record.number - record.set_first + (0 if record.phase == "heat" else 1)
    where = f"heat {done + 1} of {record.settings.heats} was running" if record.phase == "heat" else ""
    where = where or f"{done} of {record.settings.heats} heats are played"
    return f'The {"clock" if record.clock else "table"} "{clean_name(record.name)}" was left unfinished: {where}.'


@asynccontextmanager
async def host_table(
    store: Store,
    settings: Settings,
    name: str,
    stored: StoredTable | None = None,
    *,
    card: str = "",
    host: str | None = None,
    port: int = PORT,
    tls: ssl.SSLContext | None = None,
    laid: tuple[Laid, ...] = (),
    find_card: FindCard = no_cards,
) -> AsyncIterator[Hosted]:
    """Open a new table, or go on with a stored one (paused, with its own settings, card, name and code).

    With laid heats it is a table for drills. find_card finds the stored table's card if it is not kept with it.

    Raises:
        CannotOpen: the port cannot be had.
    """
    record = stored.record if stored else new_record(settings, name, card)
    own_card = text_of(record, card, find_card)
    table = Table(record, secrets.token_bytes, wall_time, laid=laid, own_card=own_card)
    async with host_seating(store, table, stored, host=host, port=port, tls=tls) as hosted:
        yield hosted


@asynccontextmanager
async def host_seating(
    store: Store,
    table: Seating,
    stored: StoredTable | None = None,
    *,
    host: str | None = None,
    port: int = PORT,
    tls: ssl.SSLContext | None = None,
    own: bool = False,
) -> AsyncIterator[Hosted]:
    """Open a table or a shared clock. With own, the host's own line needs no TLS: it has a listener on this machine.

    Raises:
        CannotOpen: the port cannot be had.
    """
    async with Admission.open(store, page_key=own_page_key()) as admission:
        keeper = admission.add(table, stored)
        async with open_listener(admission, host, port, tls=tls) as listener:
            if not (own and tls):
                yield Hosted(listener, listener, keeper)
                return
            async with open_listener(admission, "127.0.0.1", 0) as own_listener:
                yield Hosted(listener, own_listener, keeper)


def own_page_key() -> bytes:
    """Return what a page for browsers on this machine proves itself with."""
    return page_key(default_path().with_name(KEY_FILE), secrets.token_bytes(KEY_BYTES))


def new_record(settings: Settings, name: str, card: str = "") -> TableRecord:
    """Return a table at which nobody sits yet, with a fresh id and word code, that plays by a card (TOML text).

    Without a card it is the practice card. The record holds the text only if its owner shares it.
    """
    told = told_card(card or shipped_text())
    return TableRecord(
        id=secrets.token_hex(8),
        name=clean_name(name, "Table"),
        code=make_code(secrets.token_bytes(16)),
        settings=settings,
        card=told.text,
        card_title=told.title,
        card_digest=told.digest,
    )


def text_of(record: TableRecord | ClubRecord, card: str, find_card: FindCard) -> str:
    """Return the text of a table's card: the one it was opened with, or found by its digest; empty if there is none."""
    if record.card or is_copy(card, record.card_digest):
        return record.card or card
    return find_card(record.card_digest) if record.card_digest else ""


def lost_card(record: TableRecord | ClubRecord, find_card: FindCard) -> str:
    """Return a sentence if a stored table's card is not on this machine any more, else nothing."""
    is_lost = record.card_digest and not text_of(record, "", find_card)
    return copy_lost(record.card_title) if is_lost else ""


def tls_context(certificate: Path, key: Path) -> ssl.SSLContext:
    """Return what wss needs.

    Raises:
        ValueError: one of the two files cannot be used; the message is one sentence.
    """
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    try:
        context.load_cert_chain(certificate, key)
    except ssl.SSLError as error:
        is_others = error.reason == "KEY_VALUES_MISMATCH"
        reason = "the key is another certificate's" if is_others else "they are not a certificate and its PEM key"
        raise ValueError(f"{certificate} and {key} cannot be used for wss: {reason}.") from error
    except OSError as error:
        raise ValueError(f"{certificate} and {key} cannot be used for wss: {describe_error(error)}.") from error
    return context


def privacy(certificate: Path | None) -> str:
    """Return a sentence on who can read what is sent over a table's lines. Raises ValueError like tls_context."""
    if certificate is None:
        return READABLE
    try:
        text = certificate.read_text("ascii")
        end = text.index(ssl.PEM_FOOTER) + len(ssl.PEM_FOOTER)
        der = ssl.PEM_cert_to_DER_cert(text[text.index(ssl.PEM_HEADER) : end])
    except (OSError, ValueError) as error:
        raise ValueError(f"{certificate} does not hold a readable certificate.") from error
    digits = hashlib.sha256(der).hexdigest()[:_FINGERPRINT_DIGITS]
    return f"Private: guests type wss://ADDRESS#{digits}"


def run_headless(
    settings: Settings,
    name: str,
    *,
    card: str = "",
    host: str | None = None,
    port: int = PORT,
    path: Path | None = None,
    go_on: GoOn = "ask",
    tls: tuple[Path, Path] | None = None,
    find_card: FindCard = no_cards,
    say: Callable[[str], None],
) -> int:
    """Host a table until SIGINT or SIGTERM; return the exit status, 0 if all went well.

    path is the file that tables are kept in (the user's data folder if None). An unfinished table in it is taken
    up or dropped as go_on says; with "ask" nothing is opened and the two ways are named. tls is a certificate and its
    key, for wss.

    Raises:
        ValueError: the certificate cannot be used; the message is one sentence.
        CannotOpen, StoreFault: the port or the file cannot be had.
    """
    try:
        return asyncio.run(_serve(settings, name, card, host, port, path or default_path(), go_on, tls, find_card, say))
    except KeyboardInterrupt:
        return 0


async def _serve(
    settings: Settings,
    name: str,
    card: str,
    host: str | None,
    port: int,
    path: Path,
    go_on: GoOn,
    tls: tuple[Path, Path] | None,
    find_card: FindCard,
    say: Callable[[str], None],
) -> int:
    context, who_reads = tls_context(*tls) if tls else None, privacy(tls[0] if tls else None)
    store = Store.open(path)
    try:
        stored = unfinished(store)
        if stored and go_on == "ask":
            say(f"{how_it_stands(stored)} Use --resume to go on with it or --fresh to begin anew.")
            return 2
        if not stored or go_on == "fresh":
            clear(store)
            stored = None
        opening = host_table(
            store, settings, name, stored, card=card, host=host, port=port, tls=context, find_card=find_card
        )
        async with opening as hosted:
            if stored and (lost := lost_card(stored.record, find_card)):
                say(lost)
            for line in (*_announcement(hosted, stored), who_reads):
                say(line)
            beacon = Announcer(Announcement(hosted.record.name, hosted.listener.port, private=tls is not None))
            # A table that was bound to one address, such as this machine's own, is not there for the whole network.
            beacon.show([] if host else hosted.listener.addresses, say)
            try:
                await _until_told_to_stop()
                say("Closing.")
            finally:
                await beacon.close()
    finally:
        await store.close()
    return 0


def _announcement(hosted: Hosted, stored: StoredTable | None) -> tuple[str, ...]:
    record = hosted.record
    lines = [f"Table: {record.name}", *(f"Address: {address}" for address in hosted.listener.addresses)]
    lines += [f"Port: {hosted.listener.port}", f"Code: {record.code}"]
    if stored:
        lines.append(f"{how_it_stands(stored)} It is paused until its host comes back and goes on.")
    return tuple(lines)


async def _until_told_to_stop() -> None:
    loop, stop = asyncio.get_running_loop(), asyncio.Event()
    for number in (signal.SIGINT, signal.SIGTERM):
        # Windows has no signal handlers in a loop; there an interrupt ends asyncio.run, which closes as well.
        with contextlib.suppress(NotImplementedError):
            loop.add_signal_handler(number, stop.set)
    await stop.wait()
