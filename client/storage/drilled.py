"""When a decision of one's own comes back, and what came of each round of a drill.

When something comes back is decided by the library fsrs, from how well it went each time. Pure: the time is an
argument.
"""

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Annotated, Literal

from pydantic import Field

from shared.records import Record
from shared.rules.decisions import Rating

Count = Annotated[int, Field(ge=0)]
Seconds = Annotated[int, Field(ge=0, le=8_000 * 366 * 86_400)]
"""Whole seconds since 1970, in universal time; within what a date can be."""


class Memory(Record):
    """What fsrs keeps of one decision, in its own words."""

    state: Literal[1, 2, 3]
    stability: Annotated[float, Field(gt=0)]
    difficulty: Annotated[float, Field(ge=1, le=10)]
    due_s: Seconds
    reviewed_s: Seconds

    @property
    def due(self) -> datetime:
        """When it comes back."""
        return datetime.fromtimestamp(self.due_s, UTC)


class Round(Record):
    """What came of a round: when it was played, how many decisions of each rating, seconds and points in all.

    Points count the decisions that were answered.
    """

    played_s: Seconds
    best: Count
    close: Count
    costly: Count
    out: Count
    spent_ms: Count
    points: Annotated[float, Field(ge=0)]

    @property
    def count(self) -> int:
        """How many decisions there were."""
        return self.best + self.close + self.costly + self.out

    @property
    def seconds(self) -> float:
        """Seconds for a decision, on average."""
        return self.spent_ms / 1000 / max(1, self.count)

    @property
    def lost(self) -> float:
        """Points lost at a decision that was answered, on average."""
        return self.points / max(1, self.count - self.out)


def remember(memory: Memory | None, rating: Rating, now: datetime) -> Memory:
    """Return when a decision comes back after it went so well; memory is None if it comes for the first time.

    There are no steps of minutes: the same rack within ten minutes would ask for the answer and not for judgement.
    """
    from fsrs import Card, Scheduler, State
    from fsrs import Rating as Graded

    grades = {"best": Graded.Easy, "close": Graded.Good, "costly": Graded.Hard, "out of time": Graded.Again}
    card = Card(card_id=1, due=now)
    if memory is not None:
        reviewed = datetime.fromtimestamp(memory.reviewed_s, UTC)
        card = Card(1, State(memory.state), None, memory.stability, memory.difficulty, memory.due, reviewed)
    scheduler = Scheduler(learning_steps=(), relearning_steps=(), enable_fuzzing=False)
    after, _ = scheduler.review_card(card, grades[rating], now.astimezone(UTC))
    assert after.stability is not None
    assert after.difficulty is not None
    return Memory(
        state=after.state.value,
        stability=after.stability,
        difficulty=after.difficulty,
        due_s=int(after.due.timestamp()),
        reviewed_s=int(now.timestamp()),
    )


def record_lines(now: Round, earlier: Sequence[Round]) -> tuple[str, ...]:
    """Return what came of a round, beside the earlier ones: seconds and points of a decision, and how many were best.

    Points are beside each other only where something was answered.
    """
    lines = [_line("This round", now)]
    if earlier:
        last = earlier[-5:]
        lines.append(_line("The one before" if len(last) == 1 else f"Your last {len(last)}", *last))
        lines.append(_line("Your best", min(earlier, key=lambda each: (each.out, each.lost, each.seconds))))
    return tuple(lines)


def _line(name: str, *rounds: Round) -> str:
    count, out = sum(each.count for each in rounds), sum(each.out for each in rounds)
    best, answered = sum(each.best for each in rounds), count - out
    seconds = sum(each.spent_ms for each in rounds) / 1000 / max(1, count)
    lost = f"{sum(each.points for each in rounds) / answered:.1f} points lost" if answered else "none answered"
    late = f", {out} out of time" if out else ""
    return f"{name}: {seconds:.1f} s and {lost} a decision; {best} of {count} best{late}."
