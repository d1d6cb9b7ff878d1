"""Heats for tests, on the pure rules alone: chosen racks, seats that answer when told, any step reached at once."""

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any, TypeVar

from shared.rules import heat as saved_heats
from shared.rules.charleston import decide, give_count, next_deadline_ms, open_heat, pause, resume, tick
from shared.rules.events import AnyEvent, By, DeadlinesMoved, Dealt, Offered, Passed, Planned, StepBegan, Voted
from shared.rules.heat import HEAT, Complete, SavedHeat, dice_of, sealed
from shared.rules.intents import Offer, Pass, Plan, SeatIntent, Vote
from shared.rules.pace import Clock
from shared.rules.refusals import Refusal
from shared.rules.seats import SEATS, PerSeat, Seat
from shared.rules.settings import Settings
from shared.rules.state import Answer, DoneStep, Draft, State, evolve, own_tiles, replay
from shared.rules.steps import STEPS, StepName
from shared.rules.tiles import JOKER, Rack, full_set
from shared.rules.typed_tiles import typed
from shared.rules.wall import commitment, wall_key

T = TypeVar("T")
EAST, SOUTH, WEST, NORTH = SEATS
SECRET = b"a secret of the Boathouse, 32 b."
NO_CONTRIBUTIONS = (b"", b"", b"", b"")
KEY = wall_key(SECRET, NO_CONTRIBUTIONS)
HOUSE_RULES: dict[str, Any] = {
    "jokers": 10,
    "silence": "stop",
    "stop_unseen": True,
    "blind_most": 1,
    "blind_at": "last right",
    "side_courtesy": True,
    "east_complete": "wins",
}
"""What many tables play otherwise, all of it at once."""


class Heat:
    """One heat under way. at_ms is where its clock stands; only wait() moves it."""

    def __init__(
        self,
        settings: Settings | None = None,
        racks: Iterable[str | Rack] = (),
        contributions: tuple[bytes, bytes, bytes, bytes] = NO_CONTRIBUTIONS,
    ) -> None:
        """Deal from the wall of SECRET and the contributions, or the given racks (tiles or codes, from East on)."""
        self.settings = settings or Settings()
        self.contributions = contributions
        key = wall_key(SECRET, contributions)
        self.dice = dice_of(key)
        self.at_ms = 0
        chosen = tuple(typed(rack) if isinstance(rack, str) else rack for rack in racks)
        opening = dealt(self.settings, chosen) if chosen else open_heat(self.settings, key, lambda rack: False)
        self.events: list[AnyEvent] = list(opening)
        self.state = replay(self.settings, opening)

    def happen(self, events: Iterable[AnyEvent]) -> None:
        """Apply events."""
        for event in events:
            self.events.append(event)
            self.state = evolve(self.state, event)

    def ask(self, seat: Seat, intent: SeatIntent, by: By = "person") -> Refusal | None:
        """Let a seat try something now, and return the refusal if it is refused."""
        answer = decide(self.state, seat, intent, self.at_ms, by, self.dice)
        if isinstance(answer, Refusal):
            return answer
        self.happen(answer)
        return None

    def do(self, seat: Seat, intent: SeatIntent) -> None:
        """Let a seat do something that the rules allow."""
        refusal = self.ask(seat, intent)
        assert refusal is None, refusal

    def refused(self, seat: Seat, intent: SeatIntent) -> Refusal:
        """Let a seat try something that the rules refuse, and check that nothing changed."""
        before = self.state
        refusal = self.ask(seat, intent)
        assert refusal is not None, "this was allowed"
        assert self.state == before
        assert refusal.text.endswith(".")
        assert refusal.text[0].isupper()
        return refusal

    def wait(self, ms: int) -> None:
        """Let time pass and the clock do what is due then."""
        self.at_ms += ms
        self.happen(tick(self.state, self.at_ms, self.dice))

    def wait_out(self) -> None:
        """Let time pass until the next clock answers for its seat."""
        due_ms = next_deadline_ms(self.state)
        assert due_ms is not None
        self.wait(due_ms - self.at_ms)

    def pause(self) -> None:
        """Stop the clocks."""
        self._table(pause(self.state, self.at_ms))

    def resume(self) -> None:
        """Let the clocks run."""
        self._table(resume(self.state, self.at_ms))

    def move_deadlines(self, by_ms: int, why: str) -> None:
        """Give time back after a stall, or extend it."""
        self.happen((DeadlinesMoved.model_validate({"by_ms": by_ms, "why": why}),))

    def _table(self, answer: tuple[AnyEvent, ...] | Refusal) -> None:
        assert not isinstance(answer, Refusal), answer
        self.happen(answer)

    def answer(self, seat: Seat, **wishes: object) -> None:
        """Let a seat answer the running step plainly; wishes: tiles, blind, go_on, count, to."""
        self.do(seat, plain_answer(self.state, seat, **wishes))

    def answer_all(self, **wishes: object) -> None:
        """Let every seat that owes an answer give it plainly, from East on."""
        for seat in SEATS:
            if self.state.owes[seat]:
                self.answer(seat, **wishes)

    def go_to(self, step: StepName) -> "Heat":
        """Play plainly until a step runs."""
        while self.state.step != step:
            assert not self.state.over, f"{step} never came"
            self.answer_all()
        return self

    def play_out(self) -> "Heat":
        """Play plainly to the end."""
        while not self.state.over:
            self.answer_all()
        return self

    def steps(self) -> list[StepName]:
        """Return the steps that began, in order."""
        return [event.step for event in self.events if isinstance(event, StepBegan)]

    def saved(self) -> SavedHeat:
        """Return the heat as a file keeps it; it fits its wall if the racks were not chosen."""
        return sealed(
            SavedHeat(
                table="Boathouse",
                number=1,
                played_at="2026-05-01T19:30:00Z",
                settings=self.settings,
                names=("Heron", "Wren", "Plover", "Avocet"),
                sitters=("person", "bot", "bot", "bot"),
                east=0,
                card="",
                commitment=commitment(SECRET),
                secret=SECRET,
                contributions=self.contributions,
                events=tuple(self.events),
            )
        )


