"""A practitioner alone with tiles, for tests: a wall, what is dealt from it, and what is typed of it."""

from collections.abc import Iterator
from dataclasses import dataclass
from random import Random

from shared.rules.steps import PASSES
from shared.rules.tiles import JOKER, Rack, by_suit, full_set
from shared.rules.typed_tiles import compact


@dataclass(frozen=True)
class PlayedHeat:
    """What one person with a wall lived through: the deal, then three tiles out and three in at each pass."""

    dealt: Rack
    gone: tuple[Rack, ...]
    came: tuple[Rack, ...]
    final: Rack

    def typed(self) -> Iterator[str]:
        """Yield each line as it is typed: the deal, out and in of every pass."""
        yield compact(by_suit(self.dealt))
        for gone, came in zip(self.gone, self.came, strict=True):
            yield compact(by_suit(gone))
            yield compact(by_suit(came))


def played_heat(seed: int, tiles: int, passes: int = len(PASSES)) -> PlayedHeat:
    """Deal from a shuffled wall and pass what chance says; incoming tiles come from the wall, without jokers."""
    dice = Random(seed)
    wall = list(full_set())
    dice.shuffle(wall)
    dealt, rest = tuple(wall[:tiles]), [tile for tile in wall[tiles:] if tile != JOKER]
    rack, gone, came = list(dealt), list[Rack](), list[Rack]()
    for number in range(passes):
        goes = tuple(dice.sample([tile for tile in rack if tile != JOKER], 3))
        comes = tuple(rest[3 * number : 3 * number + 3])
        for tile in goes:
            rack.remove(tile)
        rack += comes
        gone.append(goes)
        came.append(comes)
    return PlayedHeat(dealt, tuple(gone), tuple(came), tuple(rack))
