"""People beside a table in plain lines: what they read themselves, and what those at the table read of them. Pure."""

from collections.abc import Iterable

from client.models.watched import beside_words, may_look, open_words, seen_by
from shared.names import clean_name
from shared.rules.intents import Intent, LetSee, SendOff, ShowRack
from shared.rules.tiles import by_suit
from shared.times import write_seconds
from shared.wire.club_views import ClubView, HeatShown, TableShown
from shared.wire.views import View


def _name(text: str) -> str:
    return clean_name(text, "somebody")


# ---- for those at the table


def beside_changes(old: View | None, new: View) -> list[str]:
    """Return who has come beside the table or gone, who may see racks, and whether one's own is seen."""
    before = {(one.place, one.name): one for one in old.beside} if old else {}
    lines = []
    for one in new.beside:
        was = before.pop((one.place, one.name), None)
        if was is None:
            number = one.place + 1
            host = f" let see {number}: show them racks. send off {number}: send them away." if new.host else ""
            lines.append(f"Beside the table, as number {number}: {_name(one.name)} {beside_words(one)}.{host}")
        elif was.connected != one.connected:
            lines.append(f"{_name(one.name)}, beside the table, is {'back' if one.connected else 'away'}.")
        if one.sees and not (was and was.sees):
            lines.append(f"{_name(one.name)} may see racks: write show yes to let them see yours, show no to hide it.")
    lines += [f"{_name(one.name)} is beside the table no more." for one in before.values()]
    seen, was_seen = seen_by(new), seen_by(old) if old else ""
    if seen != was_seen and not new.club:
        lines.append(f"Your rack is seen by {seen}; show no hides it." if seen else "Nobody sees your rack now.")
    return lines


def beside_intent(view: View, words: list[str]) -> Intent | None:
    """Return what a line about people beside the table means; None if it is not about them."""
    places = {str(one.place + 1): one.place for one in view.beside}
    match words:
        case ["show", ("yes" | "no") as word] if may_look(view):
            return ShowRack(on=word == "yes")
        case ["let", "see", number] if number in places:
            return LetSee(place=places[number], on=True)
        case ["let", "see", number, "no"] if number in places:
            return LetSee(place=places[number], on=False)
        case ["send", "off", number] if number in places:
            return SendOff(place=places[number])
    return None


# ---- for those beside it


def watch_lines(old: ClubView | None, new: ClubView) -> list[str]:
    """Return what somebody beside a table reads of it."""
    (table,) = new.tables
    before = old.tables[0] if old else None
    lines = _greeting(new, table) if before is None else []
    if old and new.teacher != old.teacher:
        words = "The host lets you see the racks of those who agree."
        lines.append(words if new.teacher else "You may see no racks any more.")
    if before and len(table.results) > len(before.results):
        lines += _took(table.results[-1])
    if table.phase != "heat":
        return lines
    lines += _told(before, table) if before else []
    is_new_step = before is None or (before.phase, before.step) != ("heat", table.step)
    if is_new_step and table.step:
        lines.append(f"Heat {table.heat_number}, {table.step}.")
    if before and table.paused != before.paused:
        lines.append("The table is paused." if table.paused else "The table goes on.")
    for number, chair in enumerate(table.chairs):
        was = before.chairs[number] if before else None
        if chair.answered and not is_new_step and not (was and was.answered):
            lines.append(f"{_name(chair.name)} has answered.")
        if chair.rack and (is_new_step or not (was and was.rack)):
            lines.append(f"{_name(chair.name)} holds {' '.join(by_suit(chair.rack))}.")
        if was and was.rack and not chair.rack and not table.paused:
            lines.append(f"{_name(chair.name)}'s rack is hidden.")
    return lines


def votes_told(stopped: Iterable[str]) -> str:
    """Return what the votes came to; stopped are the names of those who chose to stop."""
    names = ", ".join(stopped)
    return f"No second Charleston: {names} chose to stop." if names else "Everybody goes on."


def _told(before: TableShown, table: TableShown) -> list[str]:
    """Return what votes and offers came to, once the table has told them to its players."""

    def is_new(answer: str) -> bool:
        return getattr(before.chairs[0], answer) is None and getattr(table.chairs[0], answer) is not None

    lines, chairs = list[str](), table.chairs
    if is_new("vote"):
        lines.append(votes_told(_name(chair.name) for chair in chairs if chair.vote is False))
    for one, across in ((chairs[0], chairs[2]), (chairs[1], chairs[3])) if is_new("offer") else ():
        agreed = min(one.offer or 0, across.offer or 0)
        offers = f"{_name(one.name)} offered {one.offer}, {_name(across.name)} offered {across.offer}"
        lines.append(f"{offers}: each gives {agreed}.")
    if is_new("side_offer"):
        lines.append(f"{', '.join(f'{_name(chair.name)} {open_words(chair)}' for chair in chairs)}.")
    return lines


def _greeting(view: ClubView, table: TableShown) -> list[str]:
    people = ", ".join(_name(chair.name) for chair in table.chairs if chair.sitter != "nobody") or "nobody yet"
    name = clean_name(view.name, "the table", 32)
    if view.role != "waiting":
        return [f"You watch {name} and take no chair. At the table: {people}."]
    waiting = ", ".join(_name(one.name) for one in view.waiting)
    return [
        f"Every chair of {name} is taken, so that you watch until one is free. At the table: {people}.",
        f"The next free chair goes to who has waited longest: {waiting}. quit leaves.",
    ]


def _took(heat: HeatShown) -> list[str]:
    times = ", ".join(f"{_name(chair.name)} {write_seconds(chair.total_ms)}" for chair in heat.chairs)
    return [f"Heat {heat.number} is over: {times}."]
