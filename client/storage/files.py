"""Files on the player's own machine: where they lie, and how one is written whole or not at all.

Knows nothing of what the files hold.
"""

import contextlib
import os
import stat
import tempfile
from pathlib import Path

import platformdirs

from shared.private_files import make_private_folder


def data_folder() -> Path:
    """Return where heats and history are kept."""
    return Path(platformdirs.user_data_dir("racktempo", appauthor=False))


def config_folder() -> Path:
    """Return where presets and other choices of the player are kept."""
    return Path(platformdirs.user_config_dir("racktempo", appauthor=False))


def state_folder() -> Path:
    """Return where the tokens lie that regain a seat."""
    return Path(platformdirs.user_state_dir("racktempo", appauthor=False))


def read_at_most(path: Path, limit: int) -> bytes:
    """Return what a file holds, or its first limit + 1 bytes if it is longer.

    Raises:
        OSError: it cannot be read, or is a pipe or a device, which might never end.
    """
    if not stat.S_ISREG(mode := path.stat().st_mode) and not stat.S_ISDIR(mode):
        raise OSError(0, "it is a pipe or a device, not a file")
    with path.open("rb") as file:
        return file.read(limit + 1)


def write_whole(path: Path, data: bytes) -> None:
    """Write a file, readable by its owner only, so that a crash leaves either the old content or all of the new.

    A device or a pipe is written to directly.

    Raises:
        OSError: nothing changed.
    """
    if path.exists() and not (path.is_file() or path.is_dir()):
        path.write_bytes(data)
        return
    make_private_folder(path.parent)
    handle, temporary = tempfile.mkstemp(prefix=".", suffix=".new", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(temporary, path)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(temporary)
        raise
    _sync_folder(path.parent)


def _sync_folder(folder: Path) -> None:
    """Have the new name on the disk too, where the system lets a folder be synced."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def file_stem(text: str) -> str:
    """Return text as a part of a file's name: letters and digits, and dashes for everything else."""
    return "".join(char if char.isalnum() else "-" for char in text).strip("-")
