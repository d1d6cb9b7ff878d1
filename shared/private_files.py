"""Files that only their owner may read, whatever the umask: the one place that makes them and their folders."""

from pathlib import Path


def make_private_folder(folder: Path) -> None:
    """Make a folder and those above it that are missing, mode 0700; one that exists stays as it is. Raises OSError."""
    missing = [one for one in (folder, *folder.parents) if not one.exists()]
    for one in reversed(missing):
        one.mkdir(mode=0o700, exist_ok=True)


def create_private(path: Path) -> None:
    """Make a file, if there is none, and let only its owner read it, mode 0600.

    Raises:
        OSError: it cannot be made, or read and written.
    """
    make_private_folder(path.parent)
    try:
        path.touch(mode=0o600, exist_ok=False)
    except FileExistsError:
        path.open("r+b").close()
    path.chmod(0o600)
