"""The standings of an evening: by speed, by loss for each unforced pass, and by points against the same seat elsewhere.

Pure. The input is one Played value for each heat, table and seat, in any order. All ratios are exact fractions, so
rounding never makes or breaks a tie.

What counts, and why:
- If a bot answered even one step for a seat, the heat is marked and counts in no standing, neither for the seat's
  person nor for those compared with it: no person decided it alone. Bots in the other seats do not matter. A heat that
  East won with the deal is marked too: nobody decided anything.
- A standing leaves out heats whose numbers are missing (not reviewed yet); it does not count them as zero.
- Who played fewer heats themselves than the host asks for has a line without a place, below the others. Until
  somebody has played so many, the most that anybody has played is enough.
"""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Annotated, Literal

from pydantic import Field

from shared.records import Record
from shared.rules.seat_heat import SeatHeat
from shared.rules.steps import StepName

_UNIT = 1_000
"""Points and losses count as equal if they agree to a thousandth: anything below is floating-point noise."""

Millis = Annotated[int, Field(ge=0)]
Points = Annotated[float, Field(allow_inf_nan=False)]


class Spent(Record):
    """The time a seat used in one step, and the step's own length."""

    step: StepName
    spent_ms: Millis
    length_ms: Millis


class Reviewed(Record):
    """The totals of a coach's review of one seat's heat, in points: loss sums over the unforced passes (a person's own
    decisions), unforced is their number; points is the rack's worth at the end."""

    loss: float = Field(ge=0, allow_inf_nan=False)
    unforced: int = Field(ge=0)
    points: Points


class Played(Record):
    """One seat's result in one heat.

    heat numbers the rounds of the evening from 1; seat counts from East (0); person is a key that stays the same all
    evening, empty if only a bot played; name is theirs, who names all who played, and bot says that somebody else
    answered a step, a bot as a rule. level_ms is the length of the played steps together
    (without the second Charleston after a stop). loss, unforced and points come from Reviewed; until the review they
    are None, 0 and None. Heats with the same deal had the same tiles, seat for seat.
    """

    heat: int = Field(ge=1)
    table: str
    seat: int = Field(ge=0, le=3)
    person: str
    name: str
    who: str = ""
    bot: bool
    total_ms: Millis
    level_ms: int = Field(gt=0)
    timeouts: int = Field(ge=0)
    loss: Annotated[float, Field(ge=0, allow_inf_nan=False)] | None = None
    unforced: int = Field(0, ge=0)
    points: Points | None = None
    deal: str
    spent: tuple[Spent, ...] = ()

    def with_review(self, review: Reviewed) -> "Played":
        """Return it with the totals of its review."""
        return self.model_copy(update=dict(review))

    @property
    def in_time(self) -> bool:
        """Whether the heat stayed inside the level: no timeout, and no longer than the level in all."""
        return self.timeouts == 0 and self.total_ms <= self.level_ms


@dataclass(frozen=True, slots=True)
class Measure:
    """One standing as players read it: its name on screens, pages and in files, which way is better, what counts."""

    key: Literal["speed", "loss", "points"]
    title: str
    better: Literal["less", "more"]
    rule: str

    def said(self, value: float) -> str:
        """Return a value in words; value is a share from 0 to 1, or points for the loss."""
        return f"{value:.2f}" if self.key == "loss" else f"{value * 100:.1f}%"


MEASURES = (
    Measure(
        "speed",
        "time used",
        "less",
        "Part of the time that all steps allow. A heat in which a clock ran out counts as all of it at least.",
    ),
    Measure("loss", "points lost a pass", "less", "By the coach's review, over the passes with a choice."),
    Measure(
        "points",
        "tables beaten",
        "more",
        "Part of the tables with the same rack whose final rack was worth less; a tie counts half.",
    ),
)


@dataclass(frozen=True, slots=True)
class StandingsRow:
    """One line of a standing: amount out of `of`, in milliseconds, thousandths of a point, or matchpoints.

    place is 0 for somebody with too few heats; tied says whether others share it; heats is how many heats count here.
    """

    place: int
    tied: bool
    person: str
    name: str
    heats: int
    amount: Fraction
    of: Fraction

    @property
    def value(self) -> Fraction:
        """The ratio that decides the place: amount / of."""
        return self.amount / self.of


@dataclass(frozen=True, slots=True)
class Guest:
    """A person's evening in numbers: heats, heats inside the level, timeouts, and heats in which a bot answered."""

    person: str
    name: str
    heats: int
    in_time: int
    timeouts: int
    with_bot: int


@dataclass(frozen=True, slots=True)
class Matched:
    """A seat's result in one comparison: matchpoints scored and the most it could score."""

    scored: Fraction
    most: int


@dataclass(frozen=True, slots=True)
class Standings:
    """The three standings, best first and those without a place last, and the guests by name.

    speed: share of the level used, less is better; a heat outside the level counts as the whole level at least.
    loss: thousandths of a point lost for each unforced pass, less is better.
    points: share of the possible matchpoints, more is better.
    """

    speed: tuple[StandingsRow, ...]
    loss: tuple[StandingsRow, ...]
    points: tuple[StandingsRow, ...]
    guests: tuple[Guest, ...]


