"""A deal to lay out with real tiles: one rack to take, and the threes that come in, fixed beforehand in their order.

Pure. The threes are what a seat gets where incoming tiles come from the wall, whatever anybody passes; so two people
with a set each play the same deal. Of a saved heat they are what came then.
"""

from dataclasses import dataclass

from shared.rules.drills import PACKET, SEATS_COUNT, Laid
from shared.rules.events import Dealt
from shared.rules.seat_heat import SeatHeat
from shared.rules.seats import Seat
from shared.rules.steps import PASSES, StepName
from shared.rules.tiles import JOKER, Rack, by_suit
from shared.rules.wall import build_wall, deal, seeded_secret, wall_key

JOKERS = 8


@dataclass(frozen=True, slots=True)
class LaidOut:
    """A deal by its name: the rack that one person takes, and what comes at each pass."""

    name: str
    rack: Rack
    comes: tuple[tuple[StepName, Rack], ...]


def of_seed(seed: int, heat: int = 1, seat: Seat = Seat.EAST) -> LaidOut:
    """Return a seat's deal in a heat of the set that a seed gives, the same that a table deals by this seed."""
    racks, rest = deal(build_wall(wall_key(seeded_secret(seed, heat), (b"",) * SEATS_COUNT), JOKERS))
    number = f", heat {heat}" if heat > 1 else ""
    return LaidOut(f"deal {seed}{number}", racks[seat], _from_wall(rest, seat))


def of_drill(laid: Laid, name: str) -> LaidOut:
    """Return a deal that was laid to tempt a player; name tells it from others of its kind."""
    dealt = laid.events[0]
    assert isinstance(dealt, Dealt)
    return LaidOut(f"{laid.what}, {name}", dealt.racks[laid.seat], _from_wall(dealt.wall, laid.seat))


def of_heat(heat: SeatHeat) -> LaidOut | str:
    """Return a heat that somebody played, with what came to them; or one sentence why it cannot be laid out."""
    if not heat.dealt:
        return "Of this heat only the times are known, and no tiles."
    comes = tuple((step.step, by_suit(step.came)) for step in heat.steps if step.step in PASSES)
    if any(len(tiles) != PACKET for _, tiles in comes):
        return "In this heat tiles were passed on unseen, so the threes that came are not all known."
    return LaidOut(f"heat {heat.number} of {heat.played_at[:10]}", by_suit(heat.dealt), comes)


def _from_wall(wall: Rack, seat: Seat) -> tuple[tuple[StepName, Rack], ...]:
    """Return what a seat gets at each pass: everybody draws three tiles in seat order, and no joker comes in."""
    free = [tile for tile in wall if tile != JOKER]
    each = PACKET * SEATS_COUNT
    firsts = range(PACKET * seat, PACKET * seat + each * len(PASSES), each)
    return tuple((step, by_suit(free[at : at + PACKET])) for step, at in zip(PASSES, firsts, strict=True))
