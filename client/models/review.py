"""What the pages of a review say, on screens and as plain text: verdicts, answers, ways, hands before and after. Pure.

Must never hold what the coach did not say: it puts a review's values into words and columns.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from client.models.guided import UNTIMED_MS
from client.models.heat_end import HeatEnd, heat_end
from client.models.ran_out import time_ran_out
from client.target import Named
from shared.cards.freedom import listed
from shared.cards.said import listed_tiles
from shared.coach.estimate import LEAST_TOLD
from shared.rules.seat_heat import AnsweredBy, SeatHeat
from shared.rules.tiles import format_tiles

if TYPE_CHECKING:
    from shared.cards.picture import AgainstRack
    from shared.coach.ranking import RankedPass
    from shared.coach.review import Review, StepReview, Verdict, Way
    from shared.coach.serving import Served, Use

USE_WORDS: "dict[Use, str]" = {"best": "best hand", "other": "another", "idle": "idle"}
"""What a tile is for, in a word or two: the likeliest hand, another hand within reach, none."""
USE_SIGNS: "dict[Use, str]" = {"best": "◆", "other": "◈", "idle": "◇"}
PLAIN_SIGNS: "dict[Use, str]" = {"best": "#", "other": "+", "idle": "-"}
_WHO: dict[AnsweredBy, str] = {
    "person": "",
    "timeout": "the clock answered",
    "bot": "a bot answered",
    "other": "somebody else answered",
}
_MARKS: dict[AnsweredBy, str] = {"person": "", "timeout": "out", "bot": "bot", "other": "else"}
Grade = Literal["good", "quiet", "warn"]


# ---- the first page


@dataclass(frozen=True, slots=True)
class Row:
    """One step at a glance: its name, seconds and points, what was answered, and a mark if something was amiss."""

    step: str
    spent_ms: int
    length_ms: int
    mark: str
    answer: str = ""
    lost: float = 0.0
    said: str = ""
    grade: Grade = "quiet"


def rows(review: "Review", plain: bool = False) -> tuple[Row, ...]:
    """Return every step at a glance; what the coach has not looked at yet has dots for a verdict."""
    return tuple(_row(step, "+/-" if plain else "±") for step in review.steps)


def _row(step: "StepReview", error: str) -> Row:
    lived, verdict = step.lived.step, step.verdict
    over = "over" if lived.by == "person" and lived.spent_ms > lived.length_ms else ""
    mark = _MARKS[lived.by] or over
    if verdict is None:
        return Row(lived.step, lived.spent_ms, lived.length_ms, mark, said="" if lived.step == "plan" else "...")
    said, grade = _short(verdict, error)
    return Row(lived.step, lived.spent_ms, lived.length_ms, mark, way_words(verdict.own), verdict.loss, said, grade)


def _short(verdict: "Verdict", error: str) -> tuple[str, Grade]:
    if verdict.judged.forced:
        return "no choice", "quiet"
    if not verdict.own.place:
        return "best", "good"
    if verdict.too_close:
        return "too close", "quiet"
    return f"-{verdict.loss:.1f} {error}{verdict.judged.se:.1f}", "warn"


def first_page(heat: SeatHeat, review: "Review", named: Sequence[Named], numbers: bool, trouble: str = "") -> HeatEnd:
    """Return the sentence of the heat, its balance of points and its target, as the end of the heat says them."""
    return heat_end(heat, review, named, None, trouble, numbers)


# ---- a step


def asked_for_it(step: "StepReview") -> str:
    """Return what a step's verdict is called, and why there is none yet."""
    verdict = step.verdict
    if verdict is None:
        return "The plan" if step.lived.step.step == "plan" else "The coach has not looked at this step yet ..."
    if verdict.judged.forced:
        return "Nothing to choose."
    better = verdict.ways[0].says
    more = f" Better: {better}." if better and verdict.own.place and not verdict.too_close else ""
    return f"{verdict.own.verdict}{more}"


