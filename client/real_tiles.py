"""Keeping heats that were played with tiles on a table: from the clock to the player's own history.

The person whose history it is sits at place 1. No screen and no clock here.
"""

from collections.abc import Callable
from pathlib import Path

from client.history import History, HistoryFault, real_tiles_heat
from shared.real_clock import RealHeat
from shared.seats import Seat
from shared.settings import Settings


def keeper(path: Path, settings: Settings, set_id: str) -> Callable[[RealHeat], str]:
    """Return what keeps the heats of one set in a history file; it answers with a sentence if it could not.

    set_id tells this set apart from all others, so that a heat which is told twice is kept once.
    """

    def keep(heat: RealHeat) -> str:
        told = real_tiles_heat(f"{set_id} {heat.number}", heat, settings)
        own = told.model_copy(update={"seat": int(own_seat(heat.east))})
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


def own_seat(east: int) -> Seat:
    """Return the seat of place 1 when the given place (1 to 4, in order of play) is East.

    >>> [own_seat(east).word for east in (1, 2, 3, 4)]
    ['east', 'north', 'west', 'south']
    """
    return Seat((1 - east) % 4)
