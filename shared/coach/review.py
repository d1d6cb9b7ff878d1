"""The review of one seat's heat: at every step the best answers, the seat's own, and what followed.

Must never use what the seat could not know: every step is ranked from its own position, and everything that the seat
did not decide is luck. A review is a generator: each value holds one step more, so a screen can show it as it grows.
`check` may raise Stopped at any time.

Steps without a pass get points on the same scale:
- The vote: see votes.py. If the seat's
  answer is worth less than the other, the difference is its loss. If another seat stops, that is luck.
- An offer is worth the best pass of that many tiles. If the partner offers fewer, the difference is luck.
- The plan moves no tiles and has no points; we compare it with the likeliest hands at the end.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from zlib import crc32

import numpy as np

from shared.coach.coach import Coach
from shared.coach.engine import Check
from shared.coach.estimate import Estimate
from shared.coach.evidence import Evidence, Plans, evidence
from shared.coach.kinds import GOING_ON, OFFERING_TOO_FEW, OFFERING_TOO_MANY, STOPPING, Ways, kinds_of
from shared.coach.known import Known
from shared.coach.ledger import Judged, Ledger, LedgerEntry, balance
from shared.coach.lived import Lived, LivedHeat
from shared.coach.passes import Position, tiles_of
from shared.coach.planned import End, look_at_the_end
from shared.coach.questions import Said, offer_said, vote_said
from shared.coach.ranking import THINK, Effort, RankedPass, Ranking
from shared.coach.reasons import hands_now, outlook
from shared.coach.sentences import YOU, tell_pass
from shared.coach.serving import Served, serve
from shared.coach.standing import Standing, standings
from shared.coach.votes import votes
from shared.coach.words import Target, judged, targets_after, targets_before, verdict_of
from shared.rules.seat_heat import AnsweredBy, SeatHeat, SeatStep
from shared.rules.steps import PASSES, STEPS
from shared.rules.tiles import Rack, Tile
from shared.wire.views import HeatView

LEADING = 5
"""How many of the best answers of a step a review shows."""
_MOST_KEPT = 3
"""How many of the hands that an answer keeps are told."""


@dataclass(frozen=True)
class Way:
    """One way to answer a step.

    Attributes:
        ranked: its tiles, how many it forwards unseen, points with their standard error, gift.
        place: 0 for the best; passes that were only screened do not count.
        loss: how much less it is worth than the best, from the same futures.
        says: "go on", "stop" or "offer 2" if the answer is not a pass, else empty.
        words: the coach's sentences, for the best answer and the seat's own.
        numbers: the same with points, chances and gifts.
        targets: the hands that it keeps alive, likeliest first.
        reach: how many hands it keeps within reach.
    """

    ranked: RankedPass
    place: int
    loss: Estimate
    says: str = ""
    words: tuple[str, ...] = ()
    numbers: tuple[str, ...] = ()
    targets: tuple[Target, ...] = ()
    reach: int = 0

    @property
    def verdict(self) -> str:
        """Best, as good as the best, or what it cost."""
        return verdict_of(self.loss, not self.place)


@dataclass(frozen=True)
class Verdict:
    """What the coach says about one step.

    Attributes:
        ways: the leading answers, best first; the seat's own is among them or last.
        own: the seat's own answer.
        count: how many answers there were.
        judged: the decision, for the ledger.
        luck: the worth afterwards minus the worth of the own answer, in points; None until the next step is judged.
        kinds: the kinds of mistake, if the answer was not the best.
        worths: for each kind in the rack, the points that one tile of it adds, most first.
        targets: the hands that the own answer kept alive, likeliest first.
        said: one sentence.
        hands: how every hand of the card stood before the answer.
        evidence: what a pass says of its player's habits; None at the vote, and before and after the six passes.
    """

    ways: tuple[Way, ...]
    own: Way
    count: int
    judged: Judged
    luck: float | None = None
    kinds: tuple[str, ...] = ()
    worths: tuple[tuple[Tile, Estimate], ...] = ()
    targets: tuple[Target, ...] = ()
    said: str = ""
    hands: tuple[Standing, ...] = ()
    evidence: Evidence | None = None

    @property
    def loss(self) -> float:
        """How many points less the own answer is worth than the best, gifts counted; never negative."""
        return self.judged.best.net - self.judged.chosen.net

    @property
    def given(self) -> float:
        """What counts of the own answer's gift, less the same of the best answer's, in points."""
        return self.judged.chosen.given - self.judged.best.given

    @property
    def too_close(self) -> bool:
        """Whether the loss is too close to call."""
        return Estimate(self.loss, self.judged.se).too_close

    @property
    def is_own(self) -> bool:
        """Whether a person made this decision and had a choice."""
        return self.judged.by == "person" and not self.judged.forced


@dataclass(frozen=True)
class StepReview:
    """One step of the seat, and the coach's verdict once there is one (a plan never gets one).

    served is what the tiles of the rack are for; None until that is known.
    """

    lived: Lived
    verdict: Verdict | None = None
    served: Served | None = None


@dataclass(frozen=True)
class Review:
    """A review so far.

    Attributes:
        steps: every step of the seat, in order.
        done: the share of the work done, 0 to 1.
        ledger: luck and loss from the deal to the end, once every step is judged; None of a heat that is not whole.
        end: the likeliest hands at the end compared with the plan, once every step is judged; None as above.
    """

    steps: tuple[StepReview, ...]
    done: float = 0.0
    ledger: Ledger | None = None
    end: End | None = None

    @property
    def start(self) -> float | None:
        """The worth of the dealt rack with the best first pass, in points; None until that is known."""
        return next((step.verdict.judged.best.points for step in self.steps if step.verdict), None)


def seed_of(heat: SeatHeat | HeatView) -> int:
    """Return the seed of a heat's review, made from the seat's dealt tiles alone: it can depend on nothing unseen."""
    return crc32(" ".join(heat.dealt).encode())


def review(
    coach: Coach,
    heat: LivedHeat,
    seed: int,
    effort: Effort = THINK,
    check: Check | None = None,
    known: Known | None = None,
) -> Iterator[Review]:
    """Yield the growing review of a heat: first the times alone, then one step more each, at last everything.

    Args:
        coach: the heat's card with its engine.
        heat: from lived().
        seed: fixes the futures; see seed_of.
        effort: how much work each ranking may cost.
        check: called with the share done; may raise Stopped.
        known: answers that were given before, if any are kept.

    Raises:
        Stopped: by check.
    """
    steps = [StepReview(each) for each in heat.steps]
    yield Review(tuple(steps))
    judge, earlier, before = _Judge(coach, heat.final, seed, effort, known or Known()), tuple[Target, ...](), -1
    for number, step in enumerate(steps):
        judge.check = partial(_checked, check, number, len(steps))
        verdict = judge.verdict(step.lived, earlier)
        steps[number] = StepReview(step.lived, verdict, judge.served(step.lived, verdict))
        if verdict is None:
            continue
        verdict = replace(verdict, hands=judge.standings(judge.knew(step.lived)))
        steps[number] = replace(steps[number], verdict=verdict)
        if before >= 0:
            steps[before] = _followed(steps[before], verdict.judged.best.points)
        before, earlier = number, verdict.targets or earlier
        yield Review(tuple(steps), (number + 1) / (len(steps) + 1))
    if not heat.is_whole:
        yield Review(tuple(steps), 1.0)
        return
    end = coach.engine.as_it_is(heat.final)
    if before >= 0:
        steps[before] = _followed(steps[before], end)
    ledger = balance([step.verdict.judged for step in steps if step.verdict], end)
    yield Review(tuple(steps), 1.0, ledger, look_at_the_end(coach, heat, seed))


@dataclass(frozen=True)
class Compared:
    """A pass and the leading ones: all, best first (the pass among them or last); the pass; how many were ranked."""

    ways: tuple[Way, ...]
    own: Way
    count: int


def compare(
    coach: Coach,
    position: Position,
    tiles: Rack,
    blind: int,
    seed: int,
    effort: Effort = THINK,
    check: Check | None = None,
    known: Known | None = None,
    who: str = YOU,
) -> Compared:
    """Compare a pass with the leading ones: for a review, a second try, or a hint after a pass.

    known is where answers are kept, if anywhere; who made the pass is YOU or another.

    Raises:
        ValueError: it is not legal in the position.
        Stopped: by check.
    """
    known = known or Known()
    ranking = known.rank(coach.engine, position, seed, effort, ((tiles, blind),), check)
    place = ranking.place(tiles, blind)
    asked = "beside", coach, position, seed, effort, place, who
    return known.once(asked, lambda: beside(coach, position, ranking, place, seed, who))


def beside(coach: Coach, position: Position, ranking: Ranking, own: int, seed: int, who: str = YOU) -> Compared:
    """Compare the pass at a place of a ranking with the leading ones, in words; who made it is YOU or another."""
    engine, card = coach.engine, coach.card
    places = [*range(min(LEADING, len(ranking.outcomes))), *([own] if own >= LEADING else [])]
    ways = []
    for place in places:
        way = kept_by(coach, position, Way(ranking.passes[place], place, ranking.gap(place)))
        if place in (0, own):
            told = tell_pass(engine, card, position, way.ranked, ranking.best, way.loss, seed, who)
            way = replace(way, words=told.plain, numbers=told.numbers)
        ways.append(way)
    mine = next(way for way in ways if way.place == own)
    return Compared(tuple(ways), mine, len(ranking.passes))


def kept_by(coach: Coach, position: Position, way: Way) -> Way:
    """Return a way with the hands that it keeps within reach."""
    hands = outlook(coach.engine, coach.card, position, way.ranked.tiles).hands
    return replace(way, targets=hands[:_MOST_KEPT], reach=len(hands))


def judge_step(coach: Coach, step: SeatStep, position: Position, seed: int, effort: Effort = THINK) -> Verdict:
    """Judge one answer by itself, at a vote, an offer or a pass: with the numbers that the heat's review has."""
    lived = Lived(step, position.rack, position.passed, position.later, position, position.face_down)
    verdict = _Judge(coach, position, seed, effort, Known()).verdict(lived, ())
    assert verdict is not None
    return verdict


