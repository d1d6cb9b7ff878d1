"""One visitor's screen for a browser: the join form of one table, and that table. client.browser.server runs one each.

The visitor is a stranger and this is the host's machine: nothing of the host's is read, nothing is kept, no table is
opened here, and no screen but those of the one table can be reached. What the visitor has is a secret of their browser,
from which the tokens of their seats follow. Ends when the page's server ends, however that ends.
"""

import contextlib
import json
import os
import select
import shutil
import sys
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from client.connection.opened import Opened
    from client.tui.app import RacktempoApp

TOLD = "visit.json"
"""The file in the visitor's folder that says where the table is and what the browser's secret is."""
MEMORY_BYTES = 512 * 1024 * 1024
"""Memory limit of a visitor's process: one that is flooded with keys ends long before the machine suffers."""


def write_told(
    folder: Path, address: str, secret: bytes, name: str = "", code: str = "", visitor: str = "", proof: bytes = b""
) -> None:
    """Lay down what a visit begins with; proof is that visitor is the browser's address (shared.visitors)."""
    told = {"address": address, "secret": secret.hex(), "name": name, "code": code}
    told |= {"visitor": visitor, "proof": proof.hex()}
    (folder / TOLD).write_text(json.dumps(told), "utf-8")


def main() -> None:
    """Show one visitor's screen; the folder is the one word of the command line."""
    folder = Path(sys.argv[1])
    told = json.loads((folder / TOLD).read_text("utf-8"))
    (folder / TOLD).unlink()
    shut_in(folder)
    app = visitor_app(
        told["address"],
        bytes.fromhex(told["secret"]),
        told["name"],
        told["code"],
        told["visitor"],
        bytes.fromhex(told["proof"]),
    )
    app.run()
    sys.exit(app.return_code or 0)


def visitor_app(
    address: str, secret: bytes, name: str = "", code: str = "", visitor: str = "", proof: bytes = b""
) -> "RacktempoApp":
    """Return the full screen with one door, to the table at an address, and with nothing on its storage.

    With a name and a code it goes in at once.
    """
    from client.connection.address import read_address
    from client.connection.link import Link
    from client.connection.opened import Opened
    from client.connection.seat_tokens import derived_token
    from client.storage.journal import Journal
    from client.storage.preferences import Storage
    from client.tui.app import RacktempoApp
    from client.tui.ports import AtVisit, Openers
    from shared.wire.messages import PageVisitor

    whose = PageVisitor(address=visitor, proof=proof) if proof else None
    where = read_address(address)

    @asynccontextmanager
    async def join(_: str, name: str, code: str, card: str, watches: bool) -> AsyncIterator[Opened]:
        token = derived_token(secret, where, code, name)
        yield Opened(Link(where, name, code, token, role="watcher" if watches else "player", visitor=whose))

    openers = Openers(solo=lambda *_: _no_table(), host=lambda *_: _no_table(), join=join)
    return RacktempoApp(openers, AtVisit(str(where), name, code), storage=Storage(), journal=Journal())


@asynccontextmanager
async def _no_table() -> AsyncIterator["Opened"]:
    raise ValueError("Visitors cannot open tables here.")
    yield


def shut_in(folder: Path) -> None:
    """Leave the host's terminal behind. The environment was empty from the beginning (client.browser.process)."""
    os.chdir(folder)
    # A traceback may quote what a stranger typed, so it must not reach the host's terminal.
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
    with contextlib.suppress(ImportError, OSError, ValueError):
        import resource

        resource.setrlimit(resource.RLIMIT_DATA, (MEMORY_BYTES, MEMORY_BYTES))
    if hasattr(select, "poll"):
        threading.Thread(target=_end_with_server, args=(folder,), daemon=True).start()


def _end_with_server(folder: Path) -> None:
    """Wait until the other end of standard input is closed, which happens only when the server ends."""
    pipe = select.poll()
    pipe.register(0, select.POLLHUP)
    pipe.poll()
    shutil.rmtree(folder, ignore_errors=True)
    os._exit(1)
