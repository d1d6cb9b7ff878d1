"""A referee who follows a recorded game and stops at the first move that the rules do not allow.

Written apart from the simulator: plain Python, tiles as counters, hands looked up in the list of variants. It knows the
rules and no play: a seat may choose as badly as it likes, but never what is not allowed, and never less than a finish.

The rules are the trade's after the Charleston (common practice, no published source): the dealer discards first; in
turn draw one, discard one; a discard is called for a group of three or more of a hand that is not concealed, which is
then shown and final, or as the last tile of any hand; the last tile goes before a group, then the next in turn; a
discarded joker is dead; jokers stand in groups of three and more only; on one's own turn a natural tile is exchanged
for a joker in any shown group of its kind; the first finished hand ends the game, or the empty wall.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from shared.cards import Card
from tests.bench.game.hands import CALLABLE, JOKER_KIND, Groups, variants
from tests.bench.game.play import How, Move

SEATS = 4
_DISCARDER, _DRAWER, _NOBODY_YET = "discard", "draw", -1


class Foul(Exception):
    """A move that the rules do not allow; the message says why."""


@dataclass
class Shown:
    """A group that a seat has exposed."""

    kind: int
    size: int
    jokers: int


@dataclass
class Place:
    """What one seat holds and shows."""

    held: Counter[int]
    shown: list[Shown] = field(default_factory=list)

    def tiles(self) -> int:
        """Return how many tiles the seat has in all."""
        return self.held.total() + sum(group.size for group in self.shown)

    def give(self, kind: int, count: int = 1) -> None:
        """Take tiles off the rack."""
        if self.held[kind] < count:
            raise Foul("a tile goes that is not there")
        self.held[kind] -= count


@dataclass(frozen=True)
class Variant:
    """One way to fill a hand."""

    groups: Groups
    concealed: bool

    @classmethod
    def all_of(cls, card: Card) -> "list[Variant]":
        """Return every variant of a card in the simulator's order."""
        return [cls(groups, card.hands[number].concealed) for number, groups in variants(card)]

    def fits(self, shown: Iterable[Shown]) -> bool:
        """Say whether all groups shown are groups of it; nothing may be shown of a concealed hand."""
        exposed = _groups(shown)
        return not exposed or (not self.concealed and exposed <= Counter(self.groups))

    def is_filled(self, place: Place) -> bool:
        """Say whether the seat's tiles fill it: naturals where they belong, jokers in groups of three and more."""
        if not self.fits(place.shown):
            return False
        must, may = self.wants if not place.shown else _wants(Counter(self.groups) - _groups(place.shown))
        for kind, count in place.held.items():
            if count and kind != JOKER_KIND and count > must[kind] + may[kind]:
                return False
        if any(place.held[kind] < count for kind, count in must.items()):
            return False
        return place.held.total() == must.total() + may.total()

    @cached_property
    def wants(self) -> tuple[Counter[int], Counter[int]]:
        """Tiles that must be naturals, and tiles that may be jokers, by kind."""
        return _wants(Counter(self.groups))


def _groups(shown: Iterable[Shown]) -> Counter[tuple[int, int]]:
    return Counter((group.kind, group.size) for group in shown)


def _wants(groups: Counter[tuple[int, int]]) -> tuple[Counter[int], Counter[int]]:
    must, may = Counter[int](), Counter[int]()
    for (kind, size), count in groups.items():
        (must if size < CALLABLE else may)[kind] += size * count
    return must, may


