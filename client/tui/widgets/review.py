"""What a review shows: the heat at a glance with its running line, one step in full, and where it ended.

Draws a Looking as far as it has come; what is not known yet is left open.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from client.coach.queue import Looking
from client.models.rack import PLACES
from client.models.ran_out import time_ran_out
from client.reports.text_curve import Turn, running_line
from client.text import balance_words, wrapped
from client.theme import Role
from client.tui.widgets.canvas import Canvas, fitted
from client.tui.widgets.faces import role as ink
from client.tui.widgets.hand import draw_against
from client.tui.widgets.head import seconds_text
from client.tui.widgets.ranked_passes import draw_ways, way_words
from shared.cards.freedom import listed
from shared.rules.tiles import Rack, Tile, by_suit, format_tiles

if TYPE_CHECKING:
    from shared.coach.estimate import Estimate
    from shared.coach.review import Compared, Review, StepReview, Verdict
    from shared.coach.words import Target
    from shared.rules.seat_heat import SeatStep

WIDTH = 78
_BAR = 10
_CHIP = 5
_ROOMY = 26
"""Rows from which parts of a page stand apart."""


def draw_glance(canvas: Canvas, looking: Looking) -> None:
    """Draw every step in a line, then luck and loss as a running line from the deal to the end."""
    review = looking.review
    left = max(1, (canvas.width - WIDTH) // 2)
    if review is None:
        canvas.put(left, 1, looking.said or "Looking ...", "quiet")
        return
    canvas.put(left, 0, _summary(review, looking), bold=True)
    canvas.put(left, 1, f"{'':<31}seconds  {'':<18}{'off the best':<14}luck", "quiet")
    y = 2
    for number, step in enumerate(review.steps):
        _line(canvas, left, y, step)
        canvas.zone(left, y, WIDTH, 1, f"page {number + 1}")
        y += 1
    room = canvas.height - y
    turns = [
        Turn(_short(step), verdict.judged.best.points, verdict.loss)
        for step in review.steps
        if (verdict := step.verdict)
    ]
    if turns and room >= 4:
        end = review.ledger.final if review.ledger else None
        for row, (text, quiet) in enumerate(running_line(turns, end, WIDTH, room, canvas.look.ascii)):
            canvas.put(left, y + row, text, "quiet" if quiet else "text")


def _short(step: "StepReview") -> str:
    words = step.lived.step.step.split()
    return words[-1] if words[0] != "go" else "go on"


def _summary(review: "Review", looking: Looking) -> str:
    ledger = review.ledger
    if ledger is None:
        so_far = f"looked at {review.done:.0%}"
        return f"{looking.said} {so_far}" if looking.said else f"Looking ... {so_far}"
    return balance_words(ledger)


def _line(canvas: Canvas, x: int, y: int, step: "StepReview") -> None:
    lived, verdict = step.lived.step, step.verdict
    out, over = lived.by == "timeout", lived.spent_ms > lived.length_ms
    inks: dict[bool, Role] = {True: "alarm" if out else "warn", False: "text"}
    canvas.put(x, y, lived.step)
    mark = {"timeout": "out", "bot": "bot", "other": "other", "person": "over" if over else ""}[lived.by]
    canvas.put(x + 15, y, _bar(lived.spent_ms / max(1, lived.length_ms), canvas.look.ascii), inks[out or over])
    times = f"{seconds_text(lived.spent_ms)} of {lived.length_ms / 1000:.0f} {mark}"
    canvas.put(x + 15 + _BAR + 2, y, f"{times:<17}", inks[out or over])
    if verdict is None:
        canvas.put(x + 45, y, "" if lived.step == "plan" else "...", "quiet")
        return
    canvas.put(x + 45, y, fitted(way_words(verdict.own), 13))
    words, role = _loss(verdict, canvas.look.ascii)
    canvas.put(x + 58, y, words, role)
    luck = "" if verdict.luck is None else f"{verdict.luck:+.1f}"
    canvas.put(x + 72, y, f"{luck:>5}", "quiet")


def _bar(share: float, plain: bool) -> str:
    full, empty = ("#", ".") if plain else ("━", "╌")
    ink = min(_BAR, round(share * _BAR))
    return full * ink + empty * (_BAR - ink)


def _loss(verdict: "Verdict", plain: bool) -> tuple[str, Role]:
    if verdict.judged.forced:
        return "no choice", "quiet"
    if not verdict.own.place:
        return "best", "good"
    if verdict.too_close:
        return "too close", "quiet"
    error = "+/-" if plain else "±"
    return f"-{verdict.loss:.1f} {error}{verdict.judged.se:.1f}", "warn"


def draw_step(
    canvas: Canvas, looking: Looking, number: int, hidden: bool, lifted: Sequence[int], tried: "Compared | None"
) -> None:
    """Draw one step: its time, the rack with what each tile was worth, the ways, and the words.

    hidden keeps the answer back for a second try; lifted are places of the rack chosen in it, tried is what came of it.
    """
    assert looking.review is not None
    step = looking.review.steps[number]
    lived, verdict = step.lived.step, step.verdict
    left = max(1, (canvas.width - WIDTH) // 2)
    had = f", with carried time {seconds_text(lived.budget_ms)}" if lived.budget_ms > lived.length_ms else ""
    late = {
        "person": "",
        "bot": "   a bot answered",
        "other": "   somebody else answered",
        "timeout": "   the clock answered",
    }[lived.by]
    x = canvas.put(left, 0, _bar(lived.spent_ms / max(1, lived.length_ms), canvas.look.ascii))
    canvas.put(x + 2, 0, f"{seconds_text(lived.spent_ms)} s of {lived.length_ms / 1000:.1f}{had}{late}")
    worths = dict(verdict.worths) if verdict and not hidden else {}
    rack = by_suit(step.lived.rack)
    top = 1 if canvas.height < _ROOMY else 2
    y = draw_rack(canvas, left, top, rack, lived.given, worths, lifted if hidden else None)
    if verdict is None:
        known = "The plan moves no tiles: see the last page." if lived.step == "plan" else "Not looked at yet ..."
        canvas.put(left, y, known, "quiet")
    elif hidden:
        _ask(canvas, left, y, verdict, len(lifted), step.lived.position is not None and step.lived.position.blind)
    else:
        _answer(canvas, left, y, verdict, lived, tried)


def draw_rack(
    canvas: Canvas,
    left: int,
    y: int,
    rack: Rack,
    given: Rack,
    worths: "dict[Tile, Estimate]",
    lifted: Sequence[int] | None,
) -> int:
    """Draw a rack as chips, a sign under what went, the worth of each tile below; return the next free row.

    With places lifted, letters name the tiles instead.
    """
    went = list(given)
    sign = "^" if canvas.look.ascii else "▴"
    for place, tile in enumerate(rack):
        x = left + place * _CHIP
        is_up = lifted is not None and place in lifted
        canvas.put(x, y, f" {tile:<3}", ink(tile), "lifted" if is_up else "face", bold=True)
        if lifted is not None:
            canvas.put(x, y + 1, f" {PLACES[place]}", "mark" if is_up else "quiet", bold=is_up)
            canvas.zone(x, y, _CHIP - 1, 2, PLACES[place])
        elif tile in went:
            went.remove(tile)
            canvas.put(x, y + 1, f" {sign}", "mark", bold=True)
        if tile in worths:
            canvas.put(x, y + 2, f"{worths[tile].points:>4.1f}", "quiet")
    if given and lifted is None:
        canvas.put(left + len(rack) * _CHIP + 1, y + 1, f"{sign} went", "quiet")
    if worths:
        canvas.put(left + len(rack) * _CHIP + 1, y + 2, "worth", "quiet")
    return y + (3 if canvas.height < _ROOMY else 4)


def _ask(canvas: Canvas, left: int, y: int, verdict: "Verdict", lifted: int, blind: bool) -> None:
    canvas.put(left, y, f"You gave {way_words(verdict.own)}. There was a better pass: which one?", bold=True)
    told = f"{lifted} lifted." if lifted else "Lift tiles with a-n, then enter; s shows the answer."
    unseen = f" {3 - lifted} would go blind." if blind and lifted < 3 else ""
    canvas.put(left, y + 2, f"{told}{unseen}", "quiet")


def _answer(canvas: Canvas, left: int, y: int, verdict: "Verdict", lived: "SeatStep", tried: "Compared | None") -> None:
    kinds = f" That was {listed(list(verdict.kinds))}." if verdict.kinds else ""
    luck = "" if verdict.luck is None else f" Luck after it {verdict.luck:+.1f}"
    what_came = f" (came {format_tiles(lived.came)})." if lived.came and luck else "." if luck else ""
    ran_out = f"{time_ran_out(lived.given)} " if lived.by == "timeout" and not verdict.own.says else ""
    for line in wrapped(f"{ran_out}{verdict.said}{kinds}{luck}{what_came}", WIDTH):
        canvas.put(left, y, line, bold=True)
        y += 1
    if tried is not None:
        canvas.put(left, y, f"Your second try, {way_words(tried.own)}: {_against(tried)}.", "mark", bold=True)
        y += 1
    draw_ways(canvas, y, canvas.height, verdict.ways, verdict.own, left)


def _against(tried: "Compared") -> str:
    own = tried.own
    if not own.place:
        return "the best pass"
    close = " (too close to call)" if own.loss.points < 2 * own.loss.se else ""
    return f"{own.loss.points:.1f} less than the best{close}"


def _target(canvas: Canvas, x: int, y: int, target: "Target") -> int:
    """Draw a hand's name and numbers, then the hand against the rack; return the row after it."""
    canvas.put(x, y, f"{fitted(target.name, 36)}{target.points:>6.1f}")
    return draw_against(canvas, x + 2, y + 1, target.drawn, WIDTH - 2) if target.drawn else y + 1


def draw_end(canvas: Canvas, looking: Looking) -> None:
    """Draw the last rack, the likeliest hands for it, and what became of the plan."""
    left = max(1, (canvas.width - WIDTH) // 2)
    review = looking.review
    canvas.put(left, 0, "The last rack", bold=True)
    y = draw_rack(canvas, left, 1, by_suit(looking.heat.final), (), {}, None)
    if review is None or review.end is None:
        canvas.put(left, y, "Not looked at yet ...", "quiet")
        return
    canvas.put(left, y, f"{'likeliest hands':<36}points", "quiet")
    y += 1
    for target in review.end.targets:
        y = _target(canvas, left, y, target)
    y += 1
    for sentence in review.end.said:
        for line in wrapped(sentence, WIDTH):
            canvas.put(left, y, line)
            y += 1
    if review.ledger and (own := review.ledger.own_loss):
        error = "+/-" if canvas.look.ascii else "±"
        canvas.put(
            left, y + 1, f"Each decision of your own lost {own.points:.2f} {error} {own.se:.2f} points on average."
        )
