"""A decision on the screen: what is asked and the clock; what the coach says; what came of a whole round."""

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

from client.models.decisions import Decided, Decisions, answer_words, known, question
from client.text import some, wrapped
from client.theme import Role
from client.tui.widgets.canvas import Canvas
from client.tui.widgets.faces import role as ink
from client.tui.widgets.hand import against_height, draw_against
from client.tui.widgets.head import clock_text, seconds_text
from client.tui.widgets.opponents import draw_clock
from shared.rules.decisions import Rating
from shared.rules.tiles import by_suit

if TYPE_CHECKING:
    from shared.coach.words import Target

_CHIP, _SMALL = 5, 4
"""Cells of a tile, and where there is little room."""
_WIDTH = 78
_CLOCK, _LARGE = 6, 11
"""Rows of a clock with its bar, small and large."""
_SHORT = 8
"""Cells of a clock that is no more than its time."""
_ROLES: dict[Rating, Role] = {"best": "good", "close": "good", "costly": "warn", "out of time": "alarm"}


def draw_goal(canvas: Canvas, model: Decisions) -> None:
    """Draw what a round is about, before its first rack."""
    left = _left(canvas)
    canvas.put(left, 1, f"{model.title}: {some(model.count, 'decision')}", bold=True)
    for row, line in enumerate(wrapped(model.goal, canvas.width - 2 * left), 3):
        canvas.put(left, row, line)


def draw_question(canvas: Canvas, model: Decisions, now_ms: int) -> None:
    """Draw what is asked, what is known besides the rack, the clock, and the numbers to choose from."""
    decision, left = model.decision, _left(canvas)
    if decision is None or model.phase != "deciding":
        canvas.put(left, 1, "Dealing ...", "quiet")
        return
    face, width = model.face(now_ms), canvas.width - 2 * left
    asked, besides = wrapped(question(decision), width), wrapped(known(decision), width)
    buttons = (len(decision.choices) + 1) // 2 or 1
    room = canvas.height - len(asked) - len(besides) - buttons
    if room < _CLOCK:
        asked = wrapped(question(decision), width - _SHORT)
        short = f"{clock_text(face.left_ms)}{' !!' if face.last_ten else ''}"
        canvas.end(0, short, "alarm" if face.last_ten and not canvas.look.calm else "text", margin=left, bold=True)
    for y, line in enumerate((*asked, *besides)):
        canvas.put(left, y, line, "text" if y < len(asked) else "quiet", bold=y < len(asked))
    if room >= _CLOCK:
        large = room >= _LARGE + 2
        top = len(asked) + len(besides) + (room - (_LARGE if large else _CLOCK)) // 2
        draw_clock(canvas, top, face, large)
    _buttons(canvas, model, canvas.height - buttons, left)


def _buttons(canvas: Canvas, model: Decisions, y: int, left: int) -> None:
    """Draw the numbers to choose from, or how much is lifted."""
    decision = model.decision
    assert decision is not None
    if decision.choices:
        width = (canvas.width - 2 * left) // 2
        for number, name in enumerate(decision.choices):
            x, row = left + number % 2 * width, y + number // 2
            canvas.button(x, row, canvas.fitted(f" {number + 1} {name}", width - 4), str(number + 1))
        return
    if model.numbers:
        words = {"0": " 0 stop ", "1": " 1 go on "} if decision.ask == "vote" else {}
        x = left
        for key in model.numbers:
            x = canvas.button(x, y, words.get(key, f" {key} "), key, chosen=model.choice == int(key)) + 2
        if model.choice is not None:
            canvas.button(x + 2, y, " confirm ", "enter", chosen=True)
        return
    x = left
    if decision.most_blind:
        x = canvas.put(x, y, "blind ", "quiet")
        for number in range(decision.most_blind + 1):
            x = canvas.button(x, y, str(number), str(number), chosen=number == model.blind)
    lifted = model.rack.lifted_tiles()
    if len(lifted) == model.wanted:
        word = "discard" if decision.ask == "discard" else "pass"
        canvas.button(canvas.width - left - len(word) - 4, y, f" {word} ", "enter", chosen=True)


