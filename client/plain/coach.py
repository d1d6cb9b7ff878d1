"""What the coach says, in plain lines: of the last pass while a heat runs, of the costliest one after it. Pure."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from client.models.heat_end import HeatEnd
from client.models.hint import Hint
from shared.cards.freedom import NUMBERS
from shared.cards.said import listed_tiles

if TYPE_CHECKING:
    from shared.coach.review import Way


def hint_lines(hint: Hint) -> list[str]:
    """Return the verdict on the last pass and the first reason, or why there is none."""
    if hint.compared is None:
        return [f"{hint.step.capitalize()}: {hint.trouble}"]
    own = hint.compared.own
    return [" ".join((f"{hint.step.capitalize()}: {_lowered(own.verdict)}", *own.words[:1]))]


def why_lines(hint: Hint | None, hints: bool, numbers: bool) -> list[str]:
    """Return everything that is said of the last pass; with numbers also points, chances and the leading passes."""
    if hint is None:
        return ["No pass has been made yet." if hints else "There are no hints while a heat runs."]
    if hint.compared is None:
        return [hint.trouble or "The coach is looking at your last pass."]
    return way_lines(hint.step, hint.compared.own, hint.compared.ways, numbers)


def heat_lines(end: HeatEnd) -> list[str]:
    """Return the end of a heat as its screen says it: points, the costliest decision, the target."""
    costly = [f"Costliest: {end.costly.heading}. {end.costly.why}"] if end.costly else []
    points = end.points[:1].upper() + end.points[1:].replace("   ", ", ") + "." * bool(end.points)
    return [line for line in (points, *costly, end.plan, end.target, end.said) if line]


def way_lines(step: str, own: "Way", ways: "Sequence[Way]", numbers: bool) -> list[str]:
    """Return the verdict on an answer with its reasons; with numbers also the leading answers and their points."""
    lines = [f"{step.capitalize()}: {_lowered(own.verdict)}", *(own.numbers if numbers else own.words)]
    return lines + ([_points(way, way == own) for way in ways] if numbers else [])


def _lowered(verdict: str) -> str:
    return verdict[:1].lower() + verdict[1:]


def _points(way: "Way", is_own: bool) -> str:
    blind = way.ranked.blind
    parts = [listed_tiles(way.ranked.tiles)] if way.ranked.tiles else []
    parts += [f"{NUMBERS[blind]} blind"] if blind else []
    what = way.says or " and ".join(parts) or "nothing"
    gift = "" if way.ranked.gift is None else f", gift {way.ranked.gift:.1f}"
    points = f"{way.ranked.points:.1f} points, give or take {way.ranked.se:.1f}{gift}"
    return f"{what[:1].upper()}{what[1:]}{', yours' if is_own else ''}: {points}."
