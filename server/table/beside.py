"""Who is beside a table, without a chair: people who came when every chair was taken, or who only want to look.

They see what is open to all. A rack is shown to them only while the host lets this one of them see racks, and its
player agrees; everybody at the table sees before who is there. That a rack was shown is on the disk before it is: who
sits down after that plays from the next heat on, whoever they are, since nobody can tell a stranger from a watcher who
came back under another name. Places beside the table are counted on from the chairs.
"""

from collections.abc import Iterable

from server.kept import KeptHeat
from server.records import Beside, Chair, TableRecord, each, hash_token
from server.table.chairs import away_chair
from server.table.ended import EndedHeats
from server.table.output import Joined, Output, Rejected
from server.table.running import RunningHeat
from server.table.seating import ALL_CHAIRS, TOKEN_BYTES, Checkpoint
from shared.names import clean_name, own_name
from shared.rules.intents import MOST_BESIDE, Leave, LetSee, SendOff
from shared.rules.refusals import Refusal
from shared.rules.seats import Seat, seat_of
from shared.rules.tiles import Rack
from shared.wire.club_views import ChairShown, ClubView, HeatShown, TableShown, TimeShown, WaitingShown
from shared.wire.messages import NOTHING_HELD, Close, Command, Done, Refused
from shared.wire.views import BesideView, HeatResult, seat_view

_HOST_AWAY = (
    "Your seat is kept here. Only the host can let this machine have it, and is away; we try again until then."
    " If you are somebody else, come in under another name."
)
_PLACES = range(len(ALL_CHAIRS), len(ALL_CHAIRS) + MOST_BESIDE)