def faults(heat: SavedHeat, complete: Complete) -> tuple[str, ...]:
    """Return what does not fit in the file that a heat makes."""
    return saved_heats.faults(HEAT.pack(heat), complete)


def dealt(settings: Settings, racks: tuple[Rack, ...]) -> tuple[AnyEvent, ...]:
    """Return the opening of a heat with these racks; everything else lies in the wall."""
    left = Counter(full_set(settings.jokers))
    left.subtract(tile for rack in racks for tile in rack)
    assert min(left.values()) >= 0, "more tiles than the set holds"
    assert [len(rack) for rack in racks] == [14, 13, 13, 13]
    deal = Dealt(racks=(racks[0], racks[1], racks[2], racks[3]), wall=tuple(left.elements()))
    return (deal, StepBegan(step="first right", at_ms=0))


def passable(rack: Rack) -> Rack:
    """Return the tiles of a rack that may be passed."""
    return tuple(tile for tile in rack if tile != JOKER)


def plain_answer(state: State, seat: Seat, **wishes: object) -> SeatIntent:
    """Return a legal answer to the running step: the leftmost tiles, go on, an offer of three that is taken."""
    assert state.step is not None
    match STEPS[state.step].ask:
        case "vote":
            return Vote(go_on=bool(wishes.get("go_on", True)))
        case "offer":
            way = "across" if STEPS[state.step].direction else wishes.get("to", ("right", "left")[seat % 2])
            return Offer.model_validate({"count": wishes.get("count", 3), "to": way})
        case "plan":
            return Plan(hand="", discards=())
        case _:
            blind = wishes.get("blind", 0)
            assert isinstance(blind, int)
            tiles = wishes.get("tiles", passable(state.racks[seat])[: give_count(state, seat) - blind])
            return Pass.model_validate({"step": state.step, "tiles": tiles, "blind": blind})


def every_tile(state: State) -> Counter[str]:
    """Return how many of each kind there are anywhere: racks, face down, wall and what was laid aside."""
    racks = [tile for rack in (*state.racks, *state.face_down) for tile in rack]
    return Counter((*racks, *state.wall, *state.aside))


def veiled(state: State, seat: Seat) -> State:
    """Return the state with everything that a seat must not know made something else.

    What a seat sees of it must be what it sees of the true state: then it depends on nothing hidden.
    """

    def own(values: PerSeat[T], other: Callable[[T], T]) -> PerSeat[T]:
        return PerSeat.of(lambda each: values[each] if each == seat else other(values[each]))

    def done(step: DoneStep) -> DoneStep:
        forwarded = len(own_tiles(step.answers[seat]))
        sent = PerSeat.of(lambda each: step.sent[each][:forwarded] if each == seat else ())
        return replace(step, answers=own(step.answers, _hidden_pass), sent=sent, came=own(step.came, _hidden_rack))

    closed = [done(step) for step in state.done]
    if any(state.face_down):  # nobody has looked at what came by the last step
        closed[-1] = replace(closed[-1], came=PerSeat.of(lambda each: _hidden_rack(closed[-1].came[each])))
    return replace(
        state,
        face_down=PerSeat.of(lambda each: _hidden_rack(state.face_down[each])),
        racks=own(state.racks, _hidden_rack),
        dealt=own(state.dealt, _hidden_rack),
        wall=_hidden_rack(state.wall),
        aside=_hidden_rack(state.aside),
        drafts=own(state.drafts, lambda draft: Draft()),
        drafted=own(state.drafted, lambda count: 0),
        taken_back=own(state.taken_back, lambda count: 0),
        fresh=own(state.fresh, _hidden_rack),
        clocks=own(state.clocks, lambda clock: Clock()),
        carried_ms=own(state.carried_ms, lambda ms: 0),
        answers=own(state.answers, _hidden_answer),
        done=tuple(closed),
    )


def _hidden_rack(rack: Rack) -> Rack:
    return (JOKER,) * len(rack)


def _hidden_pass(answer: Answer | None) -> Answer | None:
    """A pass of other tiles; votes and numbers of a closed step are everybody's."""
    if isinstance(answer, Passed):
        return answer.model_copy(update={"tiles": _hidden_rack(answer.tiles), "blind": 0, "spent_ms": 0, "at_ms": 0})
    return answer


def _hidden_answer(answer: Answer | None) -> Answer | None:
    """Another answer: in the running step even a vote or a number is nobody else's."""
    match answer:
        case Voted():
            return answer.model_copy(update={"go_on": not answer.go_on})
        case Offered():
            return answer.model_copy(update={"count": 3 - answer.count})
        case Planned():
            return answer.model_copy(update={"hand": "another", "discards": ()})
        case _:
            return _hidden_pass(answer)
