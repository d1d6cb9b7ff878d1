"""A seat's heat step by step, as the coach judges it: the rack and what the seat knew at each step.

Must never see more than the seat did: a seat's heat holds no other rack. Must never trust a heat: it may come from a
file, so we check everything and report a fault as one sentence.
"""

from collections import Counter
from dataclasses import dataclass

from shared.coach.aims import LOOKS
from shared.coach.passes import PASS, Position
from shared.rules.seat_heat import SeatHeat, SeatStep
from shared.rules.settings import Settings
from shared.rules.steps import FIRST, PASSES, STEPS
from shared.rules.tiles import COPIES, JOKER, Rack, by_suit, remove

_RACKS = (13, 14)


@dataclass(frozen=True)
class Lived:
    """One step of a seat.

    Attributes:
        step: what the seat did, and its time.
        rack: its tiles before the step.
        passed: its own tiles passed before.
        later: passes of three tiles still to come after this step, as far as the seat could know.
        position: what it knew when it chose tiles, or how many to offer; None at the vote and the plan.
    """

    step: SeatStep
    rack: Rack
    passed: Rack
    later: int
    position: Position | None


@dataclass(frozen=True)
class LivedHeat:
    """All steps of a seat in order, and what it knew after the last pass."""

    steps: tuple[Lived, ...]
    final: Position


def lived(heat: SeatHeat, looks: int = LOOKS) -> LivedHeat | str:
    """Return a heat step by step, or one sentence why it cannot be judged."""
    if not heat.dealt:
        return "This heat was played with real tiles: its times are known, its tiles are not."
    if len(heat.dealt) not in _RACKS or _overfull(heat.dealt):
        return "This heat does not add up: no deal gives such a rack."
    if len({step.step for step in heat.steps}) < len(heat.steps):
        return "This heat does not add up: it holds a step twice."
    rack: Rack = heat.dealt
    passed: Rack = ()
    found: list[Lived] = []
    for step in heat.steps:
        kept = remove(rack, step.given)
        if fault := _fault(heat.settings, step, kept):
            return f"This heat does not add up at {step.step}: {fault}."
        made = sum(before.step.step in PASSES for before in found)
        found.append(_lived(heat, step, rack, passed, looks, made))
        rack, passed = (*(kept or ()), *step.came), (*passed, *step.given)
    if by_suit(rack) != by_suit(heat.final):
        return "This heat does not add up: its last rack does not follow from its passes."
    made = sum(step.step in PASSES for step in heat.steps)
    courtesy = any(STEPS[step.step].ask == "offer" for step in heat.steps)
    final = Position(rack, passed, 0, (), False, looks, heat.settings.jokers, courtesy, made)
    return LivedHeat(tuple(found), final)


def _overfull(rack: Rack) -> bool:
    """Say whether a rack holds more of a kind than the set."""
    return any(count > COPIES[tile] for tile, count in Counter(rack).items())


def _fault(settings: Settings, step: SeatStep, kept: Rack | None) -> str:
    ask = STEPS[step.step].ask
    if kept is None:
        return "it passes tiles that the rack does not hold"
    if _overfull((*kept, *step.came)):
        return "the rack holds more tiles of a kind than the set"
    if step.blind and not settings.may_blind(step.step):
        return "that step allows no blind pass"
    if JOKER in (*step.given, *step.came):
        return "a joker was passed"
    if len(step.given) != len(step.came):
        return "the numbers of tiles sent and received differ"
    wanted = PASS - step.blind if ask == "pass" else len(step.given)
    if len(step.given) != wanted or wanted > PASS or (wanted and ask not in ("pass", "give")):
        return "it does not pass as many tiles as the step asks for"
    if (ask == "offer") != (step.offer is not None) or (ask == "vote") != (step.vote is not None):
        return "its answer does not fit the step"
    return ""


def _lived(heat: SeatHeat, step: SeatStep, rack: Rack, passed: Rack, looks: int, made: int) -> Lived:
    settings, ask = heat.settings, STEPS[step.step].ask
    passes = FIRST if settings.second == "never" else PASSES
    later = len(passes) - 1 - passes.index(step.step) if step.step in passes else 0
    if ask == "vote":
        return Lived(step, rack, passed, PASS, None)
    gives: tuple[int, ...] = ()
    blind = settings.may_blind(step.step)
    if ask == "pass":
        gives = (3, 2, 1, 0) if blind else (PASS,)
    elif ask == "offer":
        gives = (0, 1, 2, 3)
    elif ask == "give":
        gives = (len(step.given),)
    if not gives:
        return Lived(step, rack, passed, later, None)
    courtesy = ask in ("offer", "give")
    position = Position(rack, passed, later, gives, blind, looks, settings.jokers, courtesy, made)
    return Lived(step, rack, passed, later, position)
