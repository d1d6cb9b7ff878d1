"""Write an evening's results: two CSV tables and one HTML page, each whole or not at all."""

import datetime
import re
from collections.abc import Callable, Mapping
from pathlib import Path

from client.reports.evening_csv import ENCODING, heats_csv, standings_csv
from client.reports.evening_html import evening_page
from client.storage.files import data_folder, write_whole
from shared.measures.standings import Played
from shared.troubles import describe_error


def evening_bytes(played: tuple[Played, ...], name: str, day: str, least: int) -> Mapping[str, bytes]:
    """Return the bytes of the three files: heats, standings, page. A place in the standings needs least heats."""
    return {
        "heats": heats_csv(played).encode(ENCODING),
        "standings": standings_csv(played, least).encode(ENCODING),
        "page": evening_page(name, day, played, least).encode(),
    }


def write_evening(
    played: tuple[Played, ...], name: str, day: str, files: Mapping[str, Path], least: int = 1
) -> tuple[str, ...]:
    """Write the named files; return one sentence for each that failed."""
    faults = []
    for key, data in evening_bytes(played, name, day, least).items():
        if key in files:
            try:
                write_whole(files[key], data)
            except OSError as error:
                faults.append(f"{files[key]} cannot be written: {describe_error(error)}.")
    return tuple(faults)


def keep_evening(
    played: tuple[Played, ...],
    name: str,
    least: int = 1,
    folder: Path | None = None,
    now: Callable[[], datetime.datetime] | None = None,
) -> str:
    """Write all three to the data folder and return a sentence: where they are, or what failed."""
    moment = now() if now else datetime.datetime.now()
    stem = re.sub(r"[^\w-]+", "-", f"{moment:%Y-%m-%d-%H%M} {name}").strip("-")[:80]
    folder = folder or data_folder() / "evenings"
    files = {
        "heats": folder / f"{stem}-heats.csv",
        "standings": folder / f"{stem}-standings.csv",
        "page": folder / f"{stem}.html",
    }
    faults = write_evening(played, name, f"{moment:%Y-%m-%d}", files, least)
    return " ".join(faults) or f"A page and two CSV files are in {near_home(folder)}."


def near_home(path: Path) -> str:
    """Return a path, shortened with ~ if it is in the home folder."""
    home = Path.home()
    return f"~/{path.relative_to(home)}" if path.is_relative_to(home) else str(path)
