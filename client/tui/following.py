"""Which screen belongs to a session, and how it is made."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import cast

from client.models.desk import DeskModel
from client.models.session import Session
from client.models.shared_clock import SharedClockModel
from client.models.table import TableModel
from client.tui.screens.base import BaseScreen
from client.tui.screens.desk import DeskScreen
from client.tui.screens.end import HeatEndScreen, SetEndScreen
from client.tui.screens.seats import SeatsScreen
from client.tui.screens.shared_clock import SharedClockScreen
from client.tui.screens.start import StartScreen
from client.tui.screens.table import TableScreen
from shared.wire.club_views import ClubView
from shared.wire.views import View

_OF_PHASE = {"seating": SeatsScreen, "heat": TableScreen, "between": HeatEndScreen, "over": SetEndScreen}


@dataclass(frozen=True, slots=True)
class Shown:
    """A kind of screen, and what makes one."""

    kind: type[BaseScreen]
    make: Callable[[], BaseScreen]


def screen_of(session: Session) -> Shown | None:
    """Return the screen of a session; None before its first view."""
    match session:
        case TableModel(view=View(phase=phase)):
            kind = StartScreen if session.alone and phase == "seating" else _OF_PHASE[phase]
            return Shown(kind, partial(cast("Callable[[TableModel], BaseScreen]", kind), session))
        case SharedClockModel():
            return Shown(SharedClockScreen, lambda: SharedClockScreen(session))
        case DeskModel(view=ClubView()):
            return Shown(DeskScreen, lambda: DeskScreen(session))
    return None
