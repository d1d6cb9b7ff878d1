"""One table: who sits where, the heats one after the other, and what everybody is told.

Synchronous: messages and times go in, an Output comes out, and next_deadline_ms says when to call tick. No
socket, thread, clock or dice lives here; random bytes and the moment come in as arguments, and a test can let
an evening pass at once. Chairs, lines and commands that count once are in server.table.seating.
"""

from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import partial

from server.kept import KeptHeat
from server.net.codes import make_code
from server.records import EMPTY, TableRecord, each
from server.table import bots
from server.table.beside import BesideTable
from server.table.chairs import bot_chair, east_chair, heat_head, with_played
from server.table.coaches import Think, thinker
from server.table.output import Output, Thought
from server.table.retelling import Owed
from server.table.running import RunningHeat
from server.table.seating import ALL_CHAIRS, Checkpoint
from server.table.walling import BEING_MADE
from shared.cards import play
from shared.cards.owned import is_copy
from shared.rules import charleston
from shared.rules.drills import Laid
from shared.rules.events import AnyEvent, DeadlinesMoved
from shared.rules.heat import Complete
from shared.rules.intents import (
    ChangeSettings,
    ClockIntent,
    Extend,
    FreeChair,
    Hurry,
    Leave,
    LetIn,
    LetSee,
    MoveTo,
    NewCode,
    NewSet,
    NotReady,
    Pause,
    Plan,
    Ready,
    Resume,
    SeatBot,
    SeatIntent,
    SendOff,
    ShowRack,
    Start,
    TableIntent,
    TakeSeat,
    WallHash,
    WallValue,
)
from shared.rules.refusals import SETTINGS_STAND, Refusal
from shared.rules.seats import SEATS, chair_of, seat_of
from shared.rules.steps import StepName
from shared.rules.tiles import Rack
from shared.rules.wall import SECRET_BYTES, Stream, commitment, seeded_secret
from shared.wire.messages import Close, Command, Held
from shared.wire.views import ChairView, View

_KEEPING = (Start, Pause, Resume, SeatBot, NewSet)
"""What somebody may do for a host who is away: only what keeps people playing."""


