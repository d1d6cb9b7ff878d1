"""What the heats of a club's tables come to: one result a seat, what the same rack did elsewhere, and what the coach
has yet to look at.

Knows every rack of a finished heat and does not decide who may see what: the caller says which heats are open.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from server.kept import KeptHeat
from server.records import SeatKey, SeatReview, TableRecord
from shared.measures.standings import Played, Reviewed, from_seat_heat
from shared.rules.heat import SavedHeat, final_state
from shared.rules.seat_heat import SeatHeat, seat_heat
from shared.rules.seats import SEATS, Seat, chair_of
from shared.wire.club_views import Elsewhere, Gave

IsOpen = Callable[[int, KeptHeat], bool]
"""Whether the racks of a heat at the table of that number may be seen by now."""


@dataclass(frozen=True, slots=True)
class _Gave:
    """What a table's seats gave in a heat, and what heats of the same deal have in common."""

    deal: str
    seats: tuple[Elsewhere, ...]


class Results:
    """The evening's results by table and heat."""

    def __init__(self) -> None:
        self._played: dict[tuple[int, int], tuple[Played, ...]] = {}
        self._gave: dict[tuple[int, int], _Gave] = {}
        self._waiting: dict[tuple[int, int], KeptHeat] = {}
        self._looked: set[SeatKey] = set()

    @property
    def looked(self) -> int:
        """How many seats the coach has looked at."""
        return len(self._looked)

    @property
    def last(self) -> int:
        """The last heat that has a result."""
        return max((heat for _, heat in self._played), default=0)

    def played(self) -> tuple[Played, ...]:
        """Return every result."""
        return tuple(one for key in sorted(self._played) for one in self._played[key])

    def add(self, number: int, kept: KeptHeat, record: TableRecord) -> None:
        """Add a heat that has ended at a table; adding it again changes nothing.

        A table may be renamed; its number keeps its results apart from those of another that takes the name.
        """
        if (number, kept.number) in self._played:
            return
        heat = kept.heat()
        state, deal = final_state(heat), deal_of(heat, record)
        name = heat.table if heat.table == f"Table {number}" else f"{number} {heat.table}"
        sat = record.sat_in(heat.number)
        lived = [seat_heat(heat, state, seat) for seat in SEATS]
        results = []
        for one in lived:
            chair = chair_of(Seat(one.seat), heat.east)
            # A heat that was dealt to somebody and played by a bot is still among theirs, marked as such.
            people = [player for player in heat.played(chair) if player.person]
            person = record.people[people[0].person - 1] if people else sat.people[chair] if sat else ""
            own = people[0].name if people else heat.names[chair]
            result = from_seat_heat(one, person, deal, heat.number)
            is_shared = len(heat.players[chair]) > 1
            results.append(result.model_copy(update={"table": name, "name": own, "bot": result.bot or is_shared}))
        self._played[number, kept.number] = tuple(results)
        self._gave[number, kept.number] = _Gave(deal, tuple(map(_elsewhere, lived)))
        for key in [key for key in self._gave if key[0] == number and key[1] < kept.number - 1]:
            del self._gave[key]  # Elsewhere only the last heat is shown, and another table may be one behind.
        if any(one.person for one in results):
            self._waiting[number, kept.number] = kept

    def know_as(self, old: str, new: str) -> None:
        """Know a person by another key: their results stay theirs."""
        for key, played in self._played.items():
            if any(one.person == old for one in played):
                renamed = (one.model_copy(update={"person": new}) if one.person == old else one for one in played)
                self._played[key] = tuple(renamed)

    def take(self, review: SeatReview) -> None:
        """Take in what the coach has found."""
        table, heat, seat = key = SeatKey(review.table, review.heat, review.seat)
        if key in self._looked or (table, heat) not in self._played:
            return
        self._looked.add(key)
        if review.reviewed:
            self._put(table, heat, seat, review.reviewed)
        if not any(self._left_of(table, heat)):
            del self._waiting[table, heat]

    def left(self, is_open: IsOpen) -> tuple[SeatKey, ...]:
        """Return the people's seats that the coach has yet to look at, of open heats alone, the first heat first."""
        heats = sorted(self._waiting.items(), key=lambda item: (item[0][1], item[0][0]))
        return tuple(
            key for (number, heat), kept in heats if is_open(number, kept) for key in self._left_of(number, heat)
        )

    def heat_of(self, key: SeatKey) -> SeatHeat:
        """Return what a seat lived that is still to be looked at."""
        heat = self._waiting[key.table, key.heat].heat()
        chair = chair_of(Seat(key.seat), heat.east)
        person = next((player.person for player in heat.players[chair] if player.person), 0)
        return seat_heat(heat, final_state(heat), Seat(key.seat), person)

    def elsewhere(self, number: int, heat: int) -> tuple[tuple[Elsewhere, ...], ...]:
        """Return for each seat of a table's heat what the same rack did at the other tables."""
        own = self._gave.get((number, heat))
        others = [
            gave
            for (table, other), gave in sorted(self._gave.items())
            if own and table != number and other == heat and gave.deal == own.deal
        ]
        return tuple(tuple(gave.seats[seat] for gave in others) for seat in SEATS)

    def _put(self, table: int, heat: int, seat: int, found: Reviewed) -> None:
        played = list(self._played[table, heat])
        played[seat] = played[seat].with_review(found)
        self._played[table, heat] = tuple(played)
        if gave := self._gave.get((table, heat)):
            seats = list(gave.seats)
            seats[seat] = seats[seat].model_copy(update={"points": found.points})
            self._gave[table, heat] = _Gave(gave.deal, tuple(seats))

    def _left_of(self, table: int, heat: int) -> Iterator[SeatKey]:
        for one in self._played[table, heat]:
            key = SeatKey(table, heat, one.seat)
            if one.person and key not in self._looked:
                yield key


def deal_of(heat: SavedHeat, table: TableRecord) -> str:
    """Return what heats with the same wall have in common; the wall cannot be derived from it."""
    return heat.commitment if not any(heat.contributions) else f"{heat.commitment} {table.id}"


def _elsewhere(heat: SeatHeat) -> Elsewhere:
    return Elsewhere(
        table=heat.table,
        name=heat.names[heat.seat],
        total_ms=sum(step.spent_ms for step in heat.steps if step.step != "plan"),
        gave=tuple(
            Gave(step=step.step, given=step.given, blind=step.blind, spent_ms=step.spent_ms)
            for step in heat.steps
            if step.given or step.blind
        ),
    )
