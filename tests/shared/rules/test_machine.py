"""Whole Charlestons played at random: what must hold after every single event, whatever the four seats do."""

from collections import Counter
from collections.abc import Iterable
from typing import Any

from hypothesis import settings as effort
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule

from shared.rules.charleston import give_count, most_blind, pause, resume, route
from shared.rules.events import Agreed, AnyEvent, Decided, Moved, Offered, Passed, StepBegan, TilesLifted, Voted
from shared.rules.heat import HEAT
from shared.rules.intents import Arrange, Lift, Offer, Pass, Plan, SeatIntent, TakeBack, Vote
from shared.rules.refusals import Refusal
from shared.rules.seats import SEATS, WAYS, Direction, PerSeat, Seat
from shared.rules.settings import Settings
from shared.rules.state import State, own_tiles, replay
from shared.rules.steps import STEP_NAMES, STEPS
from shared.rules.tiles import JOKER, KINDS, full_set
from shared.wire.views import heat_view
from tests.heats import Heat, every_tile, faults, passable, plain_answer, veiled

CHAIRS = PerSeat((0, 1, 2, 3))
A_SEAT = st.sampled_from(SEATS)
A_WAY = st.sampled_from(WAYS)
TABLES = st.builds(
    Settings,
    level_ms=st.sampled_from([10_000, 100_000]),
    carry_over=st.booleans(),
    second=st.sampled_from(["offered", "always", "never"]),
    silence=st.sampled_from(["go on", "stop"]),
    stop_unseen=st.booleans(),
    blind=st.sampled_from([True, True, False]),
    blind_most=st.sampled_from([3, 3, 2, 1]),
    blind_at=st.sampled_from(["both", "both", "last right"]),
    courtesy=st.booleans(),
    side_courtesy=st.booleans(),
    plan=st.booleans(),
    jokers=st.sampled_from([8, 10, 0]),
    incoming=st.sampled_from(["racks", "wall"]),
    final_at=st.sampled_from(["commit", "step end"]),
)
SOME_TILES = st.lists(st.sampled_from(KINDS), max_size=5).map(tuple)
INTENTS: st.SearchStrategy[SeatIntent] = st.one_of(
    st.builds(Lift, step=st.sampled_from(STEP_NAMES), tiles=SOME_TILES, blind=st.integers(0, 3)),
    st.builds(Arrange, tiles=SOME_TILES),
    st.builds(Pass, step=st.sampled_from(STEP_NAMES), tiles=SOME_TILES, blind=st.integers(0, 3)),
    st.builds(TakeBack, step=st.sampled_from(STEP_NAMES)),
    st.builds(Vote, go_on=st.booleans()),
    st.builds(Offer, count=st.integers(0, 3), to=A_WAY),
    st.builds(Plan, hand=st.just("a hand"), discards=st.lists(st.sampled_from(KINDS), max_size=3).map(tuple)),
)


