"""What a review shows: the heat at a glance, one step in full, and where it ended.

Draws a Looking as far as it has come; what is not known yet is left open. Every page returns the row after its last, so
that the screen knows whether there is more below.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from client.coach.queue import Looking
from client.models.rack import PLACES
from client.models.review import (
    PLAIN_SIGNS,
    USE_SIGNS,
    USE_WORDS,
    Row,
    asked_for_it,
    first_page,
    hands_shown,
    keeps_words,
    less_words,
    points_words,
    rows,
    sentences,
    timed,
    way_words,
    went_words,
)
from client.reports.rack import worths_line
from client.reports.rules import VALUES
from client.reports.text_curve import Turn, running_line
from client.target import Named
from client.text import wrapped
from client.theme import Role
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.faces import role as ink
from client.tui.widgets.hand import draw_against
from client.tui.widgets.head import seconds_text
from client.tui.widgets.rack import TILE, draw_tile
from shared.rules.tiles import Rack, Tile, by_suit

if TYPE_CHECKING:
    from shared.coach.review import Compared, Review, StepReview, Verdict, Way
    from shared.coach.serving import Served, Use

_WIDTH = 116
"""Cells that a page takes at most."""
_ROOMY = 90
"""Cells from which tiles are drawn large."""
_LABEL = 13
"""Cells in front of the tiles of a use."""
_CHIP = 5
_BEFORE = 8
"""Cells in front of a hand, for "before" and "after"."""
_LEAST = 4
"""Rows that a curve needs."""


def _frame(canvas: Canvas) -> tuple[int, int]:
    """Return where a page begins and how wide it is."""
    width = min(_WIDTH, canvas.width - 2)
    return (canvas.width - width) // 2, width


def _lines(canvas: Canvas, x: int, y: int, texts: Iterable[str], width: int, *, bold: bool = False) -> int:
    """Put texts below each other, each wrapped; return the next row."""
    for text in texts:
        for line in wrapped(text, width):
            canvas.put(x, y, line, bold=bold)
            y += 1
    return y


# ---- at a glance


def draw_glance(canvas: Canvas, looking: Looking, named: Sequence[Named], y: int, below: int) -> int:
    """Draw the sentence of the heat, its balance and target, then every step with its seconds and points."""
    review, (x, width) = looking.review, _frame(canvas)
    if review is None:
        canvas.put(x, y, looking.said or "The coach is looking at this heat ...", "quiet")
        return y + 1
    end = first_page(looking.heat, review, named, canvas.look.numbers, looking.said)
    if end.costly:
        y = _lines(canvas, x, y, (f"What cost most: {end.costly.heading}.",), width, bold=True)
        y = _lines(canvas, x, y, (end.costly.why,), width)
    valued = VALUES if looking.heat.settings.play_for == "values" else ""
    y = _lines(canvas, x, y, (text for text in (end.said, end.points, valued, end.target) if text), width)
    y = _steps(canvas, x, y + 1, width, rows(review, canvas.look.ascii))
    return _curve(canvas, x, y + 1, width, below - y - 1, review)


def _steps(canvas: Canvas, x: int, y: int, width: int, steps: Sequence[Row]) -> int:
    """Draw a line for each step: its seconds and its points, each as a bar on one scale for the whole heat."""
    wide = width >= 74
    name, answer = (16, 14) if wide else (15, 0)
    bar = (width - name - answer - 7 - 5 - 12) // 2 - 1
    points = x + name + 7 + bar + 1 + 5
    canvas.put(x + name, y, "seconds", "quiet")
    canvas.put(points, y, f"{'your answer' if wide else '':<{answer}}points lost", "quiet")
    longest = max((step.spent_ms for step in steps), default=0)
    most = max((step.lost for step in steps), default=0.0)
    for number, step in enumerate(steps, start=1):
        late = bool(step.mark)
        canvas.put(x, y + number, step.step)
        canvas.put(x + name, y + number, f"{seconds_text(step.spent_ms):>5}", "warn" if late else "text")
        _bar(canvas, x + name + 6, y + number, bar, step.spent_ms / max(1, longest), "warn" if late else "quiet")
        canvas.put(x + name + 6 + bar + 1, y + number, step.mark, "warn")
        if wide:
            canvas.put(points, y + number, canvas.fitted(step.answer, answer - 1))
        canvas.put(points + answer, y + number, step.said, step.grade)
        if step.grade == "warn":
            _bar(canvas, points + answer + 12, y + number, bar, step.lost / max(most, 1e-9), "warn")
        canvas.zone(x, y + number, width, 1, f"page {number}")
    return y + len(steps) + 1


def _bar(canvas: Canvas, x: int, y: int, cells: int, share: float, role: Role) -> None:
    """Draw a bar that is full at share 1; what is not nothing has at least one cell."""
    length = round(share * cells) or (1 if share > 0 else 0)
    canvas.put(x, y, ("#" if canvas.look.ascii else "━") * length, role)


def _curve(canvas: Canvas, x: int, y: int, width: int, room: int, review: "Review") -> int:
    turns = [
        Turn(_short(step), verdict.judged.best.points, verdict.loss)
        for step in review.steps
        if (verdict := step.verdict)
    ]
    if not turns or room < _LEAST:
        return y - 1
    end = review.ledger.final if review.ledger else None
    lines = running_line(turns, end, width, min(room, 14), canvas.look.ascii)
    for row, (text, quiet) in enumerate(lines):
        canvas.put(x, y + row, text, "quiet" if quiet else "text")
    return y + len(lines)


def _short(step: "StepReview") -> str:
    words = step.lived.step.step.split()
    return words[-1] if words[0] != "go" else "go on"


# ---- a step


def draw_step(canvas: Canvas, looking: Looking, number: int, tried: "Compared | None", y: int) -> int:
    """Draw one step: the verdict, the rack by what its tiles are for, the reasons, the hands, the leading ways."""
    assert looking.review is not None
    step, (x, width) = looking.review.steps[number], _frame(canvas)
    verdict = step.verdict
    y = _head(canvas, x, y, width, step)
    if tried is not None:
        canvas.put(x, y, f"Your second try, {way_words(tried.own)}: {less_words(tried.own, False)}.", "mark", bold=True)
        y += 1
    if step.served is None:
        return _chips(canvas, x, y, width, "rack", [(tile, None) for tile in by_suit(step.lived.rack)], ())
    y = _rack(canvas, x, y, width, step.served, step.lived.step.given)
    y = _exchanged(canvas, x, y, width, step)
    said = sentences(step, canvas.look.numbers)
    if looking.review.end and step.lived.step.step == "plan":
        said = looking.review.end.said
    y = _lines(canvas, x, y, said, width)
    y = draw_hands(canvas, x, y + (width >= _ROOMY), width, step.served)
    if verdict is None:
        return y
    y = draw_ways(canvas, x, y + (width >= _ROOMY), width, verdict)
    if canvas.look.numbers and verdict.worths:
        y = _lines(canvas, x, y, (f"Worth of a tile: {worths_line(verdict.worths)}.",), width)
    return y


def _head(canvas: Canvas, x: int, y: int, width: int, step: "StepReview") -> int:
    """Put the verdict, and the time behind it or, where there is no room, below."""
    said, time = asked_for_it(step), timed(step)
    verdict = step.verdict
    costly = verdict is not None and not verdict.too_close and verdict.own.place
    canvas.put(x, y, said, "warn" if costly else "text", bold=True)
    if len(said) + len(time) + 3 > width:
        y += 1
    canvas.put(x + width - len(time), y, time, "quiet")
    return y + 1


def _signs(canvas: Canvas) -> "dict[Use, str]":
    return PLAIN_SIGNS if canvas.look.ascii else USE_SIGNS


def _rack(canvas: Canvas, x: int, y: int, width: int, served: "Served", given: Rack) -> int:
    """Draw the rack in three groups: large tiles side by side where there is room, else a line for each group."""
    gone, signs = Counter(given), _signs(canvas)
    groups: list[tuple[Use, list[tuple[Tile, bool]]]] = []
    for use in USE_WORDS:
        tiles = served.tiles(use)
        went = [_takes(gone, tile) for tile in reversed(tiles)][::-1]
        groups.append((use, list(zip(tiles, went, strict=True))))
    if width < _ROOMY or len(served.rack) * TILE + 6 > width:
        for use, marked in groups:
            if marked:
                label = f"{signs[use]} {USE_WORDS[use]}"
                y = _chips(
                    canvas, x, y, width, label, [(tile, None) for tile, _ in marked], [is_gone for _, is_gone in marked]
                )
        return y
    at = x
    up = "^" if canvas.look.ascii else "▴"
    for use, marked in groups:
        for tile, is_gone in marked:
            draw_tile(canvas, at, y, tile)
            canvas.put(
                at + 1, y + 4, f"{signs[use]}{' ' + up if is_gone else ''}", "mark" if is_gone else "text", bold=True
            )
            at += TILE
        at += 3 if marked else 0
    legend = "   ".join(f"{signs[use]} {USE_WORDS[use]}" for use in USE_WORDS)
    canvas.put(x, y + 5, f"{legend}   {up} went", "quiet")
    return y + 7


def _takes(gone: Counter[Tile], tile: Tile) -> bool:
    """Say whether a tile is among those that went, and take it from them."""
    if not gone[tile]:
        return False
    gone[tile] -= 1
    return True


def _chips(
    canvas: Canvas,
    x: int,
    y: int,
    width: int,
    label: str,
    tiles: "Sequence[tuple[Tile, Use | None]]",
    went: Sequence[bool],
) -> int:
    """Draw tiles behind a label, in as many lines as they need, a sign behind those that went or with their use."""
    signs, up = _signs(canvas), "^" if canvas.look.ascii else "▴"
    canvas.put(x, y, label, "quiet")
    at = x + _LABEL
    for place, (tile, use) in enumerate(tiles):
        if at + _CHIP - 1 > x + width:
            at, y = x + _LABEL, y + 1
        sign = signs[use] if use else up if place < len(went) and went[place] else " "
        canvas.put(at, y, f" {tile:<2}", ink(tile), "face", bold=True)
        canvas.put(at + 3, y, sign, "text", "face", bold=True)
        at += _CHIP
    return y + 1


def _exchanged(canvas: Canvas, x: int, y: int, width: int, step: "StepReview") -> int:
    """Draw what went and what came, each tile that came with what it is for."""
    assert step.served is not None
    uses = dict(step.served.rack)
    if step.lived.step.given:
        y = _chips(canvas, x, y, width, "went", [(tile, uses.get(tile)) for tile in by_suit(step.lived.step.given)], ())
    if step.served.came:
        y = _chips(canvas, x, y, width, "came", step.served.came, ())
    return _lines(canvas, x, y, (went_words(step),), width)


def draw_hands(canvas: Canvas, x: int, y: int, width: int, served: "Served") -> int:
    """Draw the likeliest hand against the rack before and after the step, and another that is likeliest then."""
    for name, when, drawn in hands_shown(served):
        if name:
            canvas.put(x, y, name, bold=True)
            y += 1
        canvas.put(x, y, when, "quiet")
        y = draw_against(canvas, x + _BEFORE, y, drawn, width - _BEFORE)
    return y


def draw_ways(canvas: Canvas, x: int, y: int, width: int, verdict: "Verdict") -> int:
    """Draw the leading ways, best first, the own one marked: how much less each is, and what it keeps."""
    for way in verdict.ways:
        y = _way(canvas, x, y, width, way, way is verdict.own or way == verdict.own)
    return y


def _way(canvas: Canvas, x: int, y: int, width: int, way: "Way", mine: bool) -> int:
    sign = (">" if canvas.look.ascii else "▸") if mine else " "
    less = less_words(way, canvas.look.numbers)
    keeps = [text for text in (keeps_words(way), points_words(way) if canvas.look.numbers else "") if text]
    less = less.replace("±", "+/-") if canvas.look.ascii else less
    keeps = [text.replace("±", "+/-") if canvas.look.ascii else text for text in keeps]
    column = 40 if width >= _ROOMY else 36
    end = canvas.put(x, y, f"{sign} {way_words(way):<15} {less}{'  yours' if mine else ''}", bold=mine)
    told = ", ".join(keeps)
    if told and max(end, x + column) + 1 + len(told) <= x + width:
        canvas.put(max(end + 1, x + column), y, told, "quiet")
        return y + 1
    for line in wrapped(told, width - 4):
        y += 1
        canvas.put(x + 4, y, line, "quiet")
    return y + 1


# ---- a second try


def draw_question(canvas: Canvas, looking: Looking, number: int, lifted: Sequence[int], y: int) -> int:
    """Draw a step whose answer is kept back: the rack to choose from, and what was given."""
    assert looking.review is not None
    step, (x, width) = looking.review.steps[number], _frame(canvas)
    verdict, position = step.verdict, step.lived.position
    assert verdict is not None
    canvas.put(x, y, timed(step), "quiet")
    y, at = y + 2, x
    for place, tile in enumerate(by_suit(step.lived.rack)):
        if at + _CHIP - 1 > x + width:
            at, y = x, y + 3
        is_up = place in lifted
        canvas.put(at, y, f" {tile:<3}", ink(tile), "lifted" if is_up else "face", bold=True)
        canvas.put(at, y + 1, f" {PLACES[place]}", "mark" if is_up else "quiet", bold=is_up)
        canvas.zone(at, y, _CHIP - 1, 2, PLACES[place])
        at += _CHIP
    y = _lines(
        canvas, x, y + 3, (f"You gave {way_words(verdict.own)}. There was a better pass: which one?",), width, bold=True
    )
    told = f"{len(lifted)} lifted." if lifted else "Lift tiles with a-n, then enter; s shows the answer."
    unseen = f" {3 - len(lifted)} would go blind." if position and position.blind and len(lifted) < 3 else ""
    return _lines(canvas, x, y + 1, (f"{told}{unseen}",), width)


# ---- the end


def draw_end(canvas: Canvas, looking: Looking, y: int) -> int:
    """Draw the last rack, the likeliest hands for it, and what is said of the plan and the first discard."""
    review, (x, width) = looking.review, _frame(canvas)
    y = _chips(canvas, x, y, width, "the last rack", [(tile, None) for tile in by_suit(looking.heat.final)], ()) + 1
    if review is None or review.end is None:
        canvas.put(x, y, "The coach has not looked at this yet ...", "quiet")
        return y + 1
    for target in review.end.targets:
        points = f"   wins {target.points:.0f} in 100 alone" if canvas.look.numbers else ""
        canvas.put(x, y, f"{target.name}{points}", bold=True)
        y = draw_against(canvas, x + 2, y + 1, target.drawn, width - 2) if target.drawn else y + 1
    y = _lines(canvas, x, y + 1, review.end.said, width)
    if canvas.look.numbers and review.ledger and (own := review.ledger.own_loss):
        error = "+/-" if canvas.look.ascii else "±"
        mean = f"Each decision of your own lost {own.points:.2f} {error} {own.se:.2f} points on average."
        y = _lines(canvas, x, y, (mean,), width)
    return y
