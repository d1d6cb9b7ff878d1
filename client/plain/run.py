"""Playing in plain lines, for every command that has --plain; no command itself."""

import asyncio
from pathlib import Path

from client.connection.opened import Opening
from client.console import complain
from client.plain.session import play_here
from client.storage.heat_files import heats_folder
from client.storage.journal import disk_journal


def play_plainly(opening: Opening, folder: Path | None, begins: bool = False) -> int:
    """Open a table and play at it on standard input and output.

    The files of heats go to folder, or where they always go; begins says that the first heat begins by itself.
    """

    async def play() -> int:
        try:
            async with opening as opened:
                return await play_here(opened.line, folder or heats_folder(), disk_journal(), begins)
        except ValueError as error:
            complain(error)
            return 1

    return asyncio.run(play())
