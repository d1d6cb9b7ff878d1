"""Tempting deals are what they say, and follow from their key alone."""

from collections import Counter

import pytest

from shared.cards.play import shipped_text
from shared.coach.coach import Coach, coach_of
from shared.coach.passes import Position
from shared.coach.tempting import tempting
from shared.rules.drills import TEMPTING, Laid, Tempting
from shared.rules.seats import Seat
from shared.rules.settings import Settings
from shared.rules.state import replay
from shared.rules.tiles import JOKER, KINDS, Rack

KEYS = [bytes([number]) for number in range(6)]
KINDS_OF_DRILL = tuple(TEMPTING)


@pytest.fixture(scope="module")
def coach() -> Coach:
    found = coach_of(shipped_text())
    assert isinstance(found, Coach)
    return found


def opened(laid: Laid) -> tuple[Rack, list[Rack]]:
    """Return East's rack and what comes to it at each pass."""
    state = replay(laid.settings, laid.events)
    free = [tile for tile in state.wall if tile != JOKER]
    return state.racks[Seat.EAST], [tuple(free[at : at + 3]) for at in range(0, 72, 12)]


@pytest.mark.parametrize("kind", KINDS_OF_DRILL)
def test_the_key_of_a_deal_says_everything(coach: Coach, kind: Tempting) -> None:
    first, again, other = (tempting(coach, kind, Settings(), key) for key in (KEYS[0], KEYS[0], KEYS[1]))
    assert first == again
    assert first != other


@pytest.mark.parametrize("key", KEYS)
def test_three_of_one_dragon_come_twice(coach: Coach, key: bytes) -> None:
    rack, comes = opened(tempting(coach, "dragons", Settings(), key))
    threes = [packet[0] for packet in comes if len(set(packet)) == 1 and packet[0] in "RGO"]
    assert len(set(threes)) == 2
    assert not set(threes) & set(rack)


@pytest.mark.parametrize("key", KEYS)
def test_flowers_come_at_the_last_two_passes_and_never_before(coach: Coach, key: bytes) -> None:
    rack, comes = opened(tempting(coach, "flowers", Settings(), key))
    assert [packet.count("F") for packet in comes] == [0, 0, 0, 0, 2, 2]
    assert rack.count("F") <= 1


@pytest.mark.parametrize("key", KEYS)
def test_what_comes_in_helps_another_hand_and_not_the_best_one(coach: Coach, key: bytes) -> None:
    rack, comes = opened(tempting(coach, "rival", Settings(), key))
    before = coach.engine.hands(Position(rack, (), 6))
    best = min(before, key=lambda reading: (-reading.win, reading.away, reading.hand))
    patterns, held = coach.engine.patterns, Counter(rack)
    wanted = patterns.pairs[best.variant] + patterns.groups[best.variant]
    came = Counter(tile for packet in comes for tile in packet)
    useful = sum(min(came[tile], max(0, int(wanted[at]) - held[tile])) for at, tile in enumerate(KINDS))
    assert useful == 0, "nothing that comes is of use to the best target"
    sections = [hand.section for hand in coach.card.hands]
    nearer = [
        sum(
            min(came[tile], max(0, int(patterns.pairs[r.variant][at] + patterns.groups[r.variant][at]) - held[tile]))
            for at, tile in enumerate(KINDS)
            if tile != JOKER
        )
        for r in before
        if sections[r.hand] != sections[best.hand]
    ]
    assert max(nearer) >= 5, "a hand of another section gets a tile at nearly every pass"
