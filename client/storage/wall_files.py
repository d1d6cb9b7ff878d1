"""What was seen of walls that are being made, kept on disk before anything is sent: a restarted client goes on with
its own value, and still knows what the table had promised. Only the newest few are kept.
"""

import hashlib
from contextlib import suppress
from pathlib import Path

from client.storage.files import data_folder, read_at_most, write_whole
from shared.codec import BadFrame, Codec
from shared.rules.wall_seen import WallSeen
from shared.troubles import describe_error

SEEN: Codec[WallSeen] = Codec(WallSeen, 64 * 1024)
_KEPT = 16


def walls_folder() -> Path:
    """Return where they lie."""
    return data_folder() / "walls"


def keep_seen(seen: WallSeen, folder: Path | None = None) -> str:
    """Keep what was seen so far; return one sentence if that failed, else nothing."""
    folder = folder or walls_folder()
    try:
        write_whole(_path(folder, seen.table, seen.number, seen.chair), SEEN.pack(seen))
        newest = sorted(folder.glob("*.wall"), key=lambda path: path.stat().st_mtime_ns)
        for old in newest[:-_KEPT]:
            old.unlink()
    except OSError as error:
        return f"Your part in the wall could not be kept for a restart: {describe_error(error)}."
    return ""


def recall_seen(table: str, number: int, chair: int, folder: Path | None = None) -> WallSeen | None:
    """Return what was kept of a heat's wall, if anything."""
    with suppress(OSError, BadFrame):
        found = SEEN.unpack(read_at_most(_path(folder or walls_folder(), table, number, chair), SEEN.limit))
        if (found.table, found.number, found.chair) == (table, number, chair):
            return found
    return None


def _path(folder: Path, table: str, number: int, chair: int) -> Path:
    name = hashlib.sha256(table.encode()).hexdigest()[:24]
    return folder / f"{name}-{number}-{chair + 1}.wall"