def timed(step: "StepReview") -> str:
    """Return the seconds of a step against its length, what was carried to it, and who answered if not the player."""
    lived = step.lived.step
    carried = f", {lived.budget_ms / 1_000:.1f} with carried time" if lived.budget_ms > lived.length_ms else ""
    who = f"; {_WHO[lived.by]}" if _WHO[lived.by] else ""
    of = f" of {lived.length_ms / 1_000:.0f}{carried}" if lived.length_ms < UNTIMED_MS else ""
    return f"{lived.spent_ms / 1_000:.1f} s{of}{who}"


def sentences(step: "StepReview", numbers: bool) -> tuple[str, ...]:
    """Return what is said of a step: what the clock did, the coach's reasons, the kind of mistake; then the luck."""
    lived, verdict = step.lived.step, step.verdict
    if verdict is None:
        return ()
    said = [time_ran_out(lived.given)] if lived.by == "timeout" and not verdict.own.says else []
    said += verdict.own.numbers if numbers else verdict.own.words
    if verdict.kinds:
        said.append(f"That was {listed(list(verdict.kinds))}.")
    luck = "" if verdict.luck is None else f"Luck after it: {verdict.luck:+.1f} points."
    return tuple(text for text in (" ".join(said), luck) if text)


def went_words(step: "StepReview") -> str:
    """Return what a step's answer was, where it was no pass of tiles; for a plan the first discards."""
    lived = step.lived.step
    if lived.vote is not None:
        return "You said go on." if lived.vote else "You said stop."
    if lived.offer is not None:
        return f"You offered {lived.offer}{f' to your {lived.to}' if lived.to else ''}."
    if lived.step == "plan":
        return f"First discards: {listed_tiles(lived.discards)}." if lived.discards else "No first discards were named."
    return f"{lived.blind} more went blind." if lived.blind else ""


def way_words(way: "Way") -> str:
    """Return a way in a few cells: what it says, or its tiles and how many go unseen."""
    return way.says or pass_words(way.ranked)


def pass_words(ranked: "RankedPass") -> str:
    """Return a pass in codes with its number of blind tiles, such as "9d N + 1 blind"."""
    unseen = f"{ranked.blind} blind" if ranked.blind else ""
    return " + ".join(part for part in (format_tiles(ranked.tiles), unseen) if part) or "nothing"


def less_words(way: "Way", numbers: bool) -> str:
    """Return how much less than the best a way is worth; one that is too close to call is called so."""
    if not way.place:
        return "best"
    less = f"-{way.loss.points:.1f} ± {way.loss.se:.1f}" if numbers else _plainly(way.loss.points)
    return f"{less}, too close" if way.loss.too_close else less


def _plainly(points: float) -> str:
    return f"{points:.1f} less" if points >= LEAST_TOLD else "no less"


def keeps_words(way: "Way") -> str:
    """Return the likeliest hand that a way keeps, and how many more are within reach."""
    if not way.targets:
        return "" if way.says else "keeps no hand within reach"
    more = f", and {way.reach - 1} more" if way.reach > 1 else ""
    return f"keeps {way.targets[0]}{more}"


def points_words(way: "Way") -> str:
    """Return a way's points and gift, for those who want numbers."""
    gift = "" if way.ranked.gift is None else f", gift {way.ranked.gift:.1f}"
    return f"{way.ranked.points:.1f} ± {way.ranked.se:.1f} points{gift}"


def hands_shown(served: "Served") -> "Iterator[tuple[str, str, AgainstRack]]":
    """Yield the hands to draw: the name, "" where it is the one before, a word in front, and the drawing."""
    if served.before is None or served.after is None:
        return
    yield served.before.name, "before", served.before.drawn
    if served.after.drawn != served.before.drawn:
        yield "", "after", served.after.drawn
    if served.now is not None:
        yield served.now.name, "after", served.now.drawn


def costliest_step(review: "Review", end: HeatEnd) -> "StepReview | None":
    """Return the step that the sentence of the heat speaks of."""
    return next((step for step in review.steps if end.costly and step.lived.step.step == end.costly.step), None)
