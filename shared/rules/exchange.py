"""Where the tiles of one pass end up when some seats pass blind.

A seat may forward one to three of the tiles that come to it before it looks. As long as somebody passes only
tiles of its own, the packets settle one after the other from there. When all four forward, the packets form a
ring: own tiles move first, and each seat passes on, at random, from what has reached it, until all is settled.
"""

from typing import TypeVar

from shared.rules.seats import SEATS, Direction, PerSeat, Seat
from shared.rules.tiles import Rack, by_suit
from shared.rules.wall import Stream

T = TypeVar("T")


def exchange(
    own: PerSeat[Rack], blind: PerSeat[int], direction: Direction, stream: Stream
) -> tuple[PerSeat[Rack], PerSeat[Rack]]:
    """Return (sent, came): each seat's whole packet, own tiles first, and the tiles it received and kept.

    own and blind are what each seat committed; they add up to its packet. came is sorted, so that its order does not
    show which way a tile took. When all four forward three, nothing moves.
    """
    sent, came = settle(own, blind, direction, stream)
    return sent, PerSeat.of(lambda seat: by_suit(came[seat]))


def settle(
    own: PerSeat[tuple[T, ...]], blind: PerSeat[int], direction: Direction, stream: Stream
) -> tuple[PerSeat[tuple[T, ...]], PerSeat[tuple[T, ...]]]:
    """Return (sent, came) for items of any kind; where an item goes depends only on its place, never on its value."""
    sent = {seat: list(own[seat]) for seat in SEATS}
    held: dict[Seat, list[T]] = {seat: [] for seat in SEATS}
    owed = dict(blind.pairs())
    moving = {seat: list(own[seat]) for seat in SEATS}
    ring = all(blind)
    while any(moving.values()):
        for seat in SEATS:
            held[seat.to(direction)] += moving[seat]
        moving = {seat: [] for seat in SEATS}
        for seat in SEATS:
            feeder = seat.feeder(direction)
            whole = len(sent[feeder]) == len(own[feeder]) + blind[feeder]
            if owed[seat] and (ring or whole):
                places = stream.sample(range(len(held[seat])), min(owed[seat], len(held[seat])))
                moving[seat] = [held[seat][place] for place in places]
                held[seat] = [thing for place, thing in enumerate(held[seat]) if place not in places]
                owed[seat] -= len(places)
        for seat in SEATS:
            sent[seat] += moving[seat]
    return PerSeat.of(lambda seat: tuple(sent[seat])), PerSeat.of(lambda seat: tuple(held[seat]))
