"""The end of a heat: the likeliest hands of the final rack, compared with the seat's plan.

Must never know more than the seat: it reads the seat's final rack and which tiles it has not seen.
"""

from dataclasses import dataclass, replace
from functools import partial

from shared.cards.said import listed_tiles
from shared.chances import in_hundred
from shared.coach.coach import Coach
from shared.coach.discards import CLOSE, Discard, discards, together
from shared.coach.distance import counts_of
from shared.coach.estimate import LEAST_TOLD
from shared.coach.lived import LivedHeat
from shared.coach.passes import Position
from shared.coach.questions import discard_said
from shared.coach.standing import Standing, standings
from shared.coach.targets import HandReading, likeliest_first
from shared.coach.words import Target, target_of
from shared.rules.tiles import INDEX, JOKER, Rack

_SHOWN = 3
_ALIKE = 1.0
"""Points below which discards cost nothing, and below which two hands are too close to call."""


@dataclass(frozen=True)
class End:
    """The end of a heat.

    Attributes:
        targets: the likeliest hands of the final rack.
        planned: the hand named in the plan, None if the plan names no hand of the card.
        place: its place among all hands of the card, 0 for the likeliest.
        needed: first discards of the plan that the named hand needs.
        discards: every kind of the rack as the first discard, the least missed first.
        judged: sentences about the plan, in points; empty if it named nothing, or the table asked for none.
        said: the same, and what goes first.
        hands: how every hand of the card stands.
    """

    targets: tuple[Target, ...]
    planned: Target | None = None
    place: int | None = None
    needed: Rack = ()
    discards: tuple[Discard, ...] = ()
    judged: tuple[str, ...] = ()
    said: tuple[str, ...] = ()
    hands: tuple[Standing, ...] = ()


def look_at_the_end(coach: Coach, heat: LivedHeat, seed: int) -> End:
    """Return the targets and the first discards at the end, compared with the plan."""
    readings = coach.engine.hands(heat.final)
    return replace(_compared_with_plan(coach, heat, seed, readings), hands=standings(coach, readings))


def _compared_with_plan(coach: Coach, heat: LivedHeat, seed: int, readings: tuple[HandReading, ...]) -> End:
    order = likeliest_first(readings)
    rack = heat.final.counts()

    def told(reading: HandReading) -> Target:
        return target_of(coach.engine.patterns, coach.card, reading, rack)

    targets, first = tuple(map(told, order[:_SHOWN])), discards(coach.engine, heat.final, seed)
    discarded = partial(_first_discards, coach, heat.final, first)
    plan = next((step.step for step in heat.steps if step.step.step == "plan"), None)
    if plan is None:
        return End(targets, discards=first, said=discarded(()))
    best, thrown = targets[0], discarded(plan.discards)
    judged = _goes(coach, heat.final, plan.discards)
    if len(plan.discards) > 1:  # of one discard thrown says it too
        thrown = (*judged, *thrown)
    place = next((at for at, reading in enumerate(order) if coach.card.hands[reading.hand].id == plan.hand), None)
    if place is None:
        what = "planned hand is not on this card" if plan.hand else "plan named no hand"
        likeliest = f"The {what}; the likeliest is {best}."
        return End(targets, discards=first, judged=judged, said=(likeliest, *thrown))
    planned = told(order[place])
    needed = _needed(coach, order[place], heat.final.rack, plan.discards)
    said = [_compared(planned, place, best)]
    if needed:
        said.append(f"The planned hand needs {listed_tiles(needed)}, which the plan discards first.")
    return End(targets, planned, place, needed, first, (*said, *judged), (*said, *thrown))


def _goes(coach: Coach, final: Position, tiles: Rack) -> tuple[str, ...]:
    """Say what the first discards cost together, beside as many that are missed least."""
    if not tiles or JOKER in tiles:
        return ()
    best, lost = together(coach.engine, final, tiles)
    what = f"Your first discards, {listed_tiles(tiles)}, cost"
    if len(tiles) == 1:
        what = f"Your first discard, {listed_tiles(tiles)}, costs"
    if lost < LEAST_TOLD:
        return (f"{what} nothing.",)
    close = ", too close to call" if lost < CLOSE else ""
    least = "least missed together are" if len(best) > 1 else "least missed is"
    return (f"{what} {lost:.1f} points{close}; {least} {listed_tiles(best)}.",)


def _first_discards(coach: Coach, final: Position, best: tuple[Discard, ...], planned: Rack) -> tuple[str, ...]:
    """Say what the plan's own first discard costs and why, and unless that is nothing, which tile is missed least."""
    own = next((discard for discard in best if planned[:1] == (discard.tile,)), None)
    told = {"Your first discard": own} if own else {}
    if best and own is not best[0] and (own is None or own.loss >= LEAST_TOLD):
        told["The tile least missed"] = best[0]
    return tuple(discard_said(coach.engine, coach.card, final, what, each) for what, each in told.items())


def _compared(planned: Target, place: int, best: Target) -> str:
    """Compare the planned hand with the likeliest, each played for alone."""
    if not place:
        return f"The planned hand is the likeliest: {best}; alone it wins {in_hundred(best.points)}."
    less = best.points - planned.points
    close = "about as likely: too close to call" if less < _ALIKE else f"which alone wins {less:.1f} points more"
    return f"You planned {planned}, number {place + 1} in likelihood; the likeliest is {best}, {close}."


def _needed(coach: Coach, reading: HandReading, rack: Rack, discards: Rack) -> Rack:
    """Return the discards that the hand needs: without them it is further away."""
    patterns = coach.engine.patterns
    wanted = patterns.wanted(reading.variant)
    left, missed = counts_of(rack).astype(int), []
    for tile in discards:
        kind = INDEX[tile]
        if 0 < left[kind] <= wanted[kind]:
            missed.append(tile)
        left[kind] -= 1
    return tuple(missed)