def rows_of(standings: Standings, measure: Measure) -> tuple[StandingsRow, ...]:
    """Return the lines of one standing."""
    return {"speed": standings.speed, "loss": standings.loss, "points": standings.points}[measure.key]


def from_seat_heat(heat: SeatHeat, person: str, deal: str, round_number: int) -> Played:
    """Return a seat's result in a saved heat, before its review."""
    timed = [step for step in heat.steps if step.step != "plan"]
    return Played(
        heat=round_number,
        table=heat.table,
        seat=heat.seat,
        person=person,
        name=heat.names[heat.seat],
        who=heat.names[heat.seat],
        bot=heat.east_won or any(step.by == "bot" for step in heat.steps),
        total_ms=sum(step.spent_ms for step in timed),
        level_ms=sum(step.length_ms for step in timed) or heat.settings.total_ms(),
        timeouts=sum(step.by == "timeout" for step in timed),
        deal=deal,
        spent=tuple(Spent(step=one.step, spent_ms=one.spent_ms, length_ms=one.length_ms) for one in timed),
    )


def matchpoints(evening: Iterable[Played]) -> dict[Played, Matched]:
    """Return each seat's matchpoints: one for every other table it beat in the same seat and deal, half for a tie.

    Compares only reviewed seats without a bot, if there are at least two. n of them share n(n-1)/2 matchpoints.
    """
    groups: dict[tuple[str, int], list[Played]] = defaultdict(list)
    for one in evening:
        if one.points is not None and not one.bot:
            groups[one.deal, one.seat].append(one)
    found: dict[Played, Matched] = {}
    for group in groups.values():
        if len(group) > 1:
            ordered = sorted(_thousandths(one.points) for one in group)
            found |= {one: _matched(_thousandths(one.points), ordered) for one in group}
    return found


def standings(evening: Iterable[Played], least: int = 1) -> Standings:
    """Return the standings of an evening; a place needs so many heats of one's own, or as many as anybody played.

    Raises:
        ValueError: two values are for the same heat, table and seat.
    """
    every = sorted(evening, key=lambda one: (one.heat, one.table, one.seat))
    if len({(one.heat, one.table, one.seat) for one in every}) < len(every):
        raise ValueError("There are two results for one seat of one heat.")
    people: dict[str, list[Played]] = defaultdict(list)
    for one in every:
        if one.person:
            people[one.person].append(one)
    own = {person: [one for one in played if not one.bot] for person, played in people.items()}
    matched = matchpoints(every)
    least = min(least, max(map(len, own.values()), default=0))
    return Standings(
        speed=_ranked(own, lambda one: (Fraction(_charged_ms(one)), Fraction(one.level_ms)), least),
        loss=_ranked(own, _loss, least),
        points=_ranked(own, lambda one: _share(matched.get(one)), least, most_first=True),
        guests=tuple(sorted(map(_guest, people.values()), key=lambda guest: (guest.name, guest.person))),
    )


def _matched(own: Fraction, ordered: Sequence[Fraction]) -> Matched:
    beaten = bisect_left(ordered, own)
    tied = bisect_right(ordered, own) - beaten - 1
    return Matched(beaten + Fraction(tied, 2), len(ordered) - 1)


def _charged_ms(one: Played) -> int:
    return one.total_ms if one.in_time else max(one.total_ms, one.level_ms)


def _loss(one: Played) -> tuple[Fraction, Fraction] | None:
    return (_thousandths(one.loss), Fraction(one.unforced)) if one.loss is not None and one.unforced else None


def _share(matched: Matched | None) -> tuple[Fraction, Fraction] | None:
    return (matched.scored, Fraction(matched.most)) if matched else None


def _thousandths(points: float | None) -> Fraction:
    assert points is not None
    return Fraction(round(points * _UNIT))


def _ranked(
    people: dict[str, list[Played]],
    measure: Callable[[Played], tuple[Fraction, Fraction] | None],
    least: int,
    most_first: bool = False,
) -> tuple[StandingsRow, ...]:
    """Add up each person's measures and rank the people; equals share a place, and the next place is skipped."""
    lines: list[StandingsRow] = []
    below: list[StandingsRow] = []
    for person, played in people.items():
        counted = [parts for one in played if (parts := measure(one))]
        if counted:
            amount, of = (sum(column, Fraction(0)) for column in zip(*counted, strict=True))
            line = StandingsRow(0, False, person, played[-1].name, len(counted), amount, of)
            (lines if len(played) >= least else below).append(line)
    values = sorted(line.value for line in lines)

    def placed(line: StandingsRow) -> StandingsRow:
        less, not_more = bisect_left(values, line.value), bisect_right(values, line.value)
        better = len(values) - not_more if most_first else less
        return StandingsRow(better + 1, not_more - less > 1, line.person, line.name, line.heats, line.amount, line.of)

    ranked = sorted(map(placed, lines), key=lambda line: (line.place, line.name, line.person))
    return (*ranked, *sorted(below, key=lambda line: (line.name, line.person)))


def _guest(played: list[Played]) -> Guest:
    own = [one for one in played if not one.bot]
    return Guest(
        person=played[-1].person,
        name=played[-1].name,
        heats=len(played),
        in_time=sum(one.in_time for one in own),
        timeouts=sum(one.timeouts for one in own),
        with_bot=len(played) - len(own),
    )
