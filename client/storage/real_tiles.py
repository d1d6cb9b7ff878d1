"""Keeping heats that were played with tiles on a table: from the clock to the player's own history.

The person whose history it is sits at place 1. No screen and no clock here.
"""

from collections.abc import Callable
from pathlib import Path

from client.storage.history_db import History, HistoryFault
from shared.clock.real_clock import RealHeat, real_tiles_heat
from shared.rules.settings import Settings


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
