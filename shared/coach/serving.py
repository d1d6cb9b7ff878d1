"""What each tile of a rack is for at one step: the likeliest hand, another hand within reach, or none.

Must never see more than the seat did: the hands come from its own position.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from shared.cards.picture import AgainstRack
from shared.coach.coach import Coach
from shared.coach.distance import Counts
from shared.coach.lived import Lived
from shared.coach.words import Target, told_against
from shared.rules.tiles import INDEX, JOKER, Rack, Tile, by_suit

Use = Literal["best", "other", "idle"]
USES: tuple[Use, ...] = ("best", "other", "idle")


@dataclass(frozen=True)
class Drawn:
    """A hand by its name, drawn against a rack."""

    name: str
    drawn: AgainstRack


@dataclass(frozen=True)
class Served:
    """A rack sorted by what its tiles are for, and how its hands stood before and after the step.

    Attributes:
        rack: each tile with its use, sorted by suit.
        came: the same of the tiles that came.
        reach: how many hands are within reach.
        before: the likeliest hand against the rack before the step; None if none is within reach.
        after: the same hand against the rack after it.
        now: the likeliest hand that the own answer kept, against the rack after it; None if it is the same one.
    """

    rack: tuple[tuple[Tile, Use], ...]
    came: tuple[tuple[Tile, Use], ...] = ()
    reach: int = 0
    before: Drawn | None = None
    after: Drawn | None = None
    now: Drawn | None = None

    def tiles(self, use: Use) -> Rack:
        """Return the tiles of the rack with one use."""
        return tuple(tile for tile, its in self.rack if its == use)


def serve(coach: Coach, step: Lived, hands: Sequence[Target], own: Sequence[Target] = ()) -> Served:
    """Sort the rack of a step by the hands within reach, likeliest first; own are those that the answer kept."""
    gone = Counter(step.step.given)
    kept = Counter(step.rack) - gone
    variants = [hand.variant for hand in hands]
    rack, came = uses(coach, step.rack, variants), uses(coach, step.step.came, variants, kept)
    if not hands:
        return Served(rack, came)
    after = tuple((kept + Counter(step.step.came)).elements())
    before, then = (_drawn(coach, hands[0], tiles) for tiles in (step.rack, after))
    other = next((hand for hand in own[:1] if hand.hand != hands[0].hand), None)
    return Served(rack, came, len(hands), before, then, _drawn(coach, other, after) if other else None)


def uses(
    coach: Coach, tiles: Iterable[Tile], hands: Sequence[int], held: Counter[Tile] | None = None
) -> tuple[tuple[Tile, Use], ...]:
    """Sort tiles by the hands within reach, given by their variants, likeliest first; held are there already."""
    patterns = coach.engine.patterns
    wants = [patterns.wanted(variant) for variant in hands]
    takes = bool(hands) and bool(patterns.groups[hands[0]].any())
    return tuple(_sorted(tiles, held or Counter(), wants, takes))


def _sorted(
    tiles: Iterable[Tile], held: Counter[Tile], wants: Sequence[Counts], takes_jokers: bool
) -> Iterable[tuple[Tile, Use]]:
    """Yield tiles with their uses, those of the likeliest hand first; held are tiles that are there already."""
    number = Counter(held)
    for tile in by_suit(tuple(tiles)):
        number[tile] += 1
        yield tile, _use(tile, number[tile], wants, takes_jokers)


def _use(tile: Tile, number: int, wants: Sequence[Counts], takes_jokers: bool) -> Use:
    if tile == JOKER:
        return "best" if takes_jokers else "other" if wants else "idle"
    first = next((place for place, want in enumerate(wants) if want[INDEX[tile]] >= number), None)
    return "idle" if first is None else "other" if first else "best"


def _drawn(coach: Coach, hand: Target, rack: Rack) -> Drawn:
    return Drawn(*told_against(coach.engine.patterns, coach.card, hand.variant, rack))