class Watched(Heat):
    """A heat that is looked at after every event."""

    def happen(self, events: Iterable[AnyEvent]) -> None:
        for event in events:
            before = self.state
            super().happen((event,))
            assert every_tile(self.state) == Counter(full_set(self.settings.jokers)), "a tile was lost or made"
            whole = [len((*rack, *down)) for rack, down in zip(self.state.racks, self.state.face_down, strict=True)]
            assert whole == [14, 13, 13, 13]
            assert not any(self.state.face_down) or (
                self.settings.stop_unseen and self.state.step in ("first left", "go on")
            )
            assert all(0 <= clock.spent(self.at_ms) <= clock.budget_ms for clock in self.state.clocks)
            if isinstance(event, Voted) and event.by == "timeout":
                assert event.go_on == (self.settings.silence == "go on")
            if isinstance(event, Decided):
                assert event.go_on == all(answer.go_on for answer in before.answers if isinstance(answer, Voted))
            if isinstance(event, Agreed):
                self._agreed(event, before)
            if isinstance(event, Moved):
                self._moved(event, [Counter(rack) for rack in before.racks])
                asked = [answer for answer in before.answers if isinstance(answer, Passed)]
                assert len(asked) == sum(give_count(before, seat) > 0 for seat in SEATS)
            if not isinstance(event, TilesLifted):
                self.look()

    def _moved(self, event: Moved, before: list[Counter[Any]]) -> None:
        done = self.state.done[-1]
        moved = PerSeat.of(lambda seat: (*self.state.racks[seat], *self.state.face_down[seat]))
        assert sorted(done.to) == list(SEATS), "two packets for one seat"
        for seat in SEATS:
            if direction := STEPS[event.step].direction:
                assert done.to[seat] in ((seat.to(direction),) if done.sent[seat] else (seat, seat.to(direction)))
            assert event.step != "side give" or done.to[seat] != seat.to(Direction.ACROSS)
            given, came = own_tiles(done.answers[seat]), done.came[seat]
            assert JOKER not in (*done.sent[seat], *came), "a joker moved"
            assert len(given) == len(came)
            count = 3 if STEPS[event.step].ask == "pass" else self.state.agreed[seat]
            assert len(done.sent[seat]) == count or not any(done.sent)
            assert len(done.sent[seat]) - len(given) <= self.settings.most_blind(event.step)
            assert Counter(moved[seat]) == before[seat] - Counter(given) + Counter(came)
            if self.settings.incoming == "racks":
                forwarded = done.sent[seat][len(given) :]
                assert Counter(done.sent[done.to.index(seat)]) == Counter(came) + Counter(forwarded)

    def _agreed(self, event: Agreed, before: State) -> None:
        """Both of a pair give the smaller of their numbers, and nobody else gives any."""
        offers = [answer for answer in before.answers if isinstance(answer, Offered)]
        for seat, count in zip(SEATS, event.counts, strict=True):
            other = seat.to(Direction[offers[seat].to.upper()])
            is_pair = other.to(Direction[offers[other].to.upper()]) == seat
            assert count == (min(offers[seat].count, offers[other].count) if is_pair else 0)

    def look(self) -> None:
        """Check that what each seat sees depends on nothing that it must not know."""
        for seat in SEATS:
            true, other = (
                heat_view(state, seat, 1, CHAIRS, self.at_ms, route(self.state))
                for state in (self.state, veiled(self.state, seat))
            )
            assert true == other


