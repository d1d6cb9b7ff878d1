"""The result of a set as a line to paste: what one player answered and how long it took, and nothing else.

Tiles and bots follow from the set, so that a line holds only which of the possible answers was given at each step, and
when, in tenths of a second. One walk through the rules writes and reads it: whoever writes a line plays the same heat
as its reader. Pure.
"""

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations

from pydantic import ValidationError

from shared import versions
from shared.rules.charleston import decide, give_count, most_blind, open_heat, pause, resume, tick
from shared.rules.events import AnyEvent, ClocksStopped, DeadlinesMoved, StepBegan, Tiles
from shared.rules.grouped import ALL_AGAIN, Grouped
from shared.rules.heat import HEAT, SavedHeat, dice_of, sealed
from shared.rules.intents import Lift, Offer, Pass, Plan, SeatIntent, Vote
from shared.rules.pace import GRACE_MS
from shared.rules.refusals import Refusal
from shared.rules.seat_heat import SeatHeat, SeatStep
from shared.rules.seats import SEATS, WAYS, Seat, seat_of
from shared.rules.set_line import TakeHome
from shared.rules.set_result import CHAIR, Handed, SetResult, east_of, own_heat
from shared.rules.settings import Settings
from shared.rules.state import State, evolve
from shared.rules.steps import STEPS, StepName
from shared.rules.tiles import JOKER, Rack, by_suit
from shared.rules.wall import commitment, seeded_secret, wall_key

TENTH_MS = 100
_NO_LINE = "This is not the line of a result. It has groups of six letters and digits, such as 4KX7Q2-M9C3TB."
RESULT_LINE = Grouped(label=b"racktempo result\0", first=7, sums=1 << 30, most=128, none=_NO_LINE)
NOT_IN_A_LINE = "No line can tell this try: hand it in as a file."
_NEWER = "This result was made with a newer racktempo. Use the newer one."
_VERSIONS, _MARKS, _PLAYERS, _ADDED_MS = 64, 1 << 32, 1 << 64, 1 << 24

Bot = Callable[[State, Seat], SeatIntent]
"""What the bot in a seat answers in a state."""


@dataclass(frozen=True, slots=True)
class Ground:
    """What everybody knows of a set: its card by title and digest, whether a rack is a finished hand of it, and the
    bots of each heat."""

    taken: TakeHome
    card_title: str
    card_digest: str
    complete: Callable[[Rack], bool]
    bots: Callable[[int], Bot]


def set_mark(line: str) -> int:
    """Return the number by which the line of a result names its set."""
    return int.from_bytes(hashlib.sha256(b"racktempo result of\0" + line.encode()).digest()[:4])


def write_result_line(handed: Handed, ground: Ground) -> str:
    """Return the line of a result. Raises ValueError with a sentence if no line can tell it."""
    digits = _Digits()
    digits.take(_VERSIONS, versions.RESULT_FILE)
    digits.take(_MARKS, set_mark(ground.taken.line))
    _result(digits, ground, handed)
    return RESULT_LINE.write(digits.number)


def read_result_line(text: str, find: Callable[[int], Ground]) -> SetResult | str:
    """Return the result of a line, or one sentence that says what to do.

    find(mark) returns the set that a mark names, and may raise ValueError with a sentence.
    """
    number = RESULT_LINE.read(text)
    if isinstance(number, str):
        return number
    digits = _Digits(number)
    if digits.take(_VERSIONS) > versions.RESULT_FILE:
        return _NEWER
    try:
        result = _result(digits, find(digits.take(_MARKS)), None)
    except (ValidationError, UnicodeError):
        return ALL_AGAIN
    except ValueError as error:
        return str(error)
    return ALL_AGAIN if digits.number else result


class _Digits:
    """A number in mixed radix, written or read digit by digit; the first digit is read first."""

    def __init__(self, number: int | None = None) -> None:
        self.number = number or 0
        self._is_read = number is not None
        self._weight = 1

    def take(self, radix: int, value: int = 0) -> int:
        """Return the next digit, which is value if the number is written."""
        if self._is_read:
            self.number, found = divmod(self.number, radix)
            return found
        if not 0 <= value < radix:
            raise ValueError(NOT_IN_A_LINE)
        self.number += value * self._weight
        self._weight *= radix
        return value

    def count(self, value: int) -> int:
        """Return a number that is small: seven of it in each digit of 8."""
        found = 0
        while (digit := self.take(8, max(0, min(value - found, 7)))) == 7:
            found += digit
        return found + digit

    def text(self, value: str) -> str:
        """Return a short text."""
        data = value.encode()
        size = self.take(256, len(data))
        padded = data.ljust(size, b"\0")
        return bytes(self.take(256, padded[at]) for at in range(size)).decode()


