"""The wall as this client watches it: takes part in each round, keeps what it saw, and judges when the secret is told.

Pure: random bytes and what was kept before a restart come in as arguments. It opens nothing once the table has changed
what it had shown, and never believes the host's account of what this client itself saw or sent.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

from shared.names import clean_name
from shared.rules.heat import Complete
from shared.rules.intents import WallHash, WallValue
from shared.rules.seat_heat import SeatHeat
from shared.rules.wall import CONTRIBUTION_BYTES
from shared.rules.wall_round import MOST_FAILURES, Attempt, fits, follows, value_hash
from shared.rules.wall_seen import (
    KIND_WORDS,
    SHORT,
    SeenStep,
    Verdict,
    WallSeen,
    all_faults,
    evidence_faults,
    read_aloud,
    verdict,
)
from shared.wire.views import HeatView, View

NOT_TOLD = "Not checkable yet: the secret of this wall has not been told."
_KEPT = 64
"""Of how many heats evidence is held here; a set has fewer."""


@dataclass(frozen=True, slots=True)
class Part:
    """What to do after a view: keep the evidence, then send the intents; lines is what to tell the player."""

    seen: WallSeen | None = None
    intents: tuple[WallHash | WallValue, ...] = ()
    lines: tuple[str, ...] = ()


NO_PART = Part()


@dataclass(frozen=True, slots=True)
class Judged:
    """What the check of a heat came to, and the words that everybody at the table must have alike."""

    table: str
    number: int
    verdict: Verdict
    aloud: str


@dataclass(slots=True)
class WallWatch:
    """One client at one table after the other. recall(table, heat, chair) is what was kept before a restart."""

    random_bytes: Callable[[int], bytes]
    recall: Callable[[str, int, int], WallSeen | None] = lambda table, heat, chair: None
    table: str = ""
    seen: dict[tuple[str, int], WallSeen] = field(default_factory=dict)
    judged: "dict[tuple[str, int], Judged]" = field(default_factory=dict)
    _asked: set[tuple[int, int, str]] = field(default_factory=set)
    _taken: set[tuple[int, int, str]] = field(default_factory=set)
    _latest: View | None = None
    _left: set[str] = field(default_factory=set)
    """The tables from which this client was moved away."""
    _is_back: bool = False
    """Whether the line is new since the last view: what was said meanwhile was not heard."""

    # ---- what is heard

    def connected(self, table: str) -> None:
        """The line leads to the table with this id."""
        self._is_back = True
        if table != self.table:
            self._left.add(self.table)
            self.table, self._latest = table, None
            self._asked.clear()
            self._taken.clear()

    def done(self, intent: object) -> None:
        """The table has taken what an intent sent."""
        if isinstance(intent, WallHash | WallValue):
            self._taken.add((intent.heat, intent.attempt, intent.kind))

    def see(self, view: View) -> Part:
        """Take in a view, and return one's own part in what it shows."""
        before, key = self._before(view), (self.table, view.wall.heat)
        now = before if before.stopped else self._followed(before, view)
        if now.stopped and view.heat:
            now = now.model_copy(update={"seat": view.heat.seat})  # it was played all the same
        self._latest = view
        lines = [now.stopped] if now.stopped and not before.stopped else []
        if not now.stopped:
            lines += self._named(before, now)
        intents: tuple[WallHash | WallValue, ...] = ()
        if not now.stopped and view.heat is None:
            now, intents = self._own_part(now)
        self._is_back = False
        self.seen[key] = now
        while len(self.seen) > _KEPT:
            del self.seen[next(iter(self.seen))]
        return Part(now if intents or (now.stopped and lines) else None, intents, tuple(lines))

    def _before(self, view: View) -> WallSeen:
        number = view.wall.heat
        known = self.seen.get((self.table, number)) or self.recall(self.table, number, view.you)
        was_away = self.table in self._left
        self._left.discard(self.table)
        failures = 0
        if known and known.chair == view.you:
            if not (was_away and _was_dropped(known) and not view.wall.attempts):
                return known
            # Everybody was moved away meanwhile. The round begins anew, and the dropped one is the host's failure.
            failures = known.failures + _failures(known) + 1
        played = {result.number for result in view.results}
        for (table, heat), earlier in self.seen.items():
            if table == self.table and view.first_heat <= heat < number:
                failures += _failures(earlier) + (_was_dropped(earlier) and heat not in played)
        return WallSeen(table=self.table, number=number, chair=view.you, failures=failures)

    # ---- nothing that was shown may change

    def _followed(self, seen: WallSeen, view: View) -> WallSeen:
        wall = view.wall
        if not seen.has_begun and (self._is_back or not (view.heat and seen.kind)):
            seen = seen.model_copy(update={"kind": wall.kind, "commitment": view.commitment, **_people(view)})
        elif wall.kind != seen.kind:
            return _stopped(
                seen, f"The wall {KIND_WORDS[seen.kind]}; now the table says that it {KIND_WORDS[wall.kind]}."
            )
        if fault := self._fault(seen, wall.attempts):
            return _stopped(seen, fault)
        added = len(wall.attempts) > len(seen.attempts)
        if not added and view.commitment != seen.commitment:  # of a wall without a round, or the running attempt's
            return _stopped(seen, _changed(seen.commitment, view.commitment))
        if added and view.commitment != wall.attempts[-1].commitment:
            return _stopped(seen, _changed(wall.attempts[-1].commitment, view.commitment))
        before = _failures(seen)
        now = seen.model_copy(update={"attempts": wall.attempts, "commitment": view.commitment})
        now = now.model_copy(update={"failures": seen.failures + _failures(now) - before})
        if view.heat is None:
            return now
        if wall.kind == "round" and not (wall.attempts and wall.attempts[-1].is_complete):
            return _stopped(now, "The table dealt before the wall was made.")
        return _with_heat(now, view.heat)

    def _fault(self, seen: WallSeen, attempts: tuple[Attempt, ...]) -> str:
        if len(attempts) < len(seen.attempts):
            return "The table took an attempt to make the wall back."
        for ours, theirs in zip(seen.attempts, attempts, strict=False):
            if ours.commitment != theirs.commitment:
                return _changed(ours.commitment, theirs.commitment)
            if ours.chairs != theirs.chairs:
                return "The table changed who takes part in the wall."
            for chair in range(4):
                for was, now in ((ours.hashes, theirs.hashes), (ours.values, theirs.values)):
                    if was[chair] and was[chair] != now[chair]:
                        return _altered(seen.name(chair), was[chair], now[chair])
            if ours.why and (ours.why, ours.silent) != (theirs.why, theirs.silent):
                return "The table changed why an attempt to make the wall failed."
        for number, attempt in enumerate(attempts, 1):
            if fault := self._attempt_fault(seen, number, attempt):
                return fault
            if attempt is attempts[-1]:
                continue
            if not attempt.why or not follows(attempt, attempts[number]):
                return f"The table began attempt {number + 1} without a reason."
            if attempts[number].commitment == attempt.commitment:
                return f"The table used one secret for two attempts to make the wall: {attempt.commitment[:SHORT]}."
        return ""

    def _attempt_fault(self, seen: WallSeen, number: int, attempt: Attempt) -> str:
        if attempt.number != number:
            return f"The table numbered attempt {number} of the wall {attempt.number}."
        for chair in range(4):
            if attempt.values[chair] and not fits(seen.table, seen.number, attempt, chair, attempt.values[chair]):
                return f"The value of {seen.name(chair)} does not fit its hash."
        own = seen.own[number - 1] if number <= len(seen.own) else b""
        shown = attempt.hashes[seen.chair]
        if own and shown and shown != (mine := value_hash(seen.table, seen.number, attempt, seen.chair, own)):
            return _altered("you", mine, shown)
        was_here = self._latest is not None and self._latest.you == seen.chair
        if shown and not own and number > len(seen.attempts) and was_here:
            return _altered("you", b"", shown)
        if seen.chair in attempt.silent and self._had_all(seen, attempt):
            return "The table named you silent, although it had taken your part in the wall."
        return ""

    def _had_all(self, seen: WallSeen, attempt: Attempt) -> bool:
        """Say whether the table had acknowledged all that was owed in an attempt."""
        kind = "wall value" if attempt.has_all_hashes else "wall hash"
        return (seen.number, attempt.number, kind) in self._taken

    def _named(self, before: WallSeen, now: WallSeen) -> list[str]:
        """Say who was silent, and that the host failed."""
        lines = []
        for number, attempt in enumerate(now.attempts):
            was = before.attempts[number].why if number < len(before.attempts) else ""
            if attempt.why == "silent" and not was:
                names = " and ".join("you" if chair == now.chair else now.name(chair) for chair in attempt.silent)
                lines.append(f"No part in the wall came from {names}; it is made again without.")
            elif attempt.why == "host" and not was:
                lines.append(
                    "The host's program failed to make the wall; it is made again. Once a set this may happen."
                )
        if now.failures > MOST_FAILURES >= before.failures:
            lines.append("It failed again: from here on the walls of this set are not checkable.")
        return lines

    # ---- one's own part

    def _own_part(self, seen: WallSeen) -> tuple[WallSeen, tuple[WallHash | WallValue, ...]]:
        if not seen.attempts or seen.attempts[-1].why or seen.chair not in seen.attempts[-1].chairs:
            return seen, ()
        attempt = seen.attempts[-1]
        own = seen.own_value()
        if not own and not attempt.hashes[seen.chair]:
            own = self.random_bytes(CONTRIBUTION_BYTES)
            missing = (b"",) * (len(seen.attempts) - 1 - len(seen.own))
            seen = seen.model_copy(update={"own": (*seen.own, *missing, own)})
        if not own:
            return seen, ()  # it was promised by a client whose file is gone
        intent: WallHash | WallValue
        if not attempt.hashes[seen.chair]:
            hashed = value_hash(seen.table, seen.number, attempt, seen.chair, own)
            intent = WallHash(heat=seen.number, attempt=attempt.number, hash=hashed)
        elif attempt.has_all_hashes and not attempt.values[seen.chair]:
            intent = WallValue(heat=seen.number, attempt=attempt.number, value=own)
        else:
            return seen, ()
        asked = (seen.number, attempt.number, intent.kind)
        if asked in self._asked:
            return seen, ()
        self._asked.add(asked)
        return seen, (intent,)

    # ---- what is told after the heat

    def with_evidence(self, heat: SeatHeat) -> SeatHeat:
        """Return one's own heat with what this client saw of its wall in place of anything that the table says."""
        return heat.model_copy(update={"seen": self.seen.get((self.table, heat.number))})

    def judge(self, number: int, data: bytes, complete: Complete) -> "Judged | None":
        """Check the file of a whole heat against what was seen of it; None if nothing was."""
        seen = self.seen.get((self.table, number))
        if seen is None or seen.seat < 0 or seen.kind == "laid":
            return None
        return Judged(seen.table, number, verdict(seen, all_faults(seen, data, complete)), read_aloud(seen, data))

    def take(self, judged: "Judged | None") -> None:
        """Note what a check came to."""
        if judged:
            self.judged[judged.table, judged.number] = judged

    # ---- what is shown

    @property
    def now(self) -> WallSeen | None:
        """What was seen of the wall of the running or the coming heat."""
        return self.seen.get((self.table, self._latest.wall.heat)) if self._latest else None

    def alarm(self) -> str:
        """Return what must be said while the heat runs: checking has ended, or one's value is not in the wall."""
        seen = self.now
        if seen is None:
            return ""
        if seen.stopped:
            return seen.stopped
        last = seen.attempts[-1] if seen.attempts else None
        if last and last.awaited and seen.chair not in last.awaited:
            return f"The wall waits for {' and '.join(seen.name(chair) for chair in last.awaited)}."
        return ""

    def short(self) -> str:
        """Return the commitment, cut to what can be compared at a glance."""
        seen = self.now
        return f"wall {seen.commitment[:SHORT]}" if seen and seen.commitment else ""

    def line(self, number: int) -> tuple[str, str]:
        """Return what is said of the wall of a heat that is over: loudly, or quietly with the words to read aloud."""
        found, words = self.after(number), self.words(number)
        if found.level == "loud":
            return found.text, ""
        known = "Wall checked." if found.level == "quiet" and words else found.text
        return "", f"{known} Read aloud: {words}" if found.level == "quiet" and words else known

    def before_deal(self) -> str:
        """Return how the coming heat's wall is made, where that is not by everybody."""
        seen = self.now
        return f"The wall {KIND_WORDS[seen.kind]}." if seen and seen.kind not in ("", "round", "laid") else ""

    def after(self, number: int) -> Verdict:
        """Return what is known of the wall of a heat that is over."""
        key = (self.table, number)
        if key in self.judged:
            return self.judged[key].verdict
        seen = self.seen.get(key)
        if seen is None or seen.seat < 0 or seen.kind == "laid":
            return Verdict(level="quiet", text="")
        if wrong := evidence_faults(seen):
            return verdict(seen, wrong)
        return Verdict(level="plain", text=NOT_TOLD)

    def told(self, view: View) -> list[str]:
        """Return all that can be said of the wall of the running or the coming heat, and of the one before."""
        seen, lines = self.now, [f"The wall's commitment is {view.commitment or 'none'}."]
        if seen:
            lines.append(f"The wall of heat {seen.number} {KIND_WORDS[seen.kind]}.")
            lines += [text for text in (self.alarm(),) if text]
            for number in (seen.number - 1, seen.number):
                lines += self.result(number)
        return lines

    def result(self, number: int) -> list[str]:
        """Return what is known of the wall of a heat that is over, and the words to read aloud."""
        words = self.words(number)
        lines = [self.after(number).text] if words and not self._runs(number) else []
        return [*lines, f"Words of heat {number}, the same for all: {words}."] if lines else []

    def _runs(self, number: int) -> bool:
        heat = self._latest.heat if self._latest else None
        return heat is not None and heat.number == number

    def words(self, number: int) -> str:
        """Return the four words of a heat that everybody must have alike; empty if it was not seen."""
        key = (self.table, number)
        if key in self.judged:
            return self.judged[key].aloud
        seen = self.seen.get(key)
        return read_aloud(seen) if seen and seen.seat >= 0 and seen.kind != "laid" else ""