class Charleston(RuleBasedStateMachine):
    """Four seats that may do anything at any time, and a host who pauses, extends and stalls."""

    @initialize(settings=TABLES, contribution=st.binary(max_size=16))
    def deal(self, settings: Settings, contribution: bytes) -> None:
        self.heat = Watched(settings, contributions=(contribution, b"", b"", b""))

    def running(self) -> bool:
        return hasattr(self, "heat") and not self.heat.state.over and not self.heat.state.paused

    @precondition(running)
    @rule(seat=A_SEAT, data=st.data())
    def answers(self, seat: Seat, data: st.DataObject) -> None:
        state = self.heat.state
        if not state.owes[seat] or self.heat.state.clocks[seat].left(self.heat.at_ms) == 0:
            return
        blind = data.draw(st.integers(0, most_blind(state)))
        count = max(0, give_count(state, seat) - blind)
        tiles = tuple(data.draw(st.permutations(passable(state.racks[seat])))[:count])
        go_on, offer = data.draw(st.sampled_from([True, True, True, False])), data.draw(st.integers(0, 3))
        by = data.draw(st.sampled_from(["person", "bot"]))
        to = data.draw(st.sampled_from(["right", "left"]))
        intent = plain_answer(state, seat, tiles=tiles, blind=blind, go_on=go_on, count=offer, to=to)
        assert self.heat.ask(seat, intent, by) is None

    @precondition(running)
    @rule(seat=A_SEAT, data=st.data())
    def lifts(self, seat: Seat, data: st.DataObject) -> None:
        state = self.heat.state
        assert state.step is not None
        most = data.draw(st.integers(0, give_count(state, seat)))
        tiles = tuple(data.draw(st.permutations(passable(state.racks[seat])))[:most])
        if state.owes[seat] and state.clocks[seat].left(self.heat.at_ms):
            self.heat.do(seat, Lift(step=state.step, tiles=tiles))

    @precondition(running)
    @rule(seat=A_SEAT, data=st.data())
    def arranges(self, seat: Seat, data: st.DataObject) -> None:
        self.heat.do(seat, Arrange(tiles=tuple(data.draw(st.permutations(self.heat.state.racks[seat])))))

    @precondition(running)
    @rule(seat=A_SEAT)
    def tries_to_pass_a_joker(self, seat: Seat) -> None:
        state = self.heat.state
        assert state.step is not None
        count = give_count(state, seat)
        if count and JOKER in state.racks[seat]:
            tiles = (JOKER, *passable(state.racks[seat]))[:count]
            assert self.heat.ask(seat, Pass(step=state.step, tiles=tiles)) is not None

    @rule(seat=A_SEAT, intent=INTENTS)
    def tries_anything(self, seat: Seat, intent: SeatIntent) -> None:
        before = self.heat.state
        if self.heat.ask(seat, intent) is not None:
            assert self.heat.state is before

    @precondition(running)
    @rule(seat=A_SEAT)
    def takes_back(self, seat: Seat) -> None:
        step = self.heat.state.step
        assert step is not None
        answer = self.heat.state.answers[seat]
        refusal = self.heat.ask(seat, TakeBack(step=step))
        if self.heat.settings.final_at == "commit" or answer is None or answer.by == "timeout":
            assert refusal is not None

    @rule(ms=st.integers(0, 30_000))
    def time_goes_by(self, ms: int) -> None:
        self.heat.wait(ms)

    @precondition(running)
    @rule(
        blind=st.tuples(*[st.integers(0, 3)] * 4),
        counts=st.tuples(*[st.integers(0, 3)] * 4),
        sides=st.tuples(*[st.sampled_from(["right", "left"])] * 4),
    )
    def everybody_answers(self, blind: tuple[int, ...], counts: tuple[int, ...], sides: tuple[str, ...]) -> None:
        state = self.heat.state
        if all(clock.left(self.heat.at_ms) for clock in state.clocks if clock.since_ms is not None):
            for seat in SEATS:
                if state.owes[seat]:
                    unseen = min(blind[seat], most_blind(state))
                    self.heat.answer(seat, blind=unseen, count=counts[seat], to=sides[seat])

    @rule()
    def the_host_pauses_or_goes_on(self) -> None:
        change = resume if self.heat.state.paused else pause
        answer = change(self.heat.state, self.heat.at_ms)
        if not isinstance(answer, Refusal):
            self.heat.happen(answer)

    @precondition(running)
    @rule(ms=st.integers(1_000, 20_000), why=st.sampled_from(["stall", "host"]))
    def deadlines_move(self, ms: int, why: str) -> None:
        self.heat.move_deadlines(ms, why)

    def teardown(self) -> None:
        if not hasattr(self, "heat"):
            return
        heat = self.heat
        if heat.state.paused:
            heat.resume()
        while not heat.state.over:
            heat.wait_out()
        assert replay(heat.settings, heat.events) == heat.state, "the events tell another story"
        began = [event.step for event in heat.events if isinstance(event, StepBegan)]
        assert began == [done.step for done in heat.state.done]
        saved = HEAT.unpack(HEAT.pack(heat.saved()))
        assert saved == heat.saved()
        assert faults(saved, lambda card, rack: False) == ()


Charleston.TestCase.settings = effort(max_examples=60, stateful_step_count=60, deadline=None)
TestCharleston = Charleston.TestCase
