"""Keeping heats that were played with tiles on a table: from the clock to the player's own history; and the clock of a
set that is not over, so that a kill loses a few seconds of it.

The person whose history it is sits at place 1. No screen and no clock here.
"""

from collections.abc import Callable
from pathlib import Path

from client.storage.files import read_at_most, state_folder, write_whole
from client.storage.history_db import History, HistoryFault
from shared import versions
from shared.clock.real_clock import ClockLeft, RealHeat, real_tiles_heat
from shared.codec import BadFrame, FileCodec
from shared.rules.settings import Settings
from shared.troubles import describe_error

CLOCK: FileCodec[ClockLeft] = FileCodec(ClockLeft, 256 * 1024, "racktempo clock", versions.CLOCK_FILE)


def keeper(path: Path, settings: Settings, set_id: str) -> Callable[[RealHeat], str]:
    """Return what keeps the heats of one set in a history file; it answers with a sentence if it could not.

    set_id is unique to this set, so that a heat which is sent twice is kept once.
    """

    def keep(heat: RealHeat) -> str:
        own = real_tiles_heat(f"{set_id} {heat.number}", heat, settings)
        try:
            history = History(path)
            try:
                history.add(own, "real tiles")
            finally:
                history.close()
        except HistoryFault as fault:
            return str(fault)
        return ""

    return keep


def clock_left() -> ClockLeft | None:
    """Return the clock of a set that was cut off, if one is kept and can be read."""
    try:
        return CLOCK.unpack(read_at_most(_clock_path(), CLOCK.limit))
    except (OSError, BadFrame):
        return None


def keep_clock(left: ClockLeft | None) -> str:
    """Keep the clock of a set, or keep none any more; return a sentence if that failed."""
    try:
        if left is None:
            _clock_path().unlink(missing_ok=True)
        else:
            write_whole(_clock_path(), CLOCK.pack(left))
    except OSError as error:
        return f"The clock cannot be kept: {describe_error(error)}."
    return ""


def _clock_path() -> Path:
    return state_folder() / "clock"
