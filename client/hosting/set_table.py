"""The table for one at which a set to take home is played: begun once, gone on with where it was left, and noted."""

import secrets
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from pathlib import Path

from client.connection.opened import Opened
from client.hosting.alone import open_solo, solo_folder, waiting_set
from client.storage.sets import TABLE, KeptSet, begun, folder_of, kept_set, not_begun, played_of
from server.records import TableRecord
from shared.rules.set_line import TakeHome, read_line
from shared.troubles import describe_error

PLAYED = (
    "You have played this set. Hand your result in, or begin another try (--again), which is kept and marked as one."
)


def _folder(taken: TakeHome) -> Path:
    return solo_folder() / "sets" / folder_of(taken.line).name


def where_it_stands(kept: KeptSet) -> str:
    """Return how far the player has come with a set, in a few words."""
    taken = read_line(kept.line)
    if isinstance(taken, str):
        return taken
    if waits := where_it_waits(taken):
        return f"{waits} waits as you left it"
    if not kept.tries:
        return "not begun"
    heats, most = len(played_of(kept, 1)), taken.settings.heats
    tries = f", tried {len(kept.tries)} times" if len(kept.tries) > 1 else ""
    return f"{'played' if heats == most else f'{heats} of {most} heats played'}{tries}"


def where_it_waits(taken: TakeHome) -> str:
    """Return where a set stands that was left unfinished, such as "heat 2 of 3"; empty if it does not wait."""
    waiting = waiting_set(_folder(taken))
    return waiting.words if waiting else ""


@asynccontextmanager
async def open_set(
    taken: TakeHome, name: str, card: str, title: str = "", again: bool = False
) -> AsyncIterator[Opened]:
    """Open the table of a set, or go on where it was left, its clock stopped; every time is noted.

    card is the text of the set's card. Only with again is another try begun.

    Raises:
        ValueError: it could not be opened; the message is one sentence.
    """
    goes_on, kept = bool(where_it_waits(taken)) and not again, kept_set(taken.line)
    if kept and kept.tries and not goes_on and not again:
        raise ValueError(PLAYED)
    is_open = False

    def watch(record: TableRecord) -> None:
        nonlocal is_open
        try:
            if not is_open:
                begun(taken, record.id, secrets.token_hex(8), name, title, goes_on)
            elif not record.number:
                not_begun(taken, record.id)
        except OSError as error:
            if not is_open:
                raise ValueError(f"The set could not be noted: {describe_error(error)}.") from error
        is_open = True

    opening = open_solo(taken.settings, name, card, go_on=goes_on, title=TABLE, folder=_folder(taken), watch=watch)
    async with opening as opened:
        yield replace(opened, take_home=taken.line)
