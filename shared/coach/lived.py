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
from shared.rules.steps import FIRST, PASSES, STEPS, StepName
from shared.rules.tiles import JOKER, Rack, by_suit, full_set, remove

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
        face_down: tiles that had come in and that nobody was allowed to look at yet.
    """

    step: SeatStep
    rack: Rack
    passed: Rack
    later: int
    position: Position | None
    face_down: int = 0


@dataclass(frozen=True)
class LivedHeat:
    """All steps of a seat in order, and what it knew after the last pass; where the heat is not whole, the steps whose
    tiles are known, and what it knew after these."""

    steps: tuple[Lived, ...]
    final: Position
    is_whole: bool = True


def lived(heat: SeatHeat, looks: int = LOOKS, partly: bool = False) -> LivedHeat | str:
    """Return a heat step by step, or one sentence why it cannot be judged.

    With partly, a heat without a final rack is judged as far as it goes.
    """
    if not heat.dealt:
        return "This heat was played with real tiles: its times are known, its tiles are not."
    if len(heat.dealt) not in _RACKS or _overfull(heat.settings, heat.dealt):
        return "This heat does not add up: no deal gives such a rack."
    if len({step.step for step in heat.steps}) < len(heat.steps):
        return "This heat does not add up: it holds a step twice."
    rack: Rack = heat.dealt
    passed: Rack = ()
    face_down: Rack = ()
    found: list[Lived] = []
    is_whole = bool(heat.final) or not partly
    for step in heat.steps:
        if not is_whole and _is_open(step):
            break
        kept = remove(rack, step.given)
        if fault := _fault(heat.settings, step, kept):
            return f"This heat does not add up at {step.step}: {fault}."
        made = sum(before.step.step in PASSES for before in found)
        found.append(_lived(heat, step, rack, passed, looks, made, len(face_down)))
        rack, face_down = (*(kept or ()), *face_down), step.came
        if not heat.settings.hides(step.step):
            rack, face_down = (*rack, *face_down), ()
        passed = (*passed, *step.given)
    if is_whole and by_suit(rack) != by_suit(heat.final):
        return "This heat does not add up: its last rack does not follow from its passes."
    made = sum(each.step.step in PASSES for each in found)
    courtesy = any(STEPS[each.step.step].ask == "offer" for each in found)
    valued = heat.settings.play_for == "values"
    final = Position(rack, passed, 0, (), False, looks, heat.settings.jokers, courtesy, made, valued)
    return LivedHeat(tuple(found), final, is_whole)


def _is_open(step: SeatStep) -> bool:
    """Say whether it is not known what a step's answer was."""
    match STEPS[step.step].ask:
        case "pass":
            return len(step.given) + step.blind != PASS
        case "vote":
            return step.vote is None
        case "offer":
            return step.offer is None
    return False


def _overfull(settings: Settings, rack: Rack) -> bool:
    """Say whether a rack holds more of a kind than the set."""
    return bool(Counter(rack) - Counter(full_set(settings.jokers)))


def _fault(settings: Settings, step: SeatStep, kept: Rack | None) -> str:
    ask = STEPS[step.step].ask
    if kept is None:
        return "it passes tiles that the rack does not hold"
    if _overfull(settings, (*kept, *step.came)):
        return "the rack holds more tiles of a kind than the set"
    if step.blind > settings.most_blind(step.step):
        return "that step does not allow so many blind tiles"
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


def _lived(heat: SeatHeat, step: SeatStep, rack: Rack, passed: Rack, looks: int, made: int, face_down: int) -> Lived:
    settings = heat.settings
    later = PASS if STEPS[step.step].ask == "vote" else passes_after(settings, step.step)
    position = position_in(settings, step.step, rack, passed, made, len(step.given), looks)
    return Lived(step, rack, passed, later, position, face_down)


def passes_after(settings: Settings, step: StepName) -> int:
    """Return how many passes of three tiles follow a pass, as far as a seat can know; none after any other step."""
    passes = FIRST if settings.second == "never" else PASSES
    return len(passes) - 1 - passes.index(step) if step in passes else 0


def position_in(
    settings: Settings, step: StepName, rack: Rack, passed: Rack, made: int, give: int, looks: int = LOOKS
) -> Position | None:
    """Return what a seat knows when it chooses tiles, or how many to offer; None at the vote and the plan.

    Args:
        settings: the rules of the table.
        step: the step.
        rack: its tiles before the step.
        passed: its own tiles passed before.
        made: how many passes it made before.
        give: how many tiles were agreed on in the courtesy.
        looks: draws for the chance of finishing alone.
    """
    ask, blind = STEPS[step].ask, bool(settings.most_blind(step))
    gives: tuple[int, ...] = ()
    if ask == "pass":
        gives = settings.gives(step)
    elif ask == "offer":
        gives = (0, 1, 2, 3)
    elif ask == "give":
        gives = (give,)
    if not gives:
        return None
    later, courtesy = passes_after(settings, step), ask in ("offer", "give")
    valued = settings.play_for == "values"
    return Position(rack, passed, later, gives, blind, looks, settings.jokers, courtesy, made, valued)
