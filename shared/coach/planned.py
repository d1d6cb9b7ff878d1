"""The end of a heat: the hands that the last rack can best go for, beside the plan that was named.

Must never know more than the seat: it reads the seat's last rack and what it has not seen.
"""

from dataclasses import dataclass

from shared.coach.coach import Coach
from shared.coach.distance import counts_of
from shared.coach.lived import LivedHeat
from shared.coach.targets import HandReading
from shared.coach.words import Target, listed_tiles
from shared.rules.tiles import INDEX, Rack

_SHOWN = 3


@dataclass(frozen=True)
class End:
    """Where a heat ended.

    Attributes:
        targets: the likeliest hands of the last rack.
        planned: the hand that was named in the plan, None if none of the card was.
        place: where it stands among all hands of the card, 0 for the likeliest.
        needed: first discards of the plan that the named hand has a use for.
        said: sentences about it; none if no plan was asked for.
    """

    targets: tuple[Target, ...]
    planned: Target | None = None
    place: int | None = None
    needed: Rack = ()
    said: tuple[str, ...] = ()


def look_at_the_end(coach: Coach, heat: LivedHeat) -> End:
    """Return the targets at the end beside the plan."""
    readings = coach.engine.hands(heat.final)
    order = sorted(readings, key=lambda reading: (-reading.chance, reading.away, reading.hand))
    targets = tuple(_target(coach, reading) for reading in order[:_SHOWN])
    plan = next((step.step for step in heat.steps if step.step.step == "plan"), None)
    if plan is None:
        return End(targets)
    best = f"{targets[0].hand}: {targets[0].away} away, {targets[0].points:.1f} points"
    if not plan.hand:
        return End(targets, said=(f"No hand was named; the likeliest is {best}.",))
    place = next((at for at, reading in enumerate(order) if coach.card.hands[reading.hand].id == plan.hand), None)
    if place is None:
        return End(targets, said=(f"The hand that was named is not on this card; the likeliest is {best}.",))
    planned = _target(coach, order[place])
    needed = _needed(coach, order[place], heat.final.rack, plan.discards)
    said = [_compared(planned, place, best)]
    if needed:
        said.append(f"{planned.hand} has a use for {listed_tiles(needed)}, named as a first discard.")
    return End(targets, planned, place, needed, tuple(said))


def _compared(planned: Target, place: int, best: str) -> str:
    if not place:
        return f"The named hand is the likeliest: {best}."
    named = f"{planned.hand}: {planned.away} away, {planned.points:.1f} points"
    return f"Named was {named}, number {place + 1} of the card; the likeliest is {best}."


def _needed(coach: Coach, reading: HandReading, rack: Rack, discards: Rack) -> Rack:
    """Return the discards without which the hand would be further away."""
    patterns = coach.engine.patterns
    wanted = patterns.pairs[reading.variant] + patterns.groups[reading.variant]
    left, missed = counts_of(rack).astype(int), []
    for tile in discards:
        kind = INDEX[tile]
        if 0 < left[kind] <= wanted[kind]:
            missed.append(tile)
        left[kind] -= 1
    return tuple(missed)


def _target(coach: Coach, reading: HandReading) -> Target:
    return Target(coach.card.hands[reading.hand].id, reading.away, 100 * reading.chance, reading.variant)
