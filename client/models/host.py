"""What the host of a table may do, and what everybody is told of it. Pure."""

from client.models.session import Meant
from client.models.settings_form import said_changes
from client.models.table import TableModel
from shared.rules.intents import ChangeSettings
from shared.rules.settings import Settings


def changed(table: TableModel) -> str:
    """Return what the host has changed since the last heat, or since we came before the first; nothing if empty."""
    view = table.view
    if view is None or table.met is None:
        return ""
    return "; ".join(said_changes(view.played or table.met, view.settings))


def no_change(table: TableModel) -> str:
    """Return in a sentence why the settings cannot be changed here now; nothing if they can."""
    if table.in_heat:
        return "Settings change between heats; this heat goes on as it began."
    if not table.is_host:
        return "Only the host changes the settings."
    return "A drill has settings of its own." if table.drills or table.guided else ""


def set_to(was: Settings, settings: Settings) -> Meant:
    """Return what to ask so that the table plays by other settings: nothing if they are the same."""
    return () if settings == was else (ChangeSettings(settings=settings),)