def draw_verdict(canvas: Canvas, done: Decided) -> None:
    """Draw the rack with what went and what had better gone, the coach's sentences, and the hands against the rack."""
    left, judgement = _left(canvas), done.judgement
    width = canvas.width - 2 * left
    took = f"{seconds_text(done.spent_ms)} s of {seconds_text(done.decision.length_ms)}"
    verdict = judgement.verdict if judgement else done.trouble or "Looking ..."
    canvas.put(left, 0, canvas.fitted(verdict, max(0, width - len(took) - 1)), bold=True)
    if judgement:
        canvas.put(left, 0, verdict, _ROLES[judgement.rating], bold=True)
    canvas.end(0, took, "quiet", margin=left)
    y = _draw_rack(canvas, left, 1 if canvas.height < 18 else 2, done)
    if judgement is None:
        return
    told = [line for words in _answers(done) for line in wrapped(words, width)]
    said = judgement.numbers if canvas.look.numbers else judgement.plain
    told += wrapped(" ".join(said), width) if said else []
    for line in told:
        canvas.put(left, y, line)
        y += 1
    y += 1 if canvas.height >= 18 else 0
    _hands(canvas, left, y, width, done)


def _hands(canvas: Canvas, left: int, y: int, width: int, done: Decided) -> None:
    judgement = done.judgement
    assert judgement is not None
    targets: list[tuple[str, Target]] = []
    mine, best = ("yours", "the likeliest") if done.decision.choices else ("after yours", "after the best")
    for name, target in ((mine, judgement.own), (best, judgement.better)):
        if target and target.drawn and target.drawn not in [each.drawn for _, each in targets]:
            targets.append((name if judgement.own != judgement.better and judgement.better else "", target))
    for name, target in targets:
        assert target.drawn is not None
        if y + 1 + against_height(target.drawn, width - 2) > canvas.height:
            return
        x = canvas.put(left, y, target.name, bold=True)
        canvas.put(x + 2, y, name, "quiet")
        y = draw_against(canvas, left + 2, y + 1, target.drawn, width - 2)


def _answers(done: Decided) -> list[str]:
    """Return what was answered, and what was best where that is a number; then what was answered when it was played."""
    decision, said = done.decision, []
    if decision.ask in ("vote", "offer", "family", "hand"):
        mine = answer_words(decision, done.answer) if done.answer else "no answer"
        best = answer_words(decision, done.judgement.best) if done.judgement else ""
        said.append(f"You: {mine}. Best: {best}." if mine != best else f"You: {mine}.")
    if decision.then is not None:
        cost = f", {decision.lost:.1f} points less than the best" if decision.lost else ""
        said.append(f"In the heat: {answer_words(decision, decision.then)}{cost}.")
    return said


def _draw_rack(canvas: Canvas, left: int, y: int, done: Decided) -> int:
    """Draw the rack as chips; a sign under what was given, another under what the best answer gives."""
    rack, plain = by_suit(done.decision.rack), canvas.look.ascii
    chip = _CHIP if len(rack) * _CHIP <= canvas.width - 2 * left else _SMALL
    up, star = ("^", "*") if plain else ("▴", "●")
    mine = Counter(done.answer.tiles) if done.answer else Counter()
    best = Counter(done.judgement.best.tiles) if done.judgement else Counter()
    signs = set()
    for place, tile in enumerate(rack):
        x = left + place * chip
        canvas.put(x, y, f" {tile:<{chip - 2}}", ink(tile), "face", bold=True)
        both = [(sign, theirs) for sign, theirs in ((up, mine), (star, best)) if theirs[tile]]
        for at, (sign, theirs) in enumerate(both):
            theirs[tile] -= 1
            signs.add(sign)
            canvas.put(x + 1 + at, y + 1, sign, "mark" if sign == up else "good", bold=True)
    words = [f"{up} yours"] * (up in signs) + [f"{star} best"] * (star in signs)
    if not words:
        return y + 2
    canvas.put(left, y + 2, "   ".join(words), "quiet")
    return y + (3 if canvas.height < 18 else 4)


def draw_over(canvas: Canvas, model: Decisions, record: Sequence[str]) -> None:
    """Draw what came of a round beside the earlier ones, then every decision in a line."""
    left, y = _left(canvas), 0
    for words in record:
        for line in wrapped(words, canvas.width - 2 * left, later="  "):
            canvas.put(left, y, line, bold=not y)
            y += 1
    y += bool(record)
    for number, done in enumerate(model.done, 1):
        verdict = done.judgement.verdict if done.judgement else done.trouble or "Looking ..."
        what = done.decision.what or done.decision.step or "first discard"
        x = canvas.put(left, y, f"{number:>2}  {canvas.fitted(what, 26 if canvas.width >= _WIDTH else 18)}")
        x = canvas.put(x, y, f"{seconds_text(done.spent_ms):>6} s   ")
        canvas.put(x, y, verdict, _ROLES[done.judgement.rating] if done.judgement else "quiet")
        y += 1


def _left(canvas: Canvas) -> int:
    return max(1, (canvas.width - _WIDTH) // 2)
