"""Deals that tempt a player to give up a good target: the incoming tiles help another hand, or bring three of one
dragon twice, or bring flowers late.

Must never draw random numbers of its own: the key of a deal decides everything.
"""

from collections import Counter
from collections.abc import Iterator

from shared.coach.coach import Coach
from shared.coach.passes import Position
from shared.coach.targets import HandReading, likeliest_first
from shared.rules.drills import HELD, PACKET, TEMPTING, Laid, Tempting, lay
from shared.rules.settings import Settings
from shared.rules.steps import PASSES
from shared.rules.tiles import DRAGON_OF_SUIT, FLOWER, JOKER, KINDS, Rack, Tile, full_set, suit
from shared.rules.wall import Stream

_TRIES = 200
_RIVAL_SHARE = 0.4
"""A rival hand tempts if its chance is at least this share of the best hand's."""
_DRAGON_PASSES = (1, 3)
"""Three of one dragon come at the first pass across, three of another at the second pass left."""
_FLOWER_PASSES = (4, 5)
"""Flowers come at the last two passes only."""


def tempting(coach: Coach, kind: Tempting, settings: Settings, key: bytes) -> Laid:
    """Return a deal of this kind; the same key always gives the same deal.

    Raises:
        ValueError: none was found among a few hundred deals.
    """
    for number in range(_TRIES):
        pool = Stream(key, f"drill {kind} {number}").shuffled(full_set())
        rack, rest = pool[:HELD], pool[HELD:]
        comes = _comes(coach, kind, rack, rest)
        if comes is not None:
            return lay(settings, rack, comes, key, TEMPTING[kind].title)
    raise ValueError("No such deal was found; try another seed.")


def _comes(coach: Coach, kind: Tempting, rack: Rack, rest: Rack) -> list[Rack] | None:
    """Return six packets for a rack, or None if the rack does not suit this kind of deal."""
    match kind:
        case "rival":
            return _help_for_the_rival(coach, rack, rest)
        case "dragons":
            return _dragons(rack, rest)
        case "flowers":
            return _flowers(rack, rest)


def _help_for_the_rival(coach: Coach, rack: Rack, rest: Rack) -> list[Rack] | None:
    """Fill the first five packets with tiles that the second-best hand wants and the best one does not."""
    readings = coach.engine.hands(Position(rack, (), len(PASSES)))
    best, rival = _two_targets(coach, readings)
    if rival is None or rival.counts < _RIVAL_SHARE * best.counts:
        return None
    held = Counter(rack)
    patterns = coach.engine.patterns
    wants = [
        Counter(
            {
                tile: int(patterns.pairs[reading.variant][at] + patterns.groups[reading.variant][at])
                for at, tile in enumerate(KINDS)
            }
        )
        for reading in (best, rival)
    ]
    for_best, for_rival, there = wants[0] - held, wants[1] - held, Counter(rest)
    wanted = {tile: count for tile, count in for_rival.items() if tile != JOKER and not for_best[tile]}
    helps = [tile for tile, count in wanted.items() for _ in range(min(count, there[tile]))]
    if len(helps) < len(PASSES) - 1:
        return None
    # One useful tile in each pass, so that the rival grows slowly; neither hand wants the rest.
    use = wants[0] + wants[1]
    idle = [tile for tile in rest if tile != JOKER and not use[tile]]
    return _packets([[tile] for tile in helps[: len(PASSES)]], idle)


def _two_targets(coach: Coach, readings: tuple[HandReading, ...]) -> tuple[HandReading, HandReading | None]:
    """Return the likeliest hand, and the likeliest of another section."""
    hands = coach.card.hands
    order = likeliest_first(readings)
    section = hands[order[0].hand].section
    return order[0], next((reading for reading in order if hands[reading.hand].section != section), None)


def _dragons(rack: Rack, rest: Rack) -> list[Rack] | None:
    """Bring three of one dragon, then three of another, to a rack that holds none of either."""
    there = Counter(rest)
    chosen = [dragon for dragon in DRAGON_OF_SUIT.values() if there[dragon] == 4]
    if len(chosen) < len(_DRAGON_PASSES):
        return None
    packets: list[list[Tile]] = [[] for _ in PASSES]
    for at, dragon in zip(_DRAGON_PASSES, chosen, strict=False):
        packets[at] = [dragon] * PACKET
    return _packets(packets, [tile for tile in rest if suit(tile)])


def _flowers(rack: Rack, rest: Rack) -> list[Rack] | None:
    """Bring flowers at the last two passes to a rack that holds at most one and got none before."""
    if rack.count(FLOWER) > 1 or rest.count(FLOWER) < 2 * len(_FLOWER_PASSES):
        return None
    packets: list[list[Tile]] = [[] for _ in PASSES]
    for at in _FLOWER_PASSES:
        packets[at] = [FLOWER, FLOWER]
    return _packets(packets, [tile for tile in rest if tile not in (FLOWER, JOKER)])


def _packets(begun: list[list[Tile]], fill: list[Tile]) -> list[Rack] | None:
    """Return six packets of three, filled up in order; None if there are too few tiles."""
    more: Iterator[Tile] = iter(fill)
    packets: list[Rack] = []
    for at in range(len(PASSES)):
        packet = list(begun[at]) if at < len(begun) else []
        while len(packet) < PACKET:
            tile = next(more, None)
            if tile is None:
                return None
            packet.append(tile)
        packets.append(tuple(packet))
    return packets
