"""A table with real tiles: the shared clock of the people around it, each of whom has a machine of their own.

Synchronous and kept like any table (see seating). No tile is known here, no bot plays and nobody is timed out: the
rules are those of shared.clock.group_clock, and what there is to store is in the record. A chair whose stand_in is set
has no bot; the others go on without its person.
"""

from collections.abc import Callable, Iterable

from server.kept import KeptHeat
from server.records import EMPTY, Chair, TableRecord, each
from server.table.output import Output
from server.table.seating import ALL_CHAIRS, Seating
from shared.clock.group_clock import GroupClock
from shared.clock.real_clock import Phase, RealClock, RealHeat, real_tiles_heat
from shared.rules.events import AnyEvent
from shared.rules.intents import (
    GoWithout,
    Intent,
    Leave,
    NewSet,
    NotReady,
    Pause,
    Ready,
    Resume,
    SeatIntent,
    SitAt,
    StepDone,
    TakeBack,
)
from shared.rules.refusals import Refusal
from shared.rules.steps import StepName
from shared.wire.group_views import GroupResult, GroupView, PlaceView, Stand
from shared.wire.messages import Command, Held, OwnTimes

_PHASES: dict[Phase, str] = {"ready": "seating", "step": "heat", "set-up": "between", "over": "over"}
"""What the record calls the phases of the clock."""