def _checked(check: Check | None, number: int, count: int, share: float) -> None:
    if check is not None:
        check((number + share) / (count + 1))


def _followed(step: StepReview, reached: float) -> StepReview:
    """Return a step with its luck: the worth reached after it minus the worth of the seat's own answer."""
    assert step.verdict is not None
    return replace(step, verdict=replace(step.verdict, luck=reached - step.verdict.judged.chosen.points))


def look_ahead(coach: Coach, step: SeatStep, position: Position, seed: int, known: Known) -> None:
    """Think of what the review of a heat that still runs will ask of one step, and keep it.

    Args:
        coach: the card with its engine.
        step: the answer; of an offer and a vote what it says does not matter yet.
        position: what the seat knew when it answered; see seen.py.
        seed: of the heat; see seed_of.
        known: where answers are kept.
    """
    judge = _Judge(coach, position, seed, THINK, known)
    lived = Lived(step, position.rack, position.passed, position.later, position, position.face_down)
    match STEPS[step.step].ask:
        case "pass" | "give":
            judge.served(lived, judge.verdict(lived, ()))
        case "offer":
            judge.rank_offers(position)
        case "vote":
            votes(coach.engine, position, seed, THINK, known=known)
    judge.standings(position)


_WHO: dict[AnsweredBy, str] = {"person": YOU, "timeout": "The clock", "bot": "The bot", "other": "Somebody else"}


