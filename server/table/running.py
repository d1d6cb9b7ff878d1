"""One running heat on the server: its events, its state, its own time, and the bots' turns in it.

A frozen value: every input returns a new one, so that a step that could not be stored is undone by keeping the
old one. The heat's time is the table's clock less the moment of the deal.
"""

from dataclasses import dataclass, field, replace

from server.records import HeatHead
from shared.rules import charleston
from shared.rules.events import AnyEvent, ClocksRan, ClocksStopped, DeadlinesMoved
from shared.rules.heat import Complete, dice_of
from shared.rules.intents import SeatIntent
from shared.rules.refusals import Refusal
from shared.rules.seats import SEATS, PerSeat, Seat, chair_of, seat_of
from shared.rules.state import State, evolve, replay
from shared.rules.steps import StepName
from shared.rules.wall import wall_key
from shared.wire.views import HeatView, heat_view


@dataclass(frozen=True, slots=True)
class BotTurn:
    """When a bot answers, and with what once it has thought; milliseconds of the heat's time."""

    step: StepName
    due_ms: int
    intent: SeatIntent | None = None


@dataclass(frozen=True, slots=True)
class RunningHeat:
    """A heat with its events so far, and the bots' turns in its running step."""

    head: HeatHead
    key: bytes
    state: State
    events: tuple[AnyEvent, ...]
    origin_ms: int
    turns: dict[Seat, BotTurn] = field(default_factory=dict)
    paused_at_ms: int = 0
    reached_ms: int = 0

    @classmethod
    def opened(
        cls, head: HeatHead, card: str, complete: Complete, now_ms: int, laid: tuple[AnyEvent, ...] = ()
    ) -> "RunningHeat":
        """Deal a heat whose step begins now; a drill begins with events that were laid for it instead."""
        key = wall_key(head.secret, head.contributions)
        events = laid or charleston.open_heat(head.settings, key, lambda rack: complete(card, rack))
        begun_ms = max(map(_at_ms, events))
        return cls(head, key, replay(head.settings, events), events, now_ms - begun_ms, reached_ms=begun_ms)

    @classmethod
    def restored(cls, head: HeatHead, events: tuple[AnyEvent, ...], now_ms: int) -> "RunningHeat":
        """Rebuild a heat from disk and stop its clocks at its last event; the time since is charged to nobody."""
        key = wall_key(head.secret, head.contributions)
        last_ms = max(map(_at_ms, events))
        state = replay(head.settings, events)
        heat = cls(head, key, state, events, now_ms - last_ms, paused_at_ms=last_ms, reached_ms=last_ms)
        return heat if heat.state.paused else heat.plus((ClocksStopped(at_ms=last_ms),))

    def time_ms(self, now_ms: int) -> int:
        """Return the heat's own time. It never goes back: what was read before the last event, such as the end of a
        pause, and is carried out after it counts as read with it."""
        return max(self.reached_ms, now_ms - self.origin_ms)

    def plus(self, events: tuple[AnyEvent, ...]) -> "RunningHeat":
        """Return the heat after more events; the turns of bots whose step has closed or who answered are dropped."""
        state, turns, paused_at_ms = self.state, self.turns, self.paused_at_ms
        for event in events:
            state = evolve(state, event)
            if isinstance(event, ClocksStopped):
                paused_at_ms = event.at_ms
            elif isinstance(event, ClocksRan):
                away_ms = event.at_ms - paused_at_ms
                turns = {seat: replace(turn, due_ms=turn.due_ms + away_ms) for seat, turn in turns.items()}
        turns = {seat: turn for seat, turn in turns.items() if turn.step == state.step and state.owes[seat]}
        return replace(
            self,
            state=state,
            events=(*self.events, *events),
            turns=turns,
            paused_at_ms=paused_at_ms,
            reached_ms=max([self.reached_ms, *map(_at_ms, events)]),
        )

    def decide(self, seat: Seat, intent: SeatIntent, now_ms: int, by_bot: bool) -> tuple[AnyEvent, ...] | Refusal:
        """Return what follows from an intent of a seat."""
        dice = dice_of(self.key)
        return charleston.decide(self.state, seat, intent, self.time_ms(now_ms), "bot" if by_bot else "person", dice)

    def due(self, now_ms: int) -> tuple[AnyEvent, ...]:
        """Return what time alone brings about now: one bot's answer, or the answers of clocks that ran out."""
        time_ms = self.time_ms(now_ms)
        if self.state.paused:
            return ()
        for seat in SEATS:
            turn = self.turns.get(seat)
            if turn and turn.intent and turn.due_ms <= time_ms:
                answer = self.decide(seat, turn.intent, now_ms, by_bot=True)
                if not isinstance(answer, Refusal):
                    return answer
        return charleston.tick(self.state, time_ms, dice_of(self.key))

    def turn(self, seat: Seat, delay_ms: int, now_ms: int) -> BotTurn:
        """Return a turn of a bot that begins to think now; it answers before the clock does."""
        assert self.state.step is not None
        time_ms = self.paused_at_ms if self.state.paused else self.time_ms(now_ms)
        return BotTurn(self.state.step, time_ms + min(delay_ms, self.state.clocks[seat].left(time_ms)))

    def hurried(self, now_ms: int) -> "RunningHeat":
        """Return the heat with every bot's delay over: each answers as soon as it has thought."""
        time_ms = self.paused_at_ms if self.state.paused else self.time_ms(now_ms)
        turns = {seat: replace(turn, due_ms=min(turn.due_ms, time_ms)) for seat, turn in self.turns.items()}
        return replace(self, turns=turns)

    @property
    def nobody_waits(self) -> bool:
        """Whether bots keep nobody waiting here, and all answers that the running step still waits for are theirs."""
        return self.head.settings.bot_pace == "no wait" and all(
            seat in self.turns for seat in SEATS if self.state.owes[seat]
        )

    def without_refused(self, now_ms: int) -> "RunningHeat":
        """Return the heat without bots' decisions that are overdue because the rules refused them."""
        time_ms = self.time_ms(now_ms)
        if self.state.paused or not any(turn.intent and turn.due_ms <= time_ms for turn in self.turns.values()):
            return self
        turns = {
            seat: replace(turn, intent=None) if turn.due_ms <= time_ms else turn for seat, turn in self.turns.items()
        }
        return replace(self, turns=turns)

    def next_deadline_ms(self) -> int | None:
        """Return when due has something to do, in the table's time."""
        if self.state.paused:
            return None
        times = [turn.due_ms for turn in self.turns.values() if turn.intent]
        limit = charleston.next_deadline_ms(self.state)
        if limit is not None:
            times.append(limit)
        return min(times) + self.origin_ms if times else None

    def stalled(self, by_ms: int) -> tuple[AnyEvent, ...]:
        """Return the event that gives a stall of the machine back to everybody whose clock runs."""
        running = any(clock.since_ms is not None for clock in self.state.clocks)
        return (DeadlinesMoved(by_ms=by_ms, why="stall"),) if running else ()

    def view(self, chair: int, now_ms: int) -> HeatView:
        """Return what a chair sees of the heat."""
        east = self.head.east
        chairs = PerSeat.of(lambda seat: chair_of(seat, east))
        seat = seat_of(chair, east)
        steps = charleston.route(self.state)
        return heat_view(self.state, seat, self.head.number, chairs, self.time_ms(now_ms), steps)

    def bots_view(self, chair: int, now_ms: int) -> HeatView:
        """Return a bot's view. A pause covers racks only for people; a bot thinks on and answers after it."""
        return replace(self, state=replace(self.state, paused=False)).view(chair, now_ms)


def _at_ms(event: AnyEvent) -> int:
    """Return when an event happened; 0 if it has no time of its own."""
    at_ms: int = getattr(event, "at_ms", 0)
    return at_ms
