"""Which screen belongs to a session, and how it is made."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from typing import cast

from textual.screen import Screen

from client.models.desk import DeskModel
from client.models.session import Session
from client.models.shared_clock import SharedClockModel
from client.models.table import TableModel
from client.tui.screens.base import BaseScreen
from client.tui.screens.desk import DeskScreen
from client.tui.screens.end import EndScreen, HeatEndScreen, SetEndScreen
from client.tui.screens.room import RoomScreen
from client.tui.screens.seats import SeatsScreen
from client.tui.screens.shared_clock import SharedClockScreen
from client.tui.screens.start import StartScreen
from client.tui.screens.table import TableScreen
from client.tui.screens.teacher import TeacherScreen
from client.tui.screens.watching import WatchScreen
from shared.wire.club_views import ClubView
from shared.wire.views import View

_OF_PHASE = {"seating": SeatsScreen, "heat": TableScreen, "between": HeatEndScreen, "over": SetEndScreen}


@dataclass(frozen=True, slots=True)
class Shown:
    """A kind of screen, and what makes one."""

    kind: type[BaseScreen]
    make: Callable[[], BaseScreen]


def screen_of(session: Session, on_wall: bool = False) -> Shown | None:
    """Return the screen of a session; None before its first view. on_wall says that all in a room read a desk's."""
    match session:
        case TableModel(view=View(phase=phase)):
            kind = StartScreen if session.alone and phase == "seating" else _OF_PHASE[phase]
            return Shown(kind, partial(cast("Callable[[TableModel], BaseScreen]", kind), session))
        case SharedClockModel():
            return Shown(SharedClockScreen, lambda: SharedClockScreen(session))
        case DeskModel(view=ClubView(one_table=True)):
            return Shown(WatchScreen, lambda: WatchScreen(session))
        case DeskModel(view=ClubView(role="teacher")):
            return Shown(TeacherScreen, lambda: TeacherScreen(session))
        case DeskModel(view=ClubView()) if on_wall:
            return Shown(RoomScreen, lambda: RoomScreen(session, at_desk=False))
        case DeskModel(view=ClubView()):
            return Shown(DeskScreen, lambda: DeskScreen(session))
    return None


def hold_ends(screens: Iterable[Screen[None]]) -> None:
    """A new set begins: who still reads about the one before may read on."""
    for screen in screens:
        if isinstance(screen, EndScreen):
            screen.hold()


def waiting_in(screens: Iterable[Screen[None]]) -> str:
    """Return what waits at the table while one of these screens is read, in a few words; nothing if empty."""
    is_held = any(isinstance(screen, EndScreen) and screen.is_held for screen in screens)
    return "a new set waits" if is_held else ""