def _people(view: View) -> dict[str, object]:
    host = next((number for number, chair in enumerate(view.chairs) if chair.host), -1)
    return {"host": host, "names": tuple(clean_name(chair.name) for chair in view.chairs)}


def _with_heat(seen: WallSeen, heat: HeatView) -> WallSeen:
    """Add what a view shows of the running heat; what was shown before may not change."""
    if seen.seat not in (-1, heat.seat):
        return _stopped(seen, "The table changed which seat you play.")
    changes: dict[str, object] = {"seat": heat.seat}
    if heat.dealt:
        if seen.dealt and sorted(seen.dealt) != sorted(heat.dealt):
            return _stopped(seen, "The table changed the tiles that you were dealt.")
        changes["dealt"] = heat.dealt
    steps = tuple(
        SeenStep(step=step.step, given=step.given, blind=step.blind, came=step.came)
        for step in heat.route
        if step.state == "done"
    )
    steps = steps[:-1] if heat.face_down else steps  # what came by the last one is not known yet
    if steps[: len(seen.steps)] != seen.steps:
        return _stopped(seen, "The table changed a step that was over.")
    return seen.model_copy(update={**changes, "steps": steps})


def _failures(seen: WallSeen) -> int:
    return sum(attempt.why == "host" for attempt in seen.attempts)


def _was_dropped(seen: WallSeen) -> bool:
    """Say whether a round was begun from which no heat followed."""
    return bool(seen.attempts) and seen.seat < 0


def _stopped(seen: WallSeen, text: str) -> WallSeen:
    return seen.model_copy(update={"stopped": f"{text} Your client checks no further and opens nothing."})


def _changed(was: str, now: str) -> str:
    return f"THE TABLE CHANGED ITS PROMISE: it showed {was[:SHORT] or 'none'}, now {now[:SHORT] or 'none'}."


def _altered(who: str, was: bytes, now: bytes) -> str:
    return f"THE TABLE ALTERED A PART OF THE WALL, of {who}: {was.hex()[:SHORT] or 'none'} is now {now.hex()[:SHORT]}."
