"""The heats on the player's own machine: every heat that a table tells is kept, without asking, once.

A table sends a heat again after every return to it; the name of its file ends in a digest of its bytes, so
that it is recognised. The same seed played twice makes two heats, and both are kept.
"""

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path

from client.storage.files import data_folder, read_at_most, write_whole
from shared.codec import BadFrame
from shared.rules.heat import HEAT, SavedHeat
from shared.rules.seat_heat import SEAT_HEAT, SeatHeat
from shared.troubles import describe_error
from shared.wire.messages import HeatFile, OwnHeat

_DIGITS = 12


@dataclass(frozen=True, slots=True)
class KeptFile:
    """Where a heat lies now, and whether it was not there before."""

    path: Path
    is_new: bool


def heats_folder() -> Path:
    """Return where heats are kept unless the player says otherwise."""
    return data_folder() / "heats"


def keep(told: HeatFile | OwnHeat, folder: Path) -> KeptFile | str:
    """Keep a heat in a folder, or return one sentence that says why it could not be."""
    if isinstance(told, OwnHeat):
        # Who comes back is told it without what the program saw of the wall: that is the same heat, and adds nothing.
        own = told.heat
        path = folder / file_name(own, SEAT_HEAT.pack(own.model_copy(update={"seen": None})), "seat")
        return _keep(path, SEAT_HEAT.pack(own))
    try:
        return _keep(folder / file_name(HEAT.unpack(told.data), told.data, "heat"), told.data)
    except BadFrame as error:
        return f"The table sent a heat that cannot be read, so it is not kept: {error}"


def keep_heat(heat: SavedHeat, folder: Path) -> KeptFile | str:
    """Keep a whole heat in a folder, or return one sentence that says why it could not be."""
    data = HEAT.pack(heat)
    return _keep(folder / file_name(heat, data, "heat"), data)


def find_whole(heat: SeatHeat, folder: Path) -> SavedHeat | None:
    """Return the whole heat that a seat's heat is a part of, if it is kept in the folder."""
    data = whole_file(heat, folder)
    return HEAT.unpack(data) if data else None


def whole_file(heat: SeatHeat, folder: Path) -> bytes:
    """Return the file of the whole heat that a seat's heat is a part of; empty if it is not in the folder."""
    for path in sorted(folder.glob(f"{_plain(heat.played_at[:10])}-*.heat")):
        try:
            data = read_at_most(path, HEAT.limit)
            whole = HEAT.unpack(data)
        except (OSError, BadFrame):
            continue
        if (whole.commitment, whole.played_at, whole.number) == (heat.commitment, heat.played_at, heat.number):
            return data
    return b""


def file_name(heat: SavedHeat | SeatHeat, data: bytes, ending: str) -> str:
    """Return the name of a heat's file: its date, table and number, and a digest of its bytes."""
    parts = (heat.played_at[:10], heat.table or "table", str(heat.number), hashlib.sha256(data).hexdigest()[:_DIGITS])
    return "-".join(_plain(part) for part in parts) + f".{ending}"


def _keep(path: Path, data: bytes) -> KeptFile | str:
    try:
        if path.exists() and path.stat().st_size >= len(data):
            return KeptFile(path, False)
        write_whole(path, data)
    except OSError as error:
        return f"The heat could not be kept in {path.parent}: {describe_error(error)}."
    return KeptFile(path, True)


def _plain(text: str) -> str:
    """Return text that is harmless in a file name on every system."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")[:40] or "x"
