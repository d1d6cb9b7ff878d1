"""Which kind of session a view belongs to. Pure."""

from typing import TypeVar

from client.models.commands import Commands
from client.models.desk import DeskModel
from client.models.session import Session
from client.models.shared_clock import SharedClockModel
from client.models.table import TableModel
from client.models.watched import came
from shared.rules.settings import Settings
from shared.wire.club_views import ClubView, Evening, Ranking
from shared.wire.group_views import GroupView
from shared.wire.views import View

Kind = TypeVar("Kind", TableModel, DeskModel, SharedClockModel)


def heard(
    before: Session, view: View | GroupView | ClubView | Evening | Ranking, received_ms: int, rtt_ms: int
) -> Session:
    """Return the session after a view: the one before if it is of the view's kind, else another."""
    match view:
        case View():
            table = _of_kind(TableModel, before)
            waited, old = isinstance(before, DeskModel), table.view
            table.moved = table.moved or (waited and view.club is not None)  # who waited has a chair now
            table.hear(view, received_ms, rtt_ms)
            mine = f"Chair {view.you + 1} is yours now." if waited and view.club is None else ""
            table.note = mine or came(old, view) or table.note
            return table
        case GroupView():
            clock = _of_kind(SharedClockModel, before)
            clock.hear(view, received_ms, rtt_ms)
            return clock
        case ClubView():
            desk = _of_kind(DeskModel, before)
            desk.hear(view, received_ms)
            return desk
        case Evening():
            desk = _of_kind(DeskModel, before)
            desk.hear_evening(view)
            return desk
        case Ranking():
            desk = _of_kind(DeskModel, before)
            desk.ranking = view
            return desk


def settings_of(session: Session) -> Settings | None:
    """Return the settings by which is played where a session is, once they are known."""
    view = session.view if isinstance(session, TableModel | DeskModel | SharedClockModel) else None
    return view.settings if view else None


def _of_kind(kind: type[Kind], before: Session) -> Kind:
    """Return the session of this kind. After coming back it is as it was left; unanswered commands are void."""
    if isinstance(before, kind):
        return before
    session = before.aside if isinstance(before.aside, kind) else kind()
    session.drills, session.keeps = before.drills, before.keeps
    session.alone, session.guided, session.wall = before.alone, before.guided, before.wall
    session.take_home = before.take_home
    before.commands, before.aside = Commands(), None
    session.aside = before if before.has_begun else None
    session.same_card_as(before)
    for told in before.early:
        session.ended(told)
    return session