def _result(digits: _Digits, ground: Ground, told: Handed | None) -> SetResult:
    """Walk through a result: what is told is written; without it all is read."""
    one = told.result if told else SetResult(line="", player="0" * 16, name="", heats=())
    player = digits.take(_PLAYERS, int(one.player, 16))
    name = digits.text(one.called if told else "")
    number, tries, interrupted = map(digits.count, (one.number, one.tries, one.interrupted))
    own = {heat.number: (heat, seat) for heat, seat in zip(told.heats, told.own, strict=True)} if told else {}
    heats, seen = list[bytes](), list[int]()
    for at in range(1, ground.taken.settings.heats + 1):
        if digits.take(2, at in own):
            seen += [at] * digits.take(2, at in one.seen)
            heats.append(HEAT.pack(_heat(digits, ground, at, own.get(at))))
    return SetResult(
        line=ground.taken.line,
        player=f"{player:016x}",
        name=name,
        number=number,
        tries=tries,
        interrupted=interrupted,
        seen=tuple(seen),
        heats=tuple(heats),
        by_line=True,
    )


def _heat(digits: _Digits, ground: Ground, number: int, told: tuple[SavedHeat, SeatHeat] | None) -> SavedHeat:
    """Play a heat again: bots as the set says, the player as the digits say."""
    taken, none = ground.taken, (b"", b"", b"", b"")
    secret, east = seeded_secret(taken.seed, number), east_of(taken, number)
    again = _Again(taken.settings.unseeded(), wall_key(secret, none), Seat(seat_of(CHAIR, east)), digits)
    again.play(ground.bots(number), ground.complete, told)
    heat = SavedHeat(
        table="",
        number=number,
        played_at="",
        settings=again.state.settings,
        names=("", "", "", ""),
        sitters=("person", "bot", "bot", "bot"),
        east=east,
        card="",
        card_title=ground.card_title,
        card_digest=ground.card_digest,
        commitment=commitment(secret),
        secret=secret,
        contributions=none,
        wall="seeded",
        events=tuple(again.events),
    )
    if told and not _is_same(told[1], own_heat(heat)):
        raise ValueError(NOT_IN_A_LINE)
    return sealed(heat)


def _is_same(told: SeatHeat, again: SeatHeat) -> bool:
    """Say whether a heat that was played again is the one that is told, but for less than a tenth of a second."""
    steps = list(zip(told.steps, again.steps, strict=False))
    return (
        len(told.steps) == len(again.steps)
        and by_suit(told.final) == by_suit(again.final)
        and all(_answered(one) == _answered(other) for one, other in steps)
        and all(abs(one.spent_ms - other.spent_ms) <= TENTH_MS for one, other in steps)
    )


def _answered(step: SeatStep) -> tuple[object, ...]:
    says = step.vote, step.offer, step.to, step.hand, step.discards
    return step.step, step.by, by_suit(step.given), step.blind, by_suit(step.came), *says