class Referee:
    """Follows one game from its racks and its wall."""

    def __init__(self, variants: Sequence[Variant], racks: Sequence[Counter[int]], wall: Sequence[int]) -> None:
        self.variants = variants
        self.places = [Place(Counter(rack)) for rack in racks]
        self.wall = list(wall)
        self.discards: list[int] = []
        self.turn, self.phase = 0, _DISCARDER
        self.discarder = _NOBODY_YET
        self.set = sum((rack for rack in racks), Counter(wall))

    def follow(self, record: Iterable[Sequence[int]]) -> None:
        """Follow a whole record.

        Raises:
            Foul: a move is not allowed, or the game is not over at its end.
        """
        over = False
        for move, seat, kind, more, other in record:
            if over:
                raise Foul("the game was over")
            match Move(move):
                case Move.DRAW:
                    self._draw(seat, kind)
                case Move.DISCARD:
                    self._discard(seat, kind)
                case Move.GROUP:
                    self._group(seat, kind, more, other)
                case Move.EXCHANGE:
                    self._exchange(seat, kind, more, other)
                case Move.WIN:
                    self._win(seat, kind, How(more))
                    over = True
                case Move.WALL:
                    self._wall_ends()
                    over = True
            self._count()
        if not over:
            raise Foul("the game is not over")

    def _count(self) -> None:
        """See that no tile has been lost or made, and that every seat has its thirteen, or fourteen on its turn."""
        there = Counter(self.wall) + Counter(self.discards)
        for place in self.places:
            there += place.held
            for group in place.shown:
                there += Counter({group.kind: group.size - group.jokers, JOKER_KIND: group.jokers})
        if there != self.set:
            raise Foul("tiles were lost or made")
        for seat, place in enumerate(self.places):
            if place.tiles() != (14 if self.phase == _DISCARDER and seat == self.turn else 13):
                raise Foul("a seat has too many tiles or too few")

    def _draw(self, seat: int, kind: int) -> None:
        if self.phase != _DRAWER or seat != self.turn:
            raise Foul("it is not this seat's turn to draw")
        self._nobody_finishes_by_a_call()
        if not self.wall or self.wall.pop(0) != kind:
            raise Foul("this is not the next tile of the wall")
        self.places[seat].held[kind] += 1
        self.phase = _DISCARDER

    def _discard(self, seat: int, kind: int) -> None:
        if self.phase != _DISCARDER or seat != self.turn:
            raise Foul("it is not this seat's turn to discard")
        if self._finished(self.places[seat]):
            raise Foul("a finished hand was not called")
        self.places[seat].give(kind)
        self.discards.append(kind)
        self.turn, self.phase, self.discarder = (seat + 1) % SEATS, _DRAWER, seat

    def _callable(self, seat: int, kind: int) -> None:
        if self.phase != _DRAWER or seat == self.discarder or not self.discards or self.discards[-1] != kind:
            raise Foul("there is no such discard to call")
        if kind == JOKER_KIND:
            raise Foul("a discarded joker is dead")

    def _group(self, seat: int, kind: int, size: int, jokers: int) -> None:
        self._callable(seat, kind)
        self._nobody_finishes_by_a_call()
        if size < CALLABLE:
            raise Foul("a discard is called for a group of three or more, or as the last tile")
        place = self.places[seat]
        self.discards.pop()
        place.give(kind, size - 1 - jokers)
        place.give(JOKER_KIND, jokers)
        place.shown.append(Shown(kind, size, jokers))
        if not any(variant.fits(place.shown) for variant in self.variants):
            raise Foul("no hand that may be shown has these groups")
        self.turn, self.phase = seat, _DISCARDER

    def _exchange(self, seat: int, kind: int, owner: int, number: int) -> None:
        if self.phase != _DISCARDER or seat != self.turn:
            raise Foul("a joker is exchanged on one's own turn")
        shown = self.places[owner].shown
        if number >= len(shown) or shown[number].kind != kind or shown[number].jokers == 0:
            raise Foul("there is no joker in such a group")
        self.places[seat].give(kind)
        self.places[seat].held[JOKER_KIND] += 1
        shown[number].jokers -= 1

    def _win(self, seat: int, number: int, how: How) -> None:
        place = self.places[seat]
        if how == How.CALL:
            kind = self.discards[-1] if self.discards else JOKER_KIND
            self._callable(seat, kind)
            first = self._first_to_finish()
            if first != seat:
                raise Foul("another seat is nearer in turn" if first is not None else "the hand is not finished")
            place.held[self.discards.pop()] += 1
            self.turn, self.phase = seat, _DISCARDER
        elif self.phase != _DISCARDER or seat != self.turn:
            raise Foul("it is not this seat's turn")
        if not self.variants[number].is_filled(place):
            raise Foul("the hand is not finished")

    def _wall_ends(self) -> None:
        if self.wall or self.phase != _DRAWER:
            raise Foul("there are tiles left")
        self._nobody_finishes_by_a_call()

    def _finished(self, place: Place) -> bool:
        return any(variant.is_filled(place) for variant in self.variants)

    def _first_to_finish(self) -> int | None:
        """Return the seat nearest in turn that the last discard finishes."""
        kind = self.discards[-1]
        if kind == JOKER_KIND:
            return None
        for step in range(1, SEATS):
            seat = (self.discarder + step) % SEATS
            place = self.places[seat]
            if self._finished(Place(place.held + Counter([kind]), place.shown)):
                return seat
        return None

    def _nobody_finishes_by_a_call(self) -> None:
        if self._first_to_finish() is not None:
            raise Foul("the last tile of a hand goes before all else")
