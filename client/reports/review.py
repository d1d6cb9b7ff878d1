"""A finished review as one JSON object, or as readable lines. Pure."""

import json
from collections.abc import Iterator

from client.models.ran_out import time_ran_out
from client.reports.rack import against_lines, pass_words, worths_line
from client.reports.rules import VALUES
from client.text import balance_words, wrapped
from shared.cards.freedom import listed
from shared.coach.review import Review, StepReview, Verdict, Way
from shared.names import BOTH_CELLS, clean_name
from shared.rules.seat_heat import SeatHeat
from shared.rules.seats import Seat
from shared.rules.tiles import format_tiles

WIDTH = 80


def review_json(heat: SeatHeat, review: Review) -> str:
    """Return a finished review as JSON: times in seconds, tiles by their codes, everything else in points.

    start + all luck + all given - all losses = final; given is what counts of the gifts of the two passes. limit is
    the step's own length. A step without a pass has no tiles; the plan has neither loss nor luck and counts as forced.
    """
    assert review.ledger is not None
    return json.dumps(
        {
            "seat": Seat(heat.seat).word,
            "start": review.ledger.start,
            "steps": [_step(step) for step in review.steps],
            "final": review.ledger.final,
        }
    )


def _step(step: StepReview) -> dict[str, object]:
    lived, verdict = step.lived.step, step.verdict
    is_pass = verdict is not None and not verdict.own.says
    return {
        "step": lived.step,
        "seconds": lived.spent_ms / 1_000,
        "limit": lived.length_ms / 1_000,
        "tiles": list(lived.given),
        "best": list(verdict.ways[0].ranked.tiles) if verdict and is_pass else [],
        "loss": verdict.loss if verdict else 0.0,
        "se": verdict.judged.se if verdict else 0.0,
        "luck": (verdict.luck or 0.0) if verdict else 0.0,
        "given": verdict.given if verdict else 0.0,
        "forced": verdict.judged.forced if verdict else True,
        "timeout": lived.by == "timeout",
    }


def review_lines(heat: SeatHeat, review: Review) -> Iterator[str]:
    """Yield a finished review as lines of at most 80 characters: the ledger, then step by step."""
    ledger = review.ledger
    assert ledger is not None
    yield f"{clean_name(heat.names[heat.seat], 'A player', BOTH_CELLS)}, {Seat(heat.seat).word}, heat {heat.number}"
    yield balance_words(ledger)
    if heat.settings.play_for == "values":
        yield from wrapped(VALUES, WIDTH)
    if own := ledger.own_loss:
        yield f"Own decisions lost {own.points:.2f} points on average (+/- {own.se:.2f})."
    for step in review.steps:
        yield ""
        yield from _step_lines(step)
    if review.end:
        yield ""
        yield "Likeliest hands at the end"
        for target in review.end.targets:
            yield f"  {target.name:<40}{target.away:>3} away{target.points:>7.1f} points"
            if target.drawn:
                yield from against_lines(target.drawn)
        for sentence in review.end.said:
            yield from wrapped(sentence, WIDTH, "  ")


def _step_lines(step: StepReview) -> Iterator[str]:
    lived, verdict = step.lived.step, step.verdict
    late = {"person": "", "bot": ", by a bot", "other": ", by somebody else", "timeout": ", by the clock"}[lived.by]
    name = f"{lived.step.capitalize()}: {lived.spent_ms / 1_000:.1f} s of {lived.length_ms / 1_000:.0f}{late}"
    yield name
    yield f"  rack {format_tiles(step.lived.rack)}"
    if verdict is None:
        return
    if lived.by == "timeout" and not verdict.own.says:
        yield from wrapped(time_ran_out(lived.given), WIDTH, "  ")
    yield from wrapped(_judged(verdict), WIDTH, "  ")
    for way in verdict.ways:
        yield _way(way, way is verdict.own)
        if way is verdict.own or not way.place:
            for sentence in way.words:
                yield from wrapped(sentence, WIDTH, "      ")
    if verdict.worths:
        yield from wrapped(f"worth of a tile: {worths_line(verdict.worths)}", WIDTH, "  ")


def _judged(verdict: Verdict) -> str:
    kinds = f" That was {listed(list(verdict.kinds))}." if verdict.kinds else ""
    return f"{verdict.said}{kinds} Luck after it: {verdict.luck or 0.0:+.1f}."


def _way(way: Way, is_own: bool) -> str:
    ranked = way.ranked
    mark = ">" if is_own else " "
    gift = "" if ranked.gift is None else f"  gift {ranked.gift:.1f}"
    less = f"  -{way.loss.points:.1f} +/- {way.loss.se:.1f}" if way.place else ""
    return f"  {mark} {way.says or pass_words(ranked):<22}{ranked.points:>6.1f} points{gift}{less}"
