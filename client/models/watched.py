"""Who watches a table without a chair of it, whose racks they may see, and what can be done about that. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass

from client.models.session import Meant
from client.models.table import TableModel
from shared.names import clean_name
from shared.rules.intents import LetSee, SendOff, ShowRack
from shared.wire.club_views import ChairShown
from shared.wire.views import BesideView, ChairView, View

_NAMED = 3
"""So many people beside the table are named in one line."""


def _names(people: Iterable[BesideView]) -> str:
    *first, last = [clean_name(one.name, "somebody") for one in people] or [""]
    return f"{', '.join(first)} and {last}" if first else last


def may_look(view: View) -> tuple[BesideView, ...]:
    """Return the people beside the table whom its host lets see racks."""
    return tuple(one for one in view.beside if one.sees)


def seen_by(view: View) -> str:
    """Return who sees the viewer's rack now, by name; nothing if nobody does."""
    if view.club:
        return "a teacher" if view.club.watching else ""
    return _names(one for one in may_look(view) if one.connected) if view.chairs[view.you].shows else ""


def show_rack(table: TableModel) -> tuple[ShowRack, ...]:
    """Return what its key means: let this rack be seen, or stop. Nothing where nobody may see any."""
    view = table.view
    if view is None or not (view.club.teacher if view.club else may_look(view)):
        return ()
    return (ShowRack(on=not view.chairs[view.you].shows),)


def consent_words(table: TableModel) -> str:
    """Return what a player can decide about their rack being seen, or nothing where nobody may see any."""
    view = table.view
    if view is None or not show_rack(table):
        return ""
    shows, seen = view.chairs[view.you].shows, seen_by(view)
    if view.club:
        if shows and seen:
            return "teacher: watching. Your rack is seen while you play: press v to hide it."
        if shows:
            return "A teacher may see your rack while you play: press v to hide it."
        return "A teacher may watch: press v to let them see your rack."
    if seen:
        return f"Your rack is seen while you play, by {seen}: press v to hide it."
    names = _names(may_look(view))
    if shows:
        return f"{names} may see your rack while you play: press v to hide it."
    return f"{names} may watch: press v to let them see your rack."


def open_words(chair: ChairShown) -> str:
    """Return what somebody at a chair voted or offered last, once the table has told it to its players."""
    if chair.side_offer is not None:
        return f"offered {chair.side_offer}{f' to the {chair.side}' if chair.side else ''}"
    if chair.offer is not None:
        return f"offered {chair.offer} across"
    return "" if chair.vote is None else "goes on" if chair.vote else "stopped"


def beside_words(one: BesideView) -> str:
    """Return how somebody beside the table stands."""
    stands = "waits for a chair" if one.waits else "watches"
    looks = ", may see the racks of those who agree" if one.sees else ""
    return f"{stands}{looks}{'' if one.connected else ', away'}"


def watching_line(view: View) -> str:
    """Return who is beside the table in one short line, those who may see racks first; nothing if nobody is."""
    people = sorted((one for one in view.beside if one.connected), key=lambda one: not one.sees)
    said = [
        f"{clean_name(one.name, 'somebody')} {'may see racks' if one.sees else 'waits' if one.waits else 'watches'}"
        for one in people
    ]
    return f"{', '.join(said[:_NAMED])}{f' and {len(said) - _NAMED} more' if len(said) > _NAMED else ''}"


def took_over(was: ChairView, now: ChairView) -> bool:
    """Whether a bot plays now for the person on this chair."""
    return (was.sitter, now.sitter) == ("person", "bot") and was.name == now.name


def came(old: View | None, new: View) -> str:
    """Return in a sentence for whom a bot plays since, who has come beside the table, or may see racks now; nothing if
    nobody."""
    if old is None:
        return ""
    for chair, (was, now) in enumerate(zip(old.chairs, new.chairs, strict=True)):
        if chair != new.you and took_over(was, now):
            return f"A bot plays in {clean_name(now.name, 'somebody')}'s seat now."
    before = {(one.place, one.name): one for one in old.beside}
    for one in new.beside:
        known, name = before.get((one.place, one.name)), clean_name(one.name, "somebody")
        if one.sees and not (known and known.sees):
            key = "F9 lets" if new.heat else "v lets"
            return f"{name} may watch: {key} them see your rack."
        if known is None:
            return f"{name} {beside_words(one)}.{' F6: let them see racks, or send them away.' if new.host else ''}"
    return ""


@dataclass(slots=True)
class BesideModel:
    """The people beside the table in a list; at is the chosen one."""

    table: TableModel
    at: int = 0

    def __post_init__(self) -> None:
        self.table.note = ""  # it may have been what led here

    @property
    def all(self) -> tuple[BesideView, ...]:
        """Everybody there, who has waited longest first."""
        return self.table.view.beside if self.table.view else ()

    @property
    def here(self) -> BesideView | None:
        """The chosen one."""
        return self.all[min(self.at, len(self.all) - 1)] if self.all else None

    def press(self, key: str) -> Meant:
        """Take a key, or "row N" for a click: choose somebody, let them see racks or stop that, send them away."""
        self.table.note = ""
        here, (word, _, number) = self.here, key.partition(" ")
        if number:
            self.at = int(number)
        match word:
            case "up" | "down" if here:
                self.at = (self.at + (1 if key == "down" else -1)) % len(self.all)
            case "l" if here and self.table.is_host:
                return (LetSee(place=here.place, on=not here.sees),)
            case "f" if here and self.table.is_host:
                return (SendOff(place=here.place),)
        return ()
