"""Opening the full-screen client, for every command that has a screen; no command itself."""

import os
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path

from client.connection.opened import Opening
from client.console import BadArgument, is_terminal
from client.tui.ports import Openers, Start
from shared.rules.settings import Settings
from shared.wire.messages import PORT

DRIVER = "TEXTUAL_DRIVER"
"""The environment variable that names something else than a terminal for Textual to draw on, such as a browser."""


def show(
    start: Start,
    name: str,
    port: int = PORT,
    *,
    folder: Path | None = None,
    solo: Callable[[Settings, str, str], Opening] | None = None,
    host: Callable[[Settings, str, int, str], Opening] | None = None,
    together: Callable[[Settings, str, int], Opening] | None = None,
) -> int:
    """Run the full screen from where it is to start until the player quits; heats are kept in folder if named.

    solo, host and together open tables in another way than usual. Returns 1 if it broke off.

    Raises:
        BadArgument: there is no terminal to draw on.
    """
    if not (DRIVER in os.environ or (is_terminal(sys.stdin) and is_terminal(sys.stderr))):
        raise BadArgument("The full screen needs a terminal; racktempo solo --plain and join --plain do not.")
    from client.connection.discovery import look_around
    from client.connection.join import open_join
    from client.hosting import take_home
    from client.hosting.alone import open_drill, open_solo, waiting_set
    from client.hosting.table import open_host, open_together, table_left
    from client.reports.evening_files import keep_evening
    from client.storage.journal import disk_journal
    from client.storage.preferences import disk_storage
    from client.tui.app import RacktempoApp

    openers = Openers(
        solo=solo or open_solo,
        host=host or open_host,
        join=open_join,
        look_around=look_around,
        drill=open_drill,
        desk=_open_desk,
        together=together or open_together,
        waiting=lambda: waiting.words if (waiting := waiting_set()) else "",
        left=table_left,
        go_back=lambda: open_host(Settings(), name or "Host", port, go_on="resume"),
        host_anew=partial(open_host, go_on="fresh"),
        unkept=partial(open_solo, kept=False),
        take_home=take_home.play,
        go_on=lambda: open_solo(Settings(), name or "You", go_on=True),
    )
    app = RacktempoApp(
        openers, start, name=name, port=port, storage=disk_storage(keep_evening, folder), journal=disk_journal()
    )
    app.run()
    return app.return_code or 0


def _open_desk(settings: Settings, port: int, card: str) -> Opening:
    from client.hosting.evening import open_desk

    return open_desk(settings, "Club night", ("", ""), port=port, card=card)
