"""What the host of a table may do, and what everybody is told of it. Pure."""

from client.models.session import Meant
from client.models.settings_form import said_changes
from client.models.table import TableModel
from client.text import machine_asks
from shared.rules.intents import ChangeSettings, LetIn, SeatBot
from shared.rules.refusals import SETTINGS_STAND
from shared.rules.settings import Settings

AWAY_MS = 10_000
"""After so long without somebody a bot is offered."""

GIVEN_BACK = "racks, passes and clocks are as they were."
"""What everybody is told when the host's program was started again in a heat."""


def changed(table: TableModel) -> str:
    """Return what the host has changed since the last heat, or since we came before the first; nothing if empty."""
    view = table.view
    if view is None or table.met is None:
        return ""
    return "; ".join(said_changes(view.played or table.met, view.settings))


def no_change(table: TableModel) -> str:
    """Return in a sentence why the settings cannot be changed here now; nothing if they can."""
    if table.in_heat:
        return SETTINGS_STAND.text
    if not table.is_host:
        return "Only the host changes the settings."
    return "A drill has settings of its own." if table.drills or table.guided else ""


def set_to(was: Settings, settings: Settings) -> Meant:
    """Return what to ask so that the table plays by other settings: nothing if they are the same."""
    return () if settings == was else (ChangeSettings(settings=settings),)


def long_away(table: TableModel, now_ms: int) -> int | None:
    """Return the chair of somebody who has been away for a while, where this player may put a bot there."""
    if not table.may_keep or not table.in_heat:
        return None
    return next((chair for chair, since_ms in table.away.items() if now_ms - since_ms >= AWAY_MS), None)


def asked_for(table: TableModel) -> int | None:
    """Return the chair for which another machine asks, where this player may let it in."""
    chairs = table.view.chairs if table.view and table.is_host else ()
    return next((number for number, chair in enumerate(chairs) if chair.asks), None)


def asking_words(table: TableModel, key: str) -> str:
    """Return in a sentence which machine waits for the host's word, and the key that gives it; nothing if none does."""
    chair = asked_for(table)
    return machine_asks(f"{table.chair_name(chair)}'s seat", key) if chair is not None else ""


def let_in(table: TableModel) -> Meant:
    """Return what that key means."""
    chair = asked_for(table)
    return (LetIn(chair=chair),) if chair is not None else ()


def bot_offer(table: TableModel, now_ms: int) -> str:
    """Return in a sentence what can be done about a chair whose person is away: their other machine is let in, or a bot
    plays there; nothing if there is none."""
    if asking := asking_words(table, "F5"):
        return asking
    chair = long_away(table, now_ms)
    name = table.chair_name(chair) if chair is not None else ""
    return f"{name} is away. F5: a bot plays there until {name} is back." if name else ""


def seat_bot(table: TableModel, now_ms: int) -> Meant:
    """Return what the offer's key means."""
    if asked := let_in(table):
        return asked
    chair = long_away(table, now_ms)
    if chair is None:
        table.note = f"A bot can be put on a chair whose person has been away for {AWAY_MS // 1_000} s."
        return ()
    return (SeatBot(chair=chair),)


def keeping(table: TableModel) -> str:
    """Return what a player may do who keeps the table for a host who is away; nothing to others."""
    keeps = table.view is not None and table.view.keeps
    return "The host is away: until then you may pause, start heats and seat bots." if keeps else ""
