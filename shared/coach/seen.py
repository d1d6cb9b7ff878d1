"""Turn a seat's view of its heat into the position that the coach judges.

Must never read more than one seat's view: a view holds no other rack, so neither does a position.
"""

from dataclasses import replace

from shared.coach.aims import LOOKS
from shared.coach.passes import Position
from shared.rules.settings import Settings
from shared.rules.steps import PASSES, STEPS
from shared.rules.tiles import Rack
from shared.wire.views import HeatView


def position_seen(heat: HeatView, settings: Settings, looks: int = LOOKS) -> Position | None:
    """Return the position of a seat at the running step, or None if the step takes no tiles.

    At a courtesy offer the seat may choose none to three; at a courtesy give the number is agreed.
    """
    if heat.step is None:
        return None
    ask, now = STEPS[heat.step].ask, position_now(heat, settings, looks)
    if ask == "pass":
        return replace(now, gives=settings.gives(heat.step), blind=heat.most_blind > 0)
    if ask in ("offer", "give"):
        gives = (0, 1, 2, 3) if ask == "offer" else (heat.give,)
        return replace(now, gives=gives, later=0, courtesy=True)
    return None


def position_now(heat: HeatView, settings: Settings, looks: int = LOOKS) -> Position:
    """Return what a seat knows while it owes no tiles, with the passes still to come."""
    passed: Rack = tuple(tile for step in heat.route if step.state == "done" for tile in step.given)
    later = sum(step.state == "ahead" and step.step in PASSES for step in heat.route)
    made = sum(step.state == "done" and step.step in PASSES for step in heat.route)
    valued, face_down = settings.play_for == "values", heat.face_down
    return Position(
        heat.rack, passed, later, (), False, looks, settings.jokers, made=made, valued=valued, face_down=face_down
    )