class Table(BesideTable):
    """A table of four chairs. All moments are milliseconds of one monotonic clock.

    random_bytes(n) gives fresh random bytes, wall_time() an RFC 3339 stamp for saved heats, complete(card, rack)
    says whether a rack is a finished hand, think(view, stream) is what a bot answers (else see coaches). With laid
    heats every heat of a set is a drill, one after the other; nothing is promised before one. own_card is the text of
    a card that its owner does not share: the bots think by it, and nothing of it is recorded or told.
    """

    def __init__(
        self,
        record: TableRecord,
        random_bytes: Callable[[int], bytes],
        wall_time: Callable[[], str],
        complete: Complete = play.complete,
        think: Think | None = None,
        laid: tuple[Laid, ...] = (),
        own_card: str = "",
    ) -> None:
        super().__init__(record, random_bytes, bool(laid))
        self._wall_time = wall_time
        self._complete = complete
        self._think = think
        self._laid = laid
        self._ended: RunningHeat | None = None
        self._restored = False
        self._card = record.card or (own_card if is_copy(own_card, record.card_digest) else "")
        self._keeps_card = bool(record.card_digest) and not record.card
        if self._keeps_card:
            self._complete = _never
        play.variants_of(self._card)  # Reading a card takes a moment, which no clock should lose.
        if not record.secret:
            self._record = record.with_(secret=self._fresh_secret())

    # ---- what the shell asks

    def checkpoint(self) -> Checkpoint:
        """Return what to go back to if an Output could not be stored."""
        return self._record, self._heat, self._finished, self._retelling.owed

    def go_back(self, checkpoint: Checkpoint, connected: Iterable[int]) -> None:
        """Undo everything since the checkpoint, but for the lines: these chairs are connected now."""
        super().go_back(checkpoint, connected)
        _, self._heat, self._finished, self._retelling.owed = checkpoint
        self._results.clear()
        self._frames.clear()

    def restore(self, events: tuple[AnyEvent, ...], finished: tuple[KeptHeat, ...], now_ms: int) -> Output:
        """Take a running heat and the finished heats of this set over from disk; the heat is paused."""
        out = Output()
        self._host_lost_ms = now_ms
        self._finished = tuple(heat for heat in finished if heat.number >= self._record.set_first)
        if self._record.head:
            if self._record.sat_in(self._record.head.number) is None:  # kept by an older host
                self._note_who_sits(self._record.head.number)
            self._heat = RunningHeat.restored(self._record.head, events, now_ms)
            self._restored = True
            out.heat = self._record.head.number
            out.events += self._heat.events[len(events) :]
            self._turns(out, now_ms)
        self._wall_restored(now_ms, out)
        return self._told(out)

    def tick(self, now_ms: int) -> Output:
        """Do what time alone brings about: bots' answers that are due, clocks that ran out, heats told later."""
        out = Output()
        was_seated = self._seat_from_line(now_ms, out)
        while self._heat and (events := self._heat.due(now_ms)):
            self._happen(events, now_ms, out)
        if self._heat:
            self._heat = self._heat.without_refused(now_ms)
        is_kept = self._host_tick(now_ms)
        was_silent = self._wall_tick(now_ms, out)
        self._tell_owed(now_ms, out)
        return self._told(out) if out.events or is_kept or was_silent or was_seated else out

    def thought(self, chair: int, heat: int, step: StepName, intent: SeatIntent, now_ms: int) -> Output:
        """Take a bot's decision; it is played when its time has come."""
        running = self._heat
        if running and running.head.number == heat:
            seat = seat_of(chair, running.head.east)
            turn = running.turns.get(seat)
            if turn and turn.step == step:
                turns = {**running.turns, seat: replace(turn, intent=self._told_of(intent))}
                self._heat = replace(running, turns=turns)
        return self.tick(now_ms)

    def stalled(self, by_ms: int, now_ms: int) -> Output:
        """The machine stood still for so long: give the time back to every running clock."""
        out = Output()
        self._silent_at_ms += by_ms
        if self._heat and (events := self._heat.stalled(by_ms)):
            self._happen(events, now_ms, out)
            return self._told(out)
        return out

    def next_deadline_ms(self) -> int | None:
        """Return when tick has something to do, or None while nothing is timed."""
        heat_ms = self._heat.next_deadline_ms() if self._heat else None
        own_ms = self._retelling.next_ms(self._connected)
        times_ms = (heat_ms, self._host_due_ms(), self._wall_due_ms(), own_ms, 0 if self._next_in_line() else None)
        return min((at_ms for at_ms in times_ms if at_ms is not None), default=None)

    def view(self, chair: int, now_ms: int) -> View:
        """Return all that a chair may see now."""
        record, head = self._record, self._heat.head if self._heat else None
        running = self._heat.view(chair, now_ms) if self._heat else None
        is_kept_by = self._host_now() == chair
        is_host = is_kept_by and record.host == chair
        return View(
            revision=self._revisions[chair],
            table=record.name,
            phase=record.phase,
            you=chair,
            person=record.number_of(record.chairs[chair].person),
            host=is_host,
            keeps=is_kept_by and not is_host,
            code=record.code if is_host else "",
            settings=record.settings if is_host else record.settings.unseeded(),
            played=record.played,
            restored=self._restored,
            chairs=each(self._chair_view),
            heat_number=record.number,
            east=head.east if head else east_chair(record),
            commitment="" if self._laid else commitment(head.secret if head else record.secret),
            wall=self._wall_view(),
            heat=running,
            results=self.results(),
            beside=self._everybody_beside(),
        )

    # ---- what people ask

    def _obey(self, chair: int, command: Command, now_ms: int, out: Output) -> Refusal | None:
        intent = command.intent
        if isinstance(intent, ClockIntent):
            return Refusal("not now", "That belongs to a clock for real tiles; here the program deals.")
        if not isinstance(intent, SeatIntent):
            return self._arrange_table(chair, intent, now_ms, out)
        # Who is too late for the last step of all still hears by how much.
        heats = (self._heat, self._ended)
        heat = next((heat for heat in heats if heat and heat.head.number == command.heat), None)
        if heat is None:
            return Refusal("other heat", f"This was meant for heat {command.heat}, which is not running.")
        if self._record.chairs[chair].stand_in:
            return Refusal("out of turn", "A bot plays this seat; take it back first.")
        answer = heat.decide(seat_of(chair, heat.head.east), self._told_of(intent), now_ms, by_bot=False)
        if isinstance(answer, Refusal):
            return answer
        self._happen(answer, now_ms, out)
        while self._heat and self._heat.nobody_waits and (events := self._heat.due(now_ms)):
            self._happen(events, now_ms, out)  # with the answer itself, so that the disk is waited for once
        return None

    def _told_of(self, intent: SeatIntent) -> SeatIntent:
        """Return an intent as it may be kept: where the card stays its owner's, a plan names no hand."""
        return intent.model_copy(update={"hand": ""}) if self._keeps_card and isinstance(intent, Plan) else intent

    def _arrange_table(self, chair: int, intent: TableIntent, now_ms: int, out: Output) -> Refusal | None:
        record, own = self._record, self._record.chairs[chair]
        match intent:
            case Ready() | NotReady():
                if record.phase not in ("seating", "between"):
                    return Refusal("not now", "There is no heat to be ready for now.")
                if record.round:
                    return BEING_MADE
                self._change(chair, ready=isinstance(intent, Ready))
                if isinstance(intent, Ready) and self._all_are_ready:
                    self._make_wall(now_ms, out)
            case WallHash() | WallValue():
                return self._take_part(chair, intent, now_ms, out)
            case Hurry():
                if not self._heat or not self._heat.turns:
                    return Refusal("not now", "No bot owes an answer now.")
                self._heat = self._heat.hurried(now_ms)
            case Leave():
                self._leave(chair, now_ms, out)
            case TakeSeat():
                if not own.stand_in:
                    return Refusal("not now", "You already play your own seat.")
                if self._waits_for_next(chair):
                    return Refusal("not now", "Here you play from the next heat on.")
                self._change(chair, stand_in=False)
                self._drop_turn(chair)
            case MoveTo():
                if record.round:
                    return BEING_MADE
                if self._heat:
                    return Refusal("not now", "Chairs are changed between heats.")
                return self._move(chair, intent.chair, out)
            case ShowRack():
                if not self._lets_see():
                    return Refusal("not now", "The host lets nobody see racks here.")
                self._change(chair, shows=intent.on)
            case ChangeSettings() if self._heat and record.host == chair:
                return SETTINGS_STAND
            case _:
                if self._host_now() != chair:
                    return Refusal("host only", "Only the host of the table can do this.")
                if record.host != chair and not isinstance(intent, _KEEPING):
                    return Refusal("host only", "The host is away; until then you can only keep the heats going.")
                return self._host(intent, chair, now_ms, out)
        return None

    def _host(self, intent: TableIntent, host: int, now_ms: int, out: Output) -> Refusal | None:
        record, heat = self._record, self._heat
        if record.round:
            return BEING_MADE
        match intent:
            case Start():
                if record.phase not in ("seating", "between"):
                    return Refusal("not now", "No heat can start now.")
                self._make_wall(now_ms, out)
            case NewSet():
                if record.phase not in ("between", "over"):
                    return Refusal("not now", "A new set begins when no heat is running.")
                self._record = record.with_(phase="over")
                for ended in self._finished if record.phase == "between" else ():
                    if not ended.settings.open_racks:
                        self._tell_all(ended, out)
                self._finished = ()
                self._results.clear()
                self._frames.clear()
                self._record = record.with_(phase="seating", set_first=record.number + 1)
                self._record = self._record.with_(secret=self._fresh_secret())
                for chair in range(4):
                    self._change(chair, silences=0)
            case ChangeSettings():
                self._record = record.with_(settings=intent.settings)
                if not heat:
                    self._record = self._record.with_(secret=self._fresh_secret())
                    for chair in range(4):
                        self._change(chair, ready=False)
            case SeatBot():
                return self._seat_bot(intent.chair, now_ms, out)
            case FreeChair():
                return self._free(intent.chair, host, now_ms, out)
            case NewCode():
                self._record = record.with_(code=make_code(self._random_bytes(16)))
            case LetIn():
                return self._let_in(intent.chair)
            case LetSee() | SendOff():
                return self._arrange_beside(intent, out)
            case Pause() | Resume() | Extend():
                if not heat:
                    return Refusal("not now", "No heat is running.")
                if heat.state.held >= charleston.HELD and not isinstance(intent, Resume):
                    return Refusal("too often", f"This step was held {charleston.HELD} times; now let its clocks run.")
                time_ms = heat.time_ms(now_ms)
                if isinstance(intent, Extend):
                    answer: tuple[AnyEvent, ...] | Refusal = (DeadlinesMoved(by_ms=intent.by_ms, why="host"),)
                else:
                    is_pause = isinstance(intent, Pause)
                    answer = (charleston.pause if is_pause else charleston.resume)(heat.state, time_ms)
                if isinstance(answer, Refusal):
                    return answer
                self._restored = self._restored and not isinstance(intent, Resume)
                self._happen(answer, now_ms, out)
        return None

    def _seat_bot(self, chair: int, now_ms: int, out: Output) -> Refusal | None:
        seated = self._record.chairs[chair]
        if seated.sitter == "bot" or seated.stand_in:
            return Refusal("not now", "A bot plays there already.")
        if seated.sitter == "person":
            self._change(chair, stand_in=True)
        else:
            self._record = self._record.with_chair(chair, bot_chair(self._record, chair))
        self._turns(out, now_ms)
        return None

    def _free(self, chair: int, host: int, now_ms: int, out: Output) -> Refusal | None:
        seated = self._record.chairs[chair]
        if chair == host or seated.sitter == "nobody":
            return Refusal("no such chair", "There is nobody else on that chair.")
        if seated.sitter == "person":
            out.closing.append((chair, Close.SENT_AWAY, "The host has given your chair to somebody else."))
            self._connected.discard(chair)
            if not seated.left:
                self._sent_away(seated.token_hash)
        empty = bot_chair(self._record, chair) if self._heat else EMPTY
        self._record = self._record.with_chair(chair, empty)
        if self._record.host == chair:
            self._record = self._record.with_(host=host)
        self._turns(out, now_ms)
        return None

    def _leave(self, chair: int, now_ms: int, out: Output) -> None:
        if self._heat:
            self._change(chair, stand_in=True, left=True)
            self._turns(out, now_ms)
        else:
            self._record = self._record.with_chair(chair, EMPTY)
        self._say_goodbye(chair, out)
        self._gone_from_round(chair, False, now_ms, out)

    # ---- the heats

    def _deal(self, now_ms: int, out: Output) -> None:
        for chair in range(4):
            if self._record.chairs[chair].sitter == "nobody":
                self._record = self._record.with_chair(chair, bot_chair(self._record, chair))
        record = self._record
        laid = self._laid[(record.number + 1 - record.set_first) % len(self._laid)] if self._laid else None
        head = heat_head(record, self._wall_time(), self._kind, laid)
        self._record = record.with_(phase="heat", number=head.number, head=head, round=None)
        self._note_who_sits(head.number)
        for chair in range(4):
            self._change(chair, ready=False, wish=None)
        events = laid.events if laid else ()
        self._heat = RunningHeat.opened(head, record.card, self._complete, now_ms, events)
        out.heat = head.number
        out.events += self._heat.events
        if self._heat.state.won:
            self._record = with_played(self._record, self._heat.events, head.east, None)
        self._heat_goes_on(now_ms, out)

    def _happen(self, events: tuple[AnyEvent, ...], now_ms: int, out: Output) -> None:
        assert self._heat is not None
        self._record = with_played(self._record, events, self._heat.head.east, self._heat.state.step)
        self._heat = self._heat.plus(events)
        out.heat = self._heat.head.number
        out.events += events
        self._heat_goes_on(now_ms, out)

    def _heat_goes_on(self, now_ms: int, out: Output) -> None:
        if self._heat and self._heat.state.over:
            self._finish(self._heat, out)
        else:
            self._turns(out, now_ms)

    def _finish(self, heat: RunningHeat, out: Output) -> None:
        head, record = heat.head, self._record
        saved = self._saved(heat)
        kept = KeptHeat.of(saved)
        self._heat, self._ended, self._finished = None, heat, (*self._finished, kept)
        played = head.number + 1 - record.set_first
        is_over = played >= record.settings.heats
        self._restored = False
        self._record = record.with_(phase="over" if is_over else "between", head=None, played=head.settings)
        for chair, seated in enumerate(self._record.chairs):
            if seated.left:
                self._record = self._record.with_chair(chair, EMPTY)
            elif seated.stand_in and seated.since > head.number:
                self._change(chair, stand_in=False)
        self._record = self._record.with_(secret=self._fresh_secret())
        out.finished = saved
        for told in self._finished if is_over else (kept,):
            if told is kept or not told.settings.open_racks:
                self._tell_all(told, out)

    def _turns(self, out: Output, now_ms: int) -> None:
        """Give every bot that owes an answer and has no turn yet its moment, and something to think about."""
        heat = self._heat
        if heat is None or heat.state.step is None:
            return
        head, step, turns = heat.head, heat.state.step, dict(heat.turns)
        for seat in SEATS:
            chair = chair_of(seat, head.east)
            if not heat.state.owes[seat] or seat in turns or self._record.chairs[chair].is_present:
                continue
            stream = Stream(head.secret, f"bot {head.number} {step} {seat}")
            turns[seat] = heat.turn(seat, bots.delay_ms(head.settings, step, stream), now_ms)
            view, think = heat.bots_view(chair, now_ms), self._think or thinker(head.settings, self._card)
            out.thoughts.append(Thought(chair, head.number, step, partial(think, view, stream)))
        heat = self._heat = replace(heat, turns=turns)
        if heat.nobody_waits:
            self._heat = heat.hurried(now_ms)

    def _drop_turn(self, chair: int) -> None:
        if self._heat:
            seat = seat_of(chair, self._heat.head.east)
            turns = {other: turn for other, turn in self._heat.turns.items() if other != seat}
            self._heat = replace(self._heat, turns=turns)

    # ---- chairs

    def _first_heat(self) -> int:
        return self._record.number + (0 if self._heat else 1)

    def _arrived(self, chair: int, is_new: bool, held: Held, now_ms: int, out: Output) -> None:
        if is_new:
            self._leaves_line(chair)
            self._note_who_came(chair)
            if self._heat and (self._record.settings.late == "next heat" or self._was_shown):
                self._change(chair, stand_in=True, since=self._record.number + 1)
        if self._record.chairs[chair].is_present:
            self._drop_turn(chair)
        self._turns(out, now_ms)
        owed = list[Owed]()
        for kept in self._finished:
            if self._own_chair(chair, kept) is not None and kept.number not in held.own:
                owed.append(Owed(kept.number, whole=False))
            if self._is_open(kept) and kept.number not in held.whole:
                owed.append(Owed(kept.number, whole=True))
        self._retelling.owe(chair, tuple(owed))
        self._tell_owed(now_ms, out)
        may_begin = self._record.phase in ("seating", "between") and self._record.round is None
        if may_begin and self._record.chairs[chair].ready and self._all_are_ready:
            self._make_wall(now_ms, out)  # only who has come back was waited for

    @property
    def _all_are_ready(self) -> bool:
        """Whether everybody who is to play has said that they are ready, and is here."""
        present = [chair for chair in ALL_CHAIRS if self._record.chairs[chair].is_present]
        return all(self._record.chairs[chair].ready and chair in self._connected for chair in present)

    def _fresh_secret(self) -> bytes:
        record, seed = self._record, self._record.settings.seed
        if seed is not None:  # after a set the coming heat is the first of the next one
            return seeded_secret(seed, 1 if record.phase == "over" else record.number + 2 - record.set_first)
        return self._random_bytes(SECRET_BYTES)

    def _chair_view(self, chair: int) -> ChairView:
        seated = self._record.chairs[chair]
        return ChairView(
            name=seated.name,
            sitter="bot" if seated.stand_in else seated.sitter,
            connected=chair in self._connected,
            ready=seated.ready,
            host=self._record.host == chair and self._host_now() is not None,
            wish=seated.wish,
            asks=self._is_asked_for(chair),
            shows=self.agrees(chair),
            plays_next=seated.stand_in and self._waits_for_next(chair),
        )


def _never(card: str, rack: Rack) -> bool:
    """No hand is complete by a card that only its owner has: nobody could check it."""
    return False
