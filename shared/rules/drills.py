"""Drills: heats whose tiles we lay for practice instead of dealing them from a committed wall.

A laid heat begins with given events: a deal, or a whole heat up to the step to replay. It has no commitment, so nobody
can pass it off as a fair deal. In a tempting deal the incoming tiles come from the wall, in its order, whatever anybody
passes.

Pure: the key decides the deal. Never asks the coach; shared.coach.tempting does.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from shared.rules.events import AnyEvent, Dealt, StepBegan
from shared.rules.heat import SavedHeat
from shared.rules.seats import Seat
from shared.rules.settings import Settings
from shared.rules.steps import PASSES, StepName
from shared.rules.tiles import JOKER, Rack, Tile, by_suit, full_set
from shared.rules.wall import Stream

Tempting = Literal["rival", "dragons", "flowers"]


@dataclass(frozen=True, slots=True)
class Temptation:
    """A kind of tempting deal: its name, what happens in it, and its question to the player."""

    title: str
    happens: str
    question: str


TEMPTING: dict[Tempting, Temptation] = {
    "rival": Temptation("the rival hand", "What comes in helps the rival hand", "pick one and stay"),
    "dragons": Temptation("dragons in threes", "Three of one dragon, twice", "keep or break?"),
    "flowers": Temptation("late flowers", "Flowers that come late", "too late?"),
}
SEATS_COUNT = 4
PACKET = 3
HELD = 14


@dataclass(frozen=True, slots=True)
class Laid:
    """A laid heat: its settings, the events so far, the player's seat, and what it drills.

    step is set if the drill replays a heat from that step on; lost is then the old answer's loss in points, if known.
    """

    settings: Settings
    events: tuple[AnyEvent, ...]
    seat: Seat
    what: str
    step: StepName | None = None
    lost: float | None = None


def replay_from(heat: SavedHeat, seat: Seat, step: StepName, settings: Settings | None = None) -> Laid | str:
    """Return a heat laid as it stood when a step began, to play on from there; or one sentence why not.

    settings replace the heat's own, for another clock; those that shape the route must stay the same.
    """
    begun = [number for number, event in enumerate(heat.events) if isinstance(event, StepBegan) and event.step == step]
    if not begun:
        return f"The step {step} was not played in this heat."
    own = heat.settings
    plays = own.model_copy(update={"heats": 1, "seed": None})
    if settings is not None:
        plays = plays.model_copy(update={"level_ms": settings.level_ms, "lengths_ms": settings.lengths_ms})
    return Laid(plays, heat.events[: begun[0] + 1], seat, f"replay from {step}", step)


def drill_settings(settings: Settings) -> Settings:
    """Return settings under which the laid tiles come in: passes from the wall, none blind, all six of them."""
    return settings.model_copy(
        update={"incoming": "wall", "blind": False, "second": "always", "heats": 1, "seed": None, "jokers": 8}
    )


def lay(settings: Settings, rack: Rack, comes: Sequence[Rack], key: bytes, what: str) -> Laid:
    """Return a deal in which East holds a rack and gets three given tiles at each of the six passes.

    comes has a packet for each pass; the key shuffles the remaining tiles.

    Raises:
        ValueError: the set does not hold those tiles, the rack is not fourteen, or comes is not six packets of three
            passable tiles.
    """
    if len(rack) != HELD or [len(packet) for packet in comes] != [PACKET] * len(PASSES):
        raise ValueError("A laid deal has fourteen tiles and six packets of three.")
    asked = Counter(rack) + Counter(tile for packet in comes for tile in packet)
    whole = Counter(full_set())
    if any(count > whole[tile] for tile, count in asked.items()) or any(JOKER in packet for packet in comes):
        raise ValueError("These tiles cannot be laid.")
    rest = Stream(key, f"laid {what}").shuffled(tuple((whole - asked).elements()))
    others, wall = rest[: 3 * (HELD - 1)], list(rest[3 * (HELD - 1) :])
    racks = (by_suit(rack), *(by_suit(others[at : at + HELD - 1]) for at in range(0, len(others), HELD - 1)))
    ordered: list[Tile] = []
    free = [tile for tile in wall if tile != JOKER]
    for packet in comes:
        theirs, free = free[: PACKET * (SEATS_COUNT - 1)], free[PACKET * (SEATS_COUNT - 1) :]
        ordered += [*packet, *theirs]
    ordered += [*free, *(tile for tile in wall if tile == JOKER)]
    deal = Dealt(racks=(racks[0], racks[1], racks[2], racks[3]), wall=tuple(ordered))
    return Laid(drill_settings(settings), (deal, StepBegan(step=PASSES[0], at_ms=0)), Seat.EAST, what)
