"""What people did with the same rack: results of one set beside each other, deal by deal. Pure.

Who is shown what is decided by whoever asks: the heats to be told are an argument.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from pydantic import Field

from shared.measures.standings import Played, Points, Reviewed, from_seat_heat
from shared.names import NAME_CELLS, clean_name, skeleton
from shared.records import Record
from shared.rules.seat_heat import SeatHeat, SeatStep
from shared.rules.set_result import Handed
from shared.rules.steps import StepName
from shared.rules.tiles import Rack, Tile, by_suit, remove


class StepFound(Record):
    """What the coach says of one step: the best answer with its sentences, and what the player's own cost, in points.

    close says that the cost is too close to call. says is the best answer where it is no pass.
    """

    step: StepName
    best: tuple[Tile, ...]
    blind: int = Field(0, ge=0, le=3)
    says: str = ""
    words: tuple[str, ...] = ()
    cost: Points
    close: bool


class HeatFound(Record):
    """What was found in a heat that was handed in: its review, and a sentence if its bots did not answer as here."""

    reviewed: Reviewed | None
    steps: tuple[StepFound, ...] = ()
    bots: str = ""


Found = Mapping[tuple[str, int], HeatFound]
"""What was found, by player and heat."""


@dataclass(frozen=True, slots=True)
class Answer:
    """One way in which people answered: tiles or words, what it cost (None: not known), and who did."""

    tiles: Rack
    blind: int
    says: str
    cost: float | None
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SameRack:
    """A rack that several people had at one step, and their answers, the cheapest first; best is the coach's."""

    heat: int
    step: StepName
    rack: Rack
    answers: tuple[Answer, ...]
    best: StepFound | None

    @property
    def people(self) -> int:
        """How many had it."""
        return sum(len(answer.names) for answer in self.answers)


def names_apart(handed: Sequence[Handed]) -> dict[str, str]:
    """Return each player's name; where two have one name, or names that look alike, they get numbers."""
    found: dict[str, str] = {}
    taken: dict[str, int] = {}
    for one in handed:
        name = one.result.called
        taken[skeleton(name)] = number = taken.get(skeleton(name), 0) + 1
        end = f" ({number})" if number > 1 else ""
        found[one.result.player] = f"{clean_name(name, cells=NAME_CELLS - len(end))}{end}"
    return found


def played_by(handed: Sequence[Handed], found: Found) -> tuple[Played, ...]:
    """Return every heat of the results as an evening's standings take it."""
    names, every = names_apart(handed), list[Played]()
    for one in handed:
        player = one.result.player
        name = names[player]
        for own in one.own:
            played = from_seat_heat(own, player, f"{own.number}", own.number)
            played = played.model_copy(update={"table": name, "name": name, "who": name})
            known = found.get((player, own.number))
            every.append(played.with_review(known.reviewed) if known and known.reviewed else played)
    return tuple(every)


def same_racks(handed: Sequence[Handed], found: Found, heats: Collection[int]) -> tuple[SameRack, ...]:
    """Return the racks that two people or more had at one step of these heats, in the order of play."""
    names = names_apart(handed)
    groups: dict[tuple[int, int, StepName, Rack, Rack], list[tuple[str, SeatStep, StepFound | None]]] = {}
    for one in handed:
        for own in one.own:
            known = found.get((one.result.player, own.number))
            said = {step.step: step for step in known.steps} if known else {}
            for at, (step, rack, passed) in enumerate(_steps(own)):
                key = own.number, at, step.step, rack, passed
                groups.setdefault(key, []).append((names[one.result.player], step, said.get(step.step)))
    shared = [(key, each) for key, each in groups.items() if len(each) > 1 and key[0] in heats and key[2] != "plan"]
    shared.sort(key=lambda group: (group[0][:2], -len(group[1]), group[0][3]))
    return tuple(
        SameRack(heat, step, rack, _answers(each), next((said for _, _, said in each if said), None))
        for (heat, _, step, rack, _), each in shared
    )


def _steps(heat: SeatHeat) -> list[tuple[SeatStep, Rack, Rack]]:
    """Return each step with the rack before it and what had been passed, both in kind order."""
    rack: Rack = heat.dealt
    passed: Rack = ()
    found = []
    for step in heat.steps:
        found.append((step, by_suit(rack), by_suit(passed)))
        rack, passed = (*(remove(rack, step.given) or ()), *step.came), (*passed, *step.given)
    return found


def _answers(each: Sequence[tuple[str, SeatStep, StepFound | None]]) -> tuple[Answer, ...]:
    ways: dict[tuple[Rack, int, str], list[tuple[str, StepFound | None]]] = {}
    for name, step, said in each:
        says = "" if step.is_pass else _says(step)
        late = " (out of time)" if step.by == "timeout" else ""
        ways.setdefault((by_suit(step.given), step.blind, says), []).append((name + late, said))
    answers = [
        Answer(tiles, blind, says, next((said.cost for _, said in who if said), None), tuple(name for name, _ in who))
        for (tiles, blind, says), who in ways.items()
    ]
    return tuple(sorted(answers, key=lambda one: (one.cost is None, one.cost, -len(one.names), one.tiles)))


def _says(step: SeatStep) -> str:
    if step.vote is not None:
        return "go on" if step.vote else "stop"
    return f"offer {step.offer or 0}"
