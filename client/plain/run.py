"""Playing in plain lines, for every command that has --plain; no command itself."""

import asyncio
from pathlib import Path

from client.connection.opened import Opening
from client.console import complain
from client.plain.sentences import Kind
from client.plain.session import play_here
from client.storage.heat_files import heats_folder
from client.storage.journal import disk_journal


def play_plainly(opening: Opening, folder: Path | None, kind: Kind = "with others") -> int:
    """Open a table and play at it on standard input and output; the files of heats go to folder, or as always."""

    async def play() -> int:
        try:
            async with opening as opened:
                return await play_here(opened, folder or heats_folder(), disk_journal(), kind)
        except ValueError as error:
            complain(error)
            return 1

    return asyncio.run(play())