class _Judge:
    """Judges the steps of one heat."""

    def __init__(self, coach: Coach, final: Position, seed: int, effort: Effort, known: Known) -> None:
        self.coach, self.engine, self.final = coach, coach.engine, final
        self.seed, self.effort, self.known = seed, effort, known
        self.check: Check | None = None
        self.plans = Plans()

    def verdict(self, step: Lived, earlier: tuple[Target, ...]) -> Verdict | None:
        """Return the verdict on a step; None for a plan."""
        match STEPS[step.step.step].ask:
            case "vote":
                return self._vote(step)
            case "offer":
                return self._offer(step)
            case "plan":
                return None
            case _:
                return self._pass(step, earlier)

    def served(self, step: Lived, verdict: Verdict | None) -> Served:
        """Return what the tiles of a step's rack are for: the hands that the best answer keeps within reach."""
        engine, card = self.engine, self.coach.card
        if verdict is None or step.position is None:
            now = self.knew(step) if verdict else self.final
            return serve(self.coach, step, hands_now(engine, card, now))
        best, own = (
            outlook(engine, card, step.position, way.ranked.tiles).hands for way in (verdict.ways[0], verdict.own)
        )
        return serve(self.coach, step, best, own)

    def knew(self, step: Lived) -> Position:
        """Return what the seat knew when it answered a step."""
        return step.position or replace(
            self.final,
            rack=step.rack,
            passed=step.passed,
            courtesy=False,
            made=None,
            face_down=step.face_down,
        )

    def rank(self, position: Position, also: tuple[tuple[Rack, int], ...] = ()) -> Ranking:
        """Return the ranking of a position, with these passes tried in futures."""
        return self.known.rank(self.engine, position, self.seed, self.effort, also, self.check)

    def rank_offers(self, position: Position) -> Ranking:
        """Return the ranking of a courtesy offer: the passes of each number with the greatest measure are tried."""
        choices, measure = self.engine.screen(position)
        firsts = [np.flatnonzero(choices.number == number) for number in position.gives]
        leaders = [rows[np.argmax(measure[rows])] for rows in firsts if len(rows)]
        return self.rank(position, tuple((tiles_of(choices.tiles[row]), 0) for row in leaders))

    def _pass(self, step: Lived, earlier: tuple[Target, ...]) -> Verdict:
        position, lived = step.position, step.step
        assert position is not None
        who = _WHO[lived.by]
        found = compare(
            self.coach, position, lived.given, lived.blind, self.seed, self.effort, self.check, self.known, who
        )
        mine, best = found.own.ranked, found.ways[0].ranked
        verdict = self._said(step, found)
        engine, card = self.engine, self.coach.card
        after_own = targets_after(engine, card, position, mine.tiles)
        after_best = targets_after(engine, card, position, best.tiles)
        before = self.known.once(("before", self.coach, position), lambda: targets_before(engine, card, position))
        compared = [Ways(position, mine, best, target, after_own, after_best, earlier) for target in before]
        ranking = self.rank(position, ((lived.given, lived.blind),))
        told, self.plans = evidence(engine, position, ranking, mine.tiles, self.plans)
        return replace(
            verdict,
            kinds=kinds_of(self.engine.patterns, compared[0]) if compared else (),
            worths=self._worths(position),
            targets=after_own,
            evidence=told if lived.step in PASSES else None,
        )

    def standings(self, position: Position) -> tuple[Standing, ...]:
        """Return how every hand stands in a position."""
        return self.known.once(
            ("hands", self.coach, position), lambda: standings(self.coach, self.engine.hands(position))
        )

    def _worths(self, position: Position) -> tuple[tuple[Tile, Estimate], ...]:
        asked = "worths", self.engine, position, self.seed
        worths = self.known.once(asked, lambda: self.engine.worths(position, self.seed))
        return tuple(sorted(worths.items(), key=lambda worth: -worth[1].points))

    def _offer(self, step: Lived) -> Verdict:
        position, offered = step.position, step.step.offer
        assert position is not None
        assert offered is not None
        ranking = self.rank_offers(position)
        best_of: dict[int, int] = {}
        for place, ranked in enumerate(ranking.passes[: len(ranking.outcomes)]):
            best_of.setdefault(len(ranked.tiles), place)
        ways = tuple(
            kept_by(self.coach, position, Way(ranking.passes[at], place, ranking.gap(at), f"offer {number}"))
            for place, (number, at) in enumerate(best_of.items())
        )
        mine = next(way for way in ways if len(way.ranked.tiles) == offered)
        told = offer_said(self.engine, self.coach.card, position, mine.ranked, ways[0].ranked)
        verdict = self._told(step, ways, mine, told)
        too = OFFERING_TOO_FEW if offered < len(ways[0].ranked.tiles) else OFFERING_TOO_MANY
        return replace(verdict, kinds=(too,) if mine.place else ())

    def _vote(self, step: Lived) -> Verdict:
        now = self.knew(step)
        found = votes(self.engine, now, self.seed, self.effort, self.check, self.known)
        voted = bool(step.step.vote)
        both = [("go on", found.go_on), ("stop", found.stop)]
        if found.gap.points < 0:
            both.reverse()
        ways = (
            Way(both[0][1], 0, Estimate(0.0, 0.0), both[0][0]),
            Way(both[1][1], 1, Estimate(abs(found.gap.points), found.gap.se), both[1][0]),
        )
        mine = next(way for way in ways if way.says == ("go on" if voted else "stop"))
        verdict = self._told(step, ways, mine, vote_said(self.engine, self.coach.card, now, found))
        return replace(verdict, kinds=(GOING_ON if voted else STOPPING,) if mine.place else ())

    def _told(self, step: Lived, ways: tuple[Way, ...], mine: Way, told: Said) -> Verdict:
        """Return the verdict on an answer that is no pass, with what is said of it at the own way and at the best."""
        said = tuple(
            replace(way, words=told.plain, numbers=told.numbers) if way is mine or not way.place else way
            for way in ways
        )
        return self._said(step, Compared(said, said[mine.place], len(said)))

    def _said(self, step: Lived, found: Compared) -> Verdict:
        lived, best, own = step.step, found.ways[0], found.own
        made = Judged(lived.step, lived.by, found.count == 1, best.ranked, own.ranked, own.loss.se)
        entry = LedgerEntry(made.step, made.by, made.forced, made.best, made.chosen, own.loss.points, made.se, 0.0)
        return Verdict(found.ways, own, found.count, made, said=judged(entry, best.says))
