"""Tables inside the client's own process: alone with bots, as a host for others, or four bots by themselves.

The one module of the client that may import the server. What is played still goes over a line like any other:
a client here sees no more than a client far away. A table for one keeps its running heat in memory: when its
window closes there is nobody left to go on with it, and a file on the disk would only keep a second table from
opening. Every finished heat is kept by the client all the same.
"""

import secrets
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager

from client.address import Address
from client.doors import Opened
from client.link import Link
from server.chairs import TableRecord
from server.clock import wall_time
from server.codes import make_code
from server.door import CannotOpen, Door, open_door
from server.gate import Gate
from server.output import Output
from server.store import Store, StoreFault, default_path
from server.table import Table
from shared.heat import SavedHeat
from shared.intents import Ready, Start
from shared.messages import Command
from shared.names import clean_name
from shared.settings import Settings
from shared.wall import CONTRIBUTION_BYTES

VIRTUAL_START = "1970-01-01T00:00:00+00:00"
"""When a heat in virtual time is said to be played: its clock begins at zero."""


@asynccontextmanager
async def open_solo(settings: Settings, name: str) -> AsyncIterator[Opened]:
    """Open a table for one with three bots; the first heat begins as soon as the line runs.

    Raises:
        ValueError: it could not be opened; the message is one sentence.
    """
    table = _table("Practice", settings)
    async with _opened(table, Store.open(None), "127.0.0.1", 0) as door:
        link = Link(Address("127.0.0.1", door.port), name, table.record.code)
        link.ask(Ready(contribution=secrets.token_bytes(CONTRIBUTION_BYTES)), 0)
        yield Opened(link)


@asynccontextmanager
async def open_host(settings: Settings, name: str, port: int) -> AsyncIterator[Opened]:
    """Open a table for others on every network of this machine and sit down at it.

    Raises:
        ValueError: it could not be opened; the message is one sentence.
    """
    table = _table(clean_name(f"{name}'s table"), settings)
    try:
        store = Store.open(default_path())
    except StoreFault as fault:
        raise ValueError(str(fault)) from fault
    async with _opened(table, store, None, port) as door:
        yield Opened(Link(Address("127.0.0.1", door.port), name, table.record.code), door.addresses)


def play_bots(settings: Settings, random_bytes: Callable[[int], bytes] = secrets.token_bytes) -> tuple[SavedHeat, ...]:
    """Play one whole set with bots in all four seats under a virtual clock that jumps from deadline to deadline.

    With a seed in the settings nothing is random and every machine plays the same set.
    """
    record = TableRecord(id="four-birds", name="Four birds", code="", settings=settings, host=0)
    table = Table(record, random_bytes, lambda: VIRTUAL_START)
    heats: list[SavedHeat] = []
    now_ms = 0

    def settle(output: Output) -> None:
        if output.finished:
            heats.append(output.finished)
        for thought in output.thoughts:
            settle(table.thought(thought.chair, thought.heat, thought.step, thought.run(), now_ms))

    while table.record.phase != "over":
        if table.record.phase != "heat":
            settle(table.command(0, Command(id=len(heats) + 1, heat=0, intent=Start()), now_ms))
        due_ms = table.next_deadline_ms()
        if due_ms is not None:
            now_ms = due_ms
            settle(table.tick(now_ms))
    return tuple(heats)


def _table(name: str, settings: Settings) -> Table:
    record = TableRecord(id=secrets.token_hex(8), name=name, code=make_code(secrets.token_bytes(16)), settings=settings)
    return Table(record, secrets.token_bytes, wall_time)


@asynccontextmanager
async def _opened(table: Table, store: Store, host: str | None, port: int) -> AsyncIterator[Door]:
    try:
        async with Gate.open(store) as gate:
            gate.add(table)
            async with open_door(gate, host, port) as door:
                yield door
    except CannotOpen as fault:
        raise ValueError(str(fault)) from fault
    finally:
        await store.close()
