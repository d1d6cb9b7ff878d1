"""Open a connection to a table that somebody else hosts; a restarted client gets its seat back."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import lru_cache
from pathlib import Path

from client.connection.address import read_address
from client.connection.link import Link
from client.connection.opened import Opened
from client.connection.seat_tokens import fresh_token, recall, remember, token_path
from client.storage.card_files import keep_played
from client.storage.files import state_folder
from shared.wire.messages import Role


@asynccontextmanager
async def open_join(address: str, name: str, code: str, card: str = "", watches: bool = False) -> AsyncIterator[Opened]:
    """Yield the link to a table, or with a teacher's code to the place from which a teacher sees racks; it connects
    when it runs. card is the text of one's own copy of the table's card; watches: no chair is wanted.

    Raises:
        BadAddress: the text is not an address.
    """
    where = read_address(address)
    if card:
        keep_played(card)
    path = token_path(state_folder(), where, code, name)
    role: Role = "watcher" if watches else "player"
    link = Link(where, name, code, recall(path) or _own_token(path), lambda token: remember(path, token), role)
    yield Opened(link, card=card)


@lru_cache(maxsize=64)
def _own_token(path: Path) -> bytes:
    """Return a token for a seat that is still to be given: whoever knocks again, while a host has yet to let this
    machine in, is the one who knocked before."""
    return fresh_token()


@asynccontextmanager
async def open_beside(address: str, code: str, role: Role) -> AsyncIterator[Opened]:
    """Yield the link to a place beside the tables of an evening that another machine hosts: its desk, or one for the
    wall; it connects when it runs.

    Raises:
        BadAddress: the text is not an address.
    """
    where = read_address(address)
    path = token_path(state_folder(), where, code, role)
    link = Link(where, role, code, recall(path) or fresh_token(), lambda own: remember(path, own), role=role)
    yield Opened(link, at=address, code=code if role == "watcher" else "")
