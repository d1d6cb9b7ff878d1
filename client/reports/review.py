"""A finished review as one JSON object, or as readable lines. Pure."""

import json
from collections.abc import Iterator

from client.models.review import (
    USE_WORDS,
    asked_for_it,
    hands_shown,
    keeps_words,
    sentences,
    timed,
    way_words,
    went_words,
)
from client.reports.rack import against_lines, worths_line
from client.reports.rules import VALUES
from client.text import balance_words, wrapped
from shared.coach.review import Review, StepReview, Way
from shared.names import BOTH_CELLS, clean_name
from shared.rules.seat_heat import SeatHeat
from shared.rules.seats import Seat
from shared.rules.tiles import by_suit, format_tiles

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
            yield f"  {target.name:<40}{target.away:>3} to go{target.points:>7.1f} points"
            if target.drawn:
                yield from against_lines(target.drawn)
        for sentence in review.end.said:
            yield from wrapped(sentence, WIDTH, "  ")


def _step_lines(step: StepReview) -> Iterator[str]:
    lived, verdict = step.lived.step, step.verdict
    yield f"{lived.step.capitalize()}: {timed(step)}"
    if step.served is not None:
        for use, word in USE_WORDS.items():
            if tiles := step.served.tiles(use):
                yield f"  {word:<11}{format_tiles(tiles)}"
    for word, tiles in (("went", lived.given), ("came", lived.came)):
        if tiles:
            yield f"  {word:<11}{format_tiles(by_suit(tiles))}"
    if went := went_words(step):
        yield from wrapped(went, WIDTH, "  ")
    if verdict is None:
        return
    yield from wrapped(asked_for_it(step), WIDTH, "  ")
    for sentence in sentences(step, numbers=False):
        yield from wrapped(sentence, WIDTH, "  ")
    for name, when, drawn in hands_shown(step.served) if step.served else ():
        if name:
            yield f"  {name}"
        yield f"    {when}"
        yield from against_lines(drawn)
    for way in verdict.ways:
        yield _way(way, way is verdict.own)
        if keeps := keeps_words(way):
            yield from wrapped(keeps, WIDTH, "      ")
    if verdict.worths:
        yield from wrapped(f"worth of a tile: {worths_line(verdict.worths)}", WIDTH, "  ")


def _way(way: Way, is_own: bool) -> str:
    ranked = way.ranked
    mark = ">" if is_own else " "
    gift = "" if ranked.gift is None else f"  gift {ranked.gift:.1f}"
    less = f"  {-round(way.loss.points, 1) or 0:.1f} +/- {way.loss.se:.1f}" if way.place else ""
    return f"  {mark} {way_words(way):<22}{ranked.points:>6.1f} points{gift}{less}"