class SharedClockTable(Seating):
    """Four chairs and one clock; wall_time() is an RFC 3339 stamp for the heats."""

    def __init__(self, record: TableRecord, random_bytes: Callable[[int], bytes], wall_time: Callable[[], str]) -> None:
        super().__init__(record, random_bytes)
        self._wall_time = wall_time
        if not record.clock:
            self._record = record.with_(clock=GroupClock(clock=RealClock(settings=record.settings)))

    @property
    def clock(self) -> GroupClock:
        """The clock as it stands."""
        assert self._record.clock is not None
        return self._record.clock

    # ---- what the shell asks

    def restore(self, events: tuple[AnyEvent, ...], finished: tuple[KeptHeat, ...], now_ms: int) -> Output:
        """Restore the clock from disk; it is paused, and the time in between is charged to nobody."""
        self._keep(self.clock.restored(now_ms), now_ms)
        self._host_lost_ms = now_ms
        return self._told(Output())

    def tick(self, now_ms: int) -> Output:
        """End no step: time alone does not. But somebody else may keep the clock if its host is away for long."""
        return self._told(Output()) if self._host_tick(now_ms) else Output()

    def thought(self, chair: int, heat: int, step: StepName, intent: SeatIntent, now_ms: int) -> Output:
        """Do nothing: no bot plays here."""
        return Output()

    def stalled(self, by_ms: int, now_ms: int) -> Output:
        """Give a stall of the machine back to everybody."""
        if self._record.phase not in ("heat", "between"):
            return Output()
        self._keep(self.clock.forgiven(by_ms), now_ms)
        return self._told(Output())

    def next_deadline_ms(self) -> int | None:
        """Return when somebody else may keep the clock; a clock that runs below zero needs no look."""
        return self._host_due_ms()

    @property
    def _may_regain(self) -> bool:
        return False

    def view(self, chair: int, now_ms: int) -> GroupView:
        """Return what a chair sees now."""
        record, clock = self._record, self.clock
        face = clock.clock.face(now_ms)
        is_host = self._host_now() == chair
        return GroupView(
            revision=self._revisions[chair],
            table=record.name,
            you=clock.places[chair],
            host=is_host,
            code=record.code if is_host and record.host == chair else "",
            settings=record.settings,
            phase=face.phase,
            paused=face.paused,
            heat=face.heat,
            heat_number=record.number,
            east=face.east,
            step=face.step,
            following=face.following,
            places=each(lambda place: self._place(clock.places.index(place + 1), now_ms)),
            heat_ms=face.heat_ms,
            heat_length_ms=face.heat_length_ms,
            setup_ms=face.setup_ms,
            results=tuple(self._result(heat) for heat in clock.finished),
        )

    # ---- what people ask

    def _obey(self, chair: int, command: Command, now_ms: int, out: Output) -> Refusal | None:
        intent, clock = command.intent, self.clock
        match intent:
            case StepDone() | TakeBack() if command.heat != self._record.number:
                return Refusal("other heat", f"This was meant for heat {command.heat}, which is not running.")
            case StepDone(step=step, says_no=says_no):
                return self._keep(clock.done(chair, step, says_no, now_ms), now_ms, out)
            case TakeBack(step=step):
                return self._keep(clock.back(chair, step), now_ms, out)
            case SitAt(place=place):
                return self._keep(clock.moved(chair, place), now_ms, out)
            case Ready() | NotReady():
                return self._get_ready(chair, intent, now_ms, out)
            case Leave():
                self._leave(chair, now_ms, out)
                return None
            case GoWithout() | Pause() | Resume() | NewSet():
                if self._host_now() != chair:
                    return Refusal("host only", "Only the host of the clock can do this.")
                return self._host(intent, now_ms, out)
        return Refusal("not now", "The tiles are real; this table only keeps the clock.")

    def _get_ready(self, chair: int, intent: Ready | NotReady, now_ms: int, out: Output) -> Refusal | None:
        if self._record.phase not in ("seating", "between"):
            return Refusal("not now", "There is no heat to get ready for now.")
        if self.clock.is_paused:
            return Refusal("paused", "The clock is paused; wait until the host goes on.")
        self._change(chair, ready=isinstance(intent, Ready))
        self._go_on(now_ms, out)
        return None

    def _leave(self, chair: int, now_ms: int, out: Output) -> None:
        """A person who leaves during a heat keeps the chair until it ends, but nobody waits for them."""
        if self.clock.running:
            self._change(chair, stand_in=True, left=True)
        else:
            self._vacate(chair)
        self._say_goodbye(chair, out)
        self._go_on(now_ms, out)

    def _host(self, intent: Intent, now_ms: int, out: Output) -> Refusal | None:
        clock = self.clock
        match intent:
            case GoWithout():
                away = [chair for chair in ALL_CHAIRS if self._is_away(chair)]
                if not away:
                    return Refusal("not now", "Everyone we are waiting for is connected.")
                for chair in away:
                    self._change(chair, stand_in=True)
                self._go_on(now_ms, out)
            case Pause() | Resume():
                if clock.is_paused == isinstance(intent, Pause):
                    return Refusal("not now", f"The clock is {'paused' if clock.is_paused else 'running'} already.")
                if not clock.is_paused and self._record.phase not in ("heat", "between"):
                    return Refusal("not now", "There is nothing to pause.")
                self._keep(clock.pause(now_ms), now_ms, out)
            case NewSet():
                if self._record.phase != "over":
                    return Refusal("not now", "A new set begins after the last heat.")
                self._record = self._record.with_(set_first=self._record.number + 1)
                self._keep(clock.anew(), now_ms, out)
        return None

    # ---- the clock

    def _keep(self, clock: GroupClock | Refusal, now_ms: int, out: Output | None = None) -> Refusal | None:
        """Take the clock as it is now, unless it was refused; with an output, whatever was waited for happens."""
        if isinstance(clock, Refusal):
            return clock
        face = clock.clock.face(now_ms)
        begun = face.heat - (face.phase in ("ready", "set-up"))
        number = self._record.set_first - 1 + begun
        self._record = self._record.with_(clock=clock, phase=_PHASES[face.phase], number=number)
        if out:
            self._go_on(now_ms, out)
        return None

    def _go_on(self, now_ms: int, out: Output) -> None:
        """End the running step, or begin the next heat, if nobody is waited for any more."""
        clock = self.clock
        present = each(lambda chair: self._record.chairs[chair].is_present)
        if clock.running:
            self._keep(clock.settled(present, now_ms), now_ms)
            if not self.clock.running:
                self._end_heat(out)
        elif self._record.phase != "over" and not clock.is_paused and self._all_are_ready():
            self._keep(clock.begin(present, now_ms, self._wall_time()), now_ms)
            for chair in ALL_CHAIRS:
                self._change(chair, ready=False)

    def _all_are_ready(self) -> bool:
        people = [chair for chair in self._record.chairs if chair.is_present]
        return bool(people) and all(chair.ready for chair in people)

    def _end_heat(self, out: Output) -> None:
        number = self.clock.finished[-1].number
        for chair in ALL_CHAIRS:
            if self._record.chairs[chair].left:
                self._vacate(chair)
            elif chair in self._connected and (own := _heat(self.clock.heats[chair], number)):
                self._tell(chair, own, out)

    def _tell(self, chair: int, heat: RealHeat, out: Output) -> None:
        record = self._record
        told = real_tiles_heat(f"{record.id} {record.set_first} {heat.number}", heat, record.settings)
        out.messages.append((chair, OwnTimes(heat=told)))

    # ---- chairs

    def _first_heat(self) -> int:
        return self._record.number + 1

    def _free_chair(self, token_hash: bytes) -> int | None:
        """Return the first empty chair, else the first whose person is away and not waited for."""
        chairs = self._record.chairs
        away = [chair for chair in ALL_CHAIRS if chairs[chair].stand_in and chair not in self._connected]
        return next((chair for chair in ALL_CHAIRS if chairs[chair].sitter == "nobody"), away[0] if away else None)

    def _arrived(self, chair: int, is_new: bool, held: Held, now_ms: int, out: Output) -> None:
        if is_new:
            self._record = self._record.with_(clock=self.clock.vacated(chair))
        for heat in self.clock.heats[chair]:
            if heat.number not in held.own:
                self._tell(chair, heat, out)

    def _vacate(self, chair: int) -> None:
        self._record = self._record.with_chair(chair, EMPTY).with_(clock=self.clock.vacated(chair))

    def _is_away(self, chair: int) -> bool:
        return self._record.chairs[chair].is_present and chair not in self._connected

    # ---- what is seen

    def _place(self, chair: int, now_ms: int) -> PlaceView:
        seated, mark = self._record.chairs[chair], self.clock.marks[chair]
        had_ms, spent_ms = self.clock.times_ms(chair, now_ms)
        return PlaceView(
            name=seated.name,
            stand=self._stand(chair, seated),
            connected=chair in self._connected,
            host=self._host_now() == chair,
            left_ms=had_ms - spent_ms,
            budget_ms=had_ms,
            says_no=mark is not None and mark.says_no,
        )

    def _stand(self, chair: int, seated: Chair) -> Stand:
        clock = self.clock
        if seated.sitter == "nobody":
            return "free"
        if clock.running and clock.marks[chair]:
            return "done"
        if seated.stand_in:
            return "not waited for"
        if clock.running:
            return "thinking" if clock.playing[chair] else "next heat"
        return "ready" if seated.ready else "not ready"

    def _result(self, heat: RealHeat) -> GroupResult:
        clock = self.clock
        owns = each(lambda place: _heat(clock.heats[clock.places.index(place + 1)], heat.number))
        return GroupResult(
            number=heat.number,
            length_ms=sum(step.length_ms for step in heat.steps if step.step != "plan"),
            table_ms=heat.total_ms,
            places_ms=each(lambda place: own.total_ms if (own := owns[place]) else None),
        )


def _heat(heats: Iterable[RealHeat], number: int) -> RealHeat | None:
    return next((heat for heat in heats if heat.number == number), None)
