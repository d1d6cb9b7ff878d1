"""The heats of a table that have ended: whose they were, who is told them, and what everybody sees of them."""

from collections.abc import Callable, Iterable

from server.kept import KeptHeat
from server.records import Sat, TableRecord, each
from server.table.output import Built, Output
from server.table.retelling import Frames, Retelling
from server.table.running import RunningHeat
from server.table.walling import WallTable
from shared.rules.heat import SavedHeat, condensed, final_state, sealed
from shared.rules.refusals import Refusal
from shared.rules.seat_heat import seat_heat
from shared.rules.seats import seat_of
from shared.rules.wall import commitment
from shared.wire.messages import TO_CLIENT, HeatFile, OwnHeat
from shared.wire.views import HeatResult, heat_result

SAT_KEPT = 64
"""Of how many heats a table remembers who played them, more than a set has."""


class EndedHeats(WallTable):
    """A table that remembers the heats of its set."""

    def __init__(self, record: TableRecord, random_bytes: Callable[[int], bytes], is_laid: bool) -> None:
        super().__init__(record, random_bytes, is_laid)
        self._heat: RunningHeat | None = None
        self._finished: tuple[KeptHeat, ...] = ()
        self._results: dict[tuple[int, bool], HeatResult] = {}
        self._frames, self._retelling = Frames(), Retelling()

    # ---- whose they are

    def _note_who_sits(self, heat: int) -> None:
        sat = Sat(heat=heat, people=each(lambda chair: self._record.chairs[chair].person))
        self._record = self._record.knowing(*sat.people).with_(sat=(*self._record.sat[-SAT_KEPT:], sat))

    def _note_who_came(self, chair: int) -> None:
        """Take note that somebody who came to a running heat sees a rack of its deal."""
        if self._heat:
            *before, last = self._record.sat
            person = self._record.chairs[chair].person
            came = last.model_copy(update={"came": (*last.came, (chair, person))})
            self._record = self._record.knowing(person).with_(sat=(*before, came))

    def _saved(self, heat: RunningHeat) -> SavedHeat:
        """Return a heat that is over as the file that is kept and told."""
        head, record = heat.head, self._record
        unsealed = SavedHeat(
            table=record.name,
            number=head.number,
            played_at=head.played_at,
            settings=head.settings,
            names=head.names,
            sitters=head.sitters,
            players=record.sat[-1].played,
            east=head.east,
            card=record.card,
            card_title=record.card_title,
            card_digest=record.card_digest,
            commitment="" if self._is_laid else commitment(head.secret),
            secret=head.secret,
            contributions=head.contributions,
            wall=head.wall,
            attempts=head.attempts,
            table_id=record.id,
            events=condensed(heat.events),
        )
        return sealed(unsealed)

    # ---- telling them

    def _tell_all(self, kept: KeptHeat, out: Output) -> None:
        self._tell_heat(sorted(self._connected), kept, out)

    def _tell_heat(self, chairs: Iterable[int], kept: KeptHeat, out: Output) -> None:
        """Tell people the heats they sat in, and the whole of those that are open to all."""
        for chair in chairs:
            if self._own_chair(chair, kept) is not None:
                self._tell_own(chair, kept, out)
            if self._is_open(kept):
                self._tell_whole(chair, kept, out)

    def _tell_own(self, chair: int, kept: KeptHeat, out: Output) -> None:
        own, record = self._own_chair(chair, kept), self._record
        if own is None:
            return

        def build() -> dict[tuple[int, int], bytes]:
            heat = kept.heat()
            state = final_state(heat)
            people = {player.person for players in heat.players for player in players} | {person}
            lived = {
                (at, one): seat_heat(heat, state, seat_of(at, heat.east), one)
                for at in range(4)
                for one in people
                if (at, one) == (own, person) or any(player.person == one for player in heat.players[at])
            }
            return {key: TO_CLIENT.pack(OwnHeat(heat=life)) for key, life in lived.items()}

        person = record.number_of(record.chairs[chair].person)
        out.messages.append((chair, Built(self._frames.get(kept.number, (own, person), build))))

    def _own_chair(self, chair: int, kept: KeptHeat) -> int | None:
        """Return the chair whose heat is that of the person who sits on a chair now; None if it was not theirs.

        A heat that somebody else has finished on their seat is theirs once it is open to all, and not before.
        """
        seated, sat = self._record.chairs[chair], self._record.sat_in(kept.number)
        if sat is None:  # kept by an older host, where nobody changed chairs
            return chair if kept.number >= seated.since else None
        number = self._record.number_of(seated.person)
        own = sat.own_chair(seated.person, number)
        if own is None or self._is_open(kept) or not sat.played[own]:
            return own
        return own if sat.played[own][-1].person in (0, number) else None

    def _tell_whole(self, chair: int, kept: KeptHeat, out: Output) -> None:
        out.messages.append((chair, HeatFile(number=kept.number, data=kept.data)))

    def _tell_owed(self, now_ms: int, out: Output) -> None:
        """Tell those who came back what they lack of the finished heats, no faster than is allowed."""
        finished = {kept.number: kept for kept in self._finished}
        for chair in sorted(self._connected):
            while owed := self._retelling.take(chair, now_ms):
                if (kept := finished.get(owed.heat)) is None:
                    continue
                if not owed.whole:
                    self._tell_own(chair, kept, out)
                elif self._is_open(kept):
                    self._tell_whole(chair, kept, out)

    def _is_open(self, heat: KeptHeat) -> bool:
        """Racks and secret are told at a heat's end, or, where the host keeps racks closed, at the set's."""
        return heat.settings.open_racks or self._record.phase == "over"

    def _result(self, kept: KeptHeat) -> HeatResult:
        key = (kept.number, self._is_open(kept))
        if key not in self._results:
            heat = kept.heat()
            self._results[key] = heat_result(heat, final_state(heat), self._is_open(kept))
        return self._results[key]

    def _move(self, chair: int, to: int, out: Output) -> Refusal | None:
        refusal = super()._move(chair, to, out)
        ways = {chair: to, to: chair} if out.moved else {}
        self._retelling.owed = each(lambda one: self._retelling.owed[ways.get(one, one)])
        return refusal
