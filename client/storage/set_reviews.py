"""What was found in heats that others handed in, kept so that a comparison need not be computed again."""

import hashlib
from contextlib import suppress
from pathlib import Path

from client.storage.files import read_at_most, write_whole
from client.storage.sets import folder_of
from shared.codec import BadFrame, FileCodec
from shared.measures.side_by_side import HeatFound
from shared.versions import COACH, SET_FILE

FOUND: FileCodec[HeatFound] = FileCodec(HeatFound, 256 * 1024, "racktempo found", SET_FILE)


def _path(line: str, packed: bytes) -> Path:
    """Return the file of a heat: what was found depends on its bytes and on the coach, and on nothing else."""
    name = hashlib.sha256(f"{COACH} {SET_FILE}".encode() + b"\0" + packed).hexdigest()[:24]
    return folder_of(line) / "found" / name


def kept_found(line: str, packed: bytes) -> HeatFound | None:
    """Return what was found in a heat of a set, if it was kept."""
    with suppress(OSError, BadFrame):
        return FOUND.unpack(read_at_most(_path(line, packed), FOUND.limit))
    return None


def keep_found(line: str, packed: bytes, found: HeatFound) -> None:
    """Keep what was found; if that fails it is computed again."""
    with suppress(OSError):
        write_whole(_path(line, packed), FOUND.pack(found))