class BesideTable(EndedHeats):
    """A table with people beside it. _here are the places whose line is up; all of them count their views together."""

    _here: frozenset[int] = frozenset()
    _shown_to_them = 0

    # ---- what is known

    @property
    def heat(self) -> RunningHeat | None:
        """The running heat."""
        return self._heat

    @property
    def finished(self) -> tuple[KeptHeat, ...]:
        """The heats of this set that have ended."""
        return self._finished

    @property
    def connected(self) -> frozenset[int]:
        """The chairs whose line is up."""
        return frozenset(self._connected)

    def results(self) -> tuple[HeatResult, ...]:
        """Return the heats of this set that have ended, as everybody sees them."""
        return tuple(self._result(heat) for heat in self._finished)

    def agrees(self, chair: int) -> bool:
        """Say whether a chair's rack may be seen by those whom the host lets see racks."""
        return self._lets_see() and self._record.chairs[chair].shows

    def _lets_see(self) -> bool:
        """Whether the host lets anybody see racks."""
        return any(one.sees for one in self._record.beside)

    def knows(self, token_hash: bytes) -> bool:
        """Say whether the token with this hash belongs to somebody here."""
        return super().knows(token_hash) or self._beside(token_hash) is not None

    def _beside(self, token_hash: bytes) -> Beside | None:
        return next((one for one in self._record.beside if one.token_hash == token_hash), None)

    def _at(self, place: int) -> Beside | None:
        return next((one for one in self._record.beside if one.place == place), None)

    # ---- who comes and goes

    def watch(self, name: str, token: bytes | None, crowded: str = "", waits: bool = False) -> Joined | Rejected:
        """Give a client a place beside the table; a token that has one keeps it, and its place in line."""
        token = token or self._random_bytes(TOKEN_BYTES)
        token_hash = hash_token(token)
        if token_hash in self._record.sent_away:
            return Rejected(Close.SENT_AWAY, "The host has sent you away for this evening.")
        one = self._beside(token_hash)
        if one is None:
            if waits and away_chair(self._record, name, self._connected) is not None:
                return Rejected(Close.ASKED_HOST, _HOST_AWAY)
            if crowded:
                return Rejected(Close.TABLE_FULL, crowded)
            place = self._free_place()
            if place is None:
                return Rejected(Close.TABLE_FULL, f"Every chair is taken, and {MOST_BESIDE} people watch already.")
            one = Beside(token_hash=token_hash, name=self._own_name(name, place), place=place, waits=waits)
            self._record = self._record.with_(beside=(*self._record.beside, one))
        elif one.waits != waits:
            self._replace(one, waits=waits)
        self._here |= {one.place}
        return Joined(one.place, token, 0, self._told(Output()))

    def _free_place(self) -> int | None:
        """Return a place for a newcomer; where none is free, that of the first in line who is away."""
        taken = {one.place for one in self._record.beside}
        if free := [place for place in _PLACES if place not in taken]:
            return free[0]
        gone = next((one for one in self._record.beside if one.place not in self._here), None)
        if gone is None:
            return None
        self._drop(gone)
        return gone.place

    def _own_name(self, text: str, place: int) -> str:
        """Return a clean name that cannot be taken for another one's at the table or beside it."""
        others = [one.name for one in self._record.chairs] + [one.name for one in self._record.beside]
        return own_name(clean_name(text, "Guest"), others, place + 1)

    def _drop(self, one: Beside) -> None:
        self._record = self._record.with_(beside=tuple(other for other in self._record.beside if other != one))
        self._here -= {one.place}

    def _replace(self, one: Beside, **changes: object) -> None:
        new = one.model_copy(update=changes)
        self._record = self._record.with_(beside=tuple(new if other == one else other for other in self._record.beside))

    def disconnected(self, chair: int, now_ms: int) -> Output:
        """The line to a chair, or to a place beside the table, is cut."""
        self._here -= {chair}
        return super().disconnected(chair, now_ms)

    def go_back(self, checkpoint: Checkpoint, connected: Iterable[int]) -> None:
        """Undo everything since the checkpoint, but for the lines: these chairs and places are connected now."""
        super().go_back(checkpoint, connected)
        self._here = frozenset(place for place in connected if place in _PLACES)

    def _leaves_line(self, chair: int) -> None:
        """Whoever has a chair now waits no more."""
        if one := self._beside(self._record.chairs[chair].token_hash):
            self._drop(one)

    # ---- the next free chair

    def _free_chair(self, token_hash: bytes) -> int | None:
        chair, person = super()._free_chair(token_hash), Chair(sitter="person", token_hash=token_hash).person
        seen = self._record.sat[-1].chairs(person) if self._heat else frozenset[int]()
        return None if seen - {chair} else chair  # nobody sees two racks of one deal

    def _waits_for_next(self, chair: int) -> bool:
        """Whether a person came too late for the running heat."""
        is_late = self._heat is not None and self._record.chairs[chair].since > self._record.number
        return is_late and (self._record.settings.late == "next heat" or self._was_shown)

    def _comes_back(self, chair: int) -> None:
        self._change(chair, stand_in=self._waits_for_next(chair), left=False)

    def _next_in_line(self) -> tuple[Beside, int] | None:
        """Return who of those that wait gets a chair now, and which."""
        for one in self._record.beside:
            if one.waits and one.place in self._here and (chair := self._free_chair(one.token_hash)) is not None:
                return one, chair
        return None

    def _seat_from_line(self, now_ms: int, out: Output) -> bool:
        """Seat those who have waited the longest, as long as a chair is free; say whether somebody was seated."""
        while found := self._next_in_line():
            one, chair = found
            self._drop(one)
            self._take_chair(chair, one.name, one.token_hash)
            self._sits(chair, True, NOTHING_HELD, now_ms, out)
            out.moved = (*out.moved, (one.place, chair))
        return bool(out.moved)

    # ---- what is asked

    def command(self, chair: int, command: Command, now_ms: int) -> Output:
        """Carry out a command; who is beside the table can only go."""
        if chair in ALL_CHAIRS:
            return super().command(chair, command, now_ms)
        out, one = Output(), self._at(chair)
        if not isinstance(command.intent, Leave) or one is None:
            text = "You have no chair here."
            out.messages.append((chair, Refused(id=command.id, code="not now", text=text, late_ms=None)))
            return out
        out.messages.append((chair, Done(id=command.id)))
        return self._told(self._goes(one, Close.TABLE_CLOSED, "You have left the table.", out))

    def _goes(self, one: Beside, close: Close, text: str, out: Output) -> Output:
        out.closing.append((one.place, close, text))
        self._drop(one)
        return out

    def _arrange_beside(self, intent: LetSee | SendOff, out: Output) -> Refusal | None:
        """Do what the host wants of somebody beside the table."""
        if (one := self._at(intent.place)) is None:
            return Refusal("no such person", "This person is not here any more.")
        if isinstance(intent, LetSee):
            self._replace(one, sees=intent.on)
            self._ask_anew()
        else:
            self._sent_away(one.token_hash)
            self._goes(one, Close.SENT_AWAY, "The host has sent you away for this evening.", out)
        return None

    def _ask_anew(self) -> None:
        """Whoever agreed to show their rack agreed for other eyes."""
        for chair in ALL_CHAIRS:
            self._change(chair, shows=False)

    # ---- what is shown

    def _told(self, out: Output, chairs: tuple[int, ...] = ALL_CHAIRS) -> Output:
        super()._told(out, chairs)
        if chairs == ALL_CHAIRS and self._here:
            self._shown_to_them += 1
            out.changed = (*chairs, *sorted(self._here))
            if self._heat and any(self._is_seen(chair) for chair in ALL_CHAIRS):
                self._record = self._noted(self._heat.head.number)
        return out

    def _noted(self, heat: int) -> TableRecord:
        return self._record if self._record.shown == heat else self._record.with_(shown=heat)

    def _is_seen(self, chair: int) -> bool:
        """Whether somebody beside the table is shown a chair's rack."""
        is_agreed = self._record.chairs[chair].shows and self._record.chairs[chair].is_present
        return is_agreed and any(one.sees and one.place in self._here for one in self._record.beside)

    @property
    def _was_shown(self) -> bool:
        """Whether somebody beside the table was shown a rack of the running heat."""
        return self._heat is not None and self._record.shown == self._heat.head.number

    def _everybody_beside(self) -> tuple[BesideView, ...]:
        return tuple(
            BesideView(
                place=one.place, name=one.name, connected=one.place in self._here, waits=one.waits, sees=one.sees
            )
            for one in self._record.beside
        )

    def view_from(self, place: int, now_ms: int) -> ClubView:
        """Return what somebody beside the table may see."""
        record, one = self._record, self._at(place)
        sees = one is not None and one.sees and self._was_shown
        return ClubView(
            revision=self._shown_to_them,
            name=record.name,
            role="waiting" if one is not None and one.waits else "watcher",
            over=False,
            starts_in_ms=None,
            settings=record.settings.unseeded(),
            teacher=one is not None and one.sees,
            tables=(self.shown(1, now_ms, with_racks=sees, with_answers=True),),
            waiting=tuple(
                WaitingShown(name=other.name, connected=other.place in self._here)
                for other in record.beside
                if other.waits
            ),
            one_table=True,
        )

    def shown(
        self,
        number: int,
        now_ms: int,
        with_racks: bool = False,
        with_people: bool = False,
        with_answers: bool = False,
    ) -> TableShown:
        """Return the table as those see it who have no chair of it, built field by field from what they may see.
        with_racks: the racks of those who agreed are put in; with_people: the keys of people too, for a desk;
        with_answers: what its players are told of each other's votes and offers. An evening's watchers are not told
        them: where a deal is shared they may still come to play it."""
        record, heat = self._record, self._heat
        return TableShown(
            number=number,
            name=record.name,
            phase=record.phase,
            heat_number=record.number,
            heats=record.settings.heats,
            step=heat.state.step if heat else None,
            paused=heat.state.paused if heat else False,
            chairs=each(lambda chair: self._chair_shown(chair, now_ms, with_racks, with_people, with_answers)),
            results=tuple(self._heat_shown(kept) for kept in self._finished),
        )

    def _chair_shown(
        self, chair: int, now_ms: int, with_racks: bool, with_people: bool, with_answers: bool
    ) -> ChairShown:
        seated, heat = self._record.chairs[chair], self._heat
        seat = seat_of(chair, heat.head.east) if heat else None
        clock = heat.state.clocks[seat] if heat and seat is not None else None
        told = seat_view(heat.state, seat, chair) if heat and seat is not None else None
        answers = told if with_answers else None
        shows = self.agrees(chair) and seated.is_present
        return ChairShown(
            name=seated.name,
            sitter="bot" if seated.stand_in else seated.sitter,
            connected=chair in self._connected,
            ready=seated.ready,
            owes=told.owes if told else False,
            answered=told.answered if told else False,
            left_ms=clock.left(heat.time_ms(now_ms)) if heat and clock else 0,
            running=clock.since_ms is not None if clock else False,
            shows=shows,
            person=seated.person if with_people and not seated.left else "",
            asks=with_people and self._is_asked_for(chair),
            rack=_rack(heat, seat) if with_racks and shows and heat and seat is not None else (),
            vote=answers.vote if answers else None,
            offer=answers.offer if answers else None,
            side=answers.side if answers else None,
            side_offer=answers.side_offer if answers else None,
        )

    def _heat_shown(self, kept: KeptHeat) -> HeatShown:
        by_chair = {seat.chair: seat for seat in self._result(kept).seats}

        def time(chair: int) -> TimeShown:
            seat = by_chair[chair]
            return TimeShown(
                name=kept.names[chair],
                total_ms=seat.total_ms,
                timeouts=sum(step.by == "timeout" for step in seat.spent),
                bot=any(step.by == "bot" for step in seat.spent),
            )

        return HeatShown(number=kept.number, chairs=each(time))


def _rack(heat: RunningHeat, seat: Seat) -> Rack:
    """Return a seat's rack, or nothing while all racks are covered."""
    return () if heat.state.paused else heat.state.racks[seat]
