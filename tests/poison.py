"""A folder with packages that are called like ours and must not be run by a process of ours that is started there."""

from pathlib import Path


def poison(folder: Path) -> Path:
    """Lay such packages into a folder; return the file that comes to be there as soon as one of them is run."""
    run = folder / "poison was run"
    for package in ("client", "server", "shared"):
        (folder / package).mkdir()
        (folder / package / "__init__.py").write_text(f"open({str(run)!r}, 'w').close()\nraise SystemExit(7)\n")
    return run