class _Again:
    """A heat that is played again. off_ms is by how much the time used is ahead of the tenths that stand for it, so
    that the whole heat is off by no more than one step."""

    def __init__(self, settings: Settings, key: bytes, seat: Seat, digits: _Digits) -> None:
        self.state, self.events = State(settings), list[AnyEvent]()
        self._key, self._seat, self._digits = key, seat, digits
        self._dice, self._off_ms = dice_of(key), 0

    def play(self, bot: Bot, complete: Callable[[Rack], bool], told: tuple[SavedHeat, SeatHeat] | None) -> None:
        """Play to the end."""
        events = told[0].events if told else ()
        steps = {step.step: step for step in told[1].steps} if told else {}
        self._add(open_heat(self.state.settings, self._key, complete))
        for _ in range(self._digits.count(sum(isinstance(event, ClocksStopped) for event in events))):
            self._add(pause(self.state, 0))
            self._add(resume(self.state, 0))
        added_ms = _added_ms(events)
        has_more, now_ms = self._digits.take(2, bool(added_ms)), 0
        while not self.state.over:
            asked, step = self.state, self.state.step
            assert step is not None
            for seat in SEATS:
                if asked.owes[seat] and seat != self._seat:
                    self._add(decide(self.state, seat, bot(asked, seat), now_ms, "bot", self._dice))
            if asked.owes[self._seat]:
                more_ms = self._digits.take(_ADDED_MS, added_ms.get(step, 0)) if has_more else 0
                if more_ms:
                    self._add((DeadlinesMoved(by_ms=more_ms, why="host"),))
                if told and step not in steps:
                    raise ValueError(NOT_IN_A_LINE)
                now_ms = self._answer(step, now_ms, steps.get(step))

    def _answer(self, step: StepName, now_ms: int, told: SeatStep | None) -> int:
        """Answer a step, and return when."""
        if told and told.by not in ("person", "timeout"):
            raise ValueError(NOT_IN_A_LINE)
        clock, used_ms = self.state.clocks[self._seat], told.spent_ms if told else 0
        if self._digits.take(2, told is not None and told.by == "timeout"):
            if count := give_count(self.state, self._seat):
                tiles = self._tiles(count, told)
                self._add(decide(self.state, self._seat, Lift(step=step, tiles=tiles), now_ms, "person", self._dice))
            self._off_ms += used_ms - clock.budget_ms
            at_ms = (self.state.clocks[self._seat].deadline_ms() or 0) + GRACE_MS + 1
            self._add(tick(self.state, at_ms, self._dice))
            return at_ms
        most = clock.budget_ms // TENTH_MS
        tenths = self._digits.take(most + 1, max(0, min(most, round((used_ms + self._off_ms) / TENTH_MS))))
        self._off_ms += used_ms - tenths * TENTH_MS
        intent, at_ms = self._intent(step, told), now_ms + tenths * TENTH_MS
        self._add(decide(self.state, self._seat, intent, at_ms, "person", self._dice))
        return at_ms

    def _intent(self, step: StepName, told: SeatStep | None) -> SeatIntent:
        take = self._digits.take
        match STEPS[step].ask:
            case "vote":
                return Vote(go_on=take(2, told is not None and bool(told.vote)) > 0)
            case "offer":
                count = take(4, told.offer or 0 if told else 0)
                to = told.to if told and told.to else "across"
                return Offer(count=count, to="across" if STEPS[step].direction else WAYS[take(3, WAYS.index(to))])
            case "plan":
                rack, discards = by_suit(self.state.racks[self._seat]), told.discards if told else ()
                hand = self._digits.text(told.hand or "" if told else "")
                places = [rack.index(tile) for tile in discards] + [0] * 3
                named = [rack[take(len(rack), places[at])] for at in range(take(4, len(discards)))]
                return Plan(hand=hand, discards=tuple(named))
            case _:
                blind = take(most_blind(self.state) + 1, told.blind if told else 0)
                tiles = self._tiles(give_count(self.state, self._seat) - blind, told)
                return Pass(step=step, tiles=tiles, blind=blind)

    def _tiles(self, count: int, told: SeatStep | None) -> Tiles:
        """Return which tiles are passed: one of all ways to choose so many that may be passed."""
        free = by_suit([tile for tile in self.state.racks[self._seat] if tile != JOKER])
        ways = list(dict.fromkeys(combinations(free, min(count, len(free)))))
        given = by_suit(told.given) if told else ways[0]
        if given not in ways:
            raise ValueError(NOT_IN_A_LINE)
        return ways[self._digits.take(len(ways), ways.index(given))]

    def _add(self, events: tuple[AnyEvent, ...] | Refusal) -> None:
        if isinstance(events, Refusal):
            raise ValueError(ALL_AGAIN)
        for event in events:
            self.state = evolve(self.state, event)
        self.events += events


def _added_ms(events: tuple[AnyEvent, ...]) -> dict[StepName, int]:
    """Return the time that the player added, step by step."""
    found: dict[StepName, int] = {}
    step: StepName = "first right"
    for event in events:
        if isinstance(event, StepBegan):
            step = event.step
        elif isinstance(event, DeadlinesMoved) and event.why == "host":
            found[step] = found.get(step, 0) + event.by_ms
    return found
