"""Plots as inline SVG. Pure text: no script, no font; colours are class names that the page defines.

Every mark has a title that names it; colour must never be the only sign.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from math import ceil, floor, log10

_WIDTH, _HEIGHT = 720, 380
_LEFT, _RIGHT, _TOP, _BOTTOM = 52, 16, 14, 46
_CHARACTER = 5.6
"""The width of a label's character, in units of the drawing; a generous estimate, so that labels do not overlap."""


@dataclass(frozen=True, slots=True)
class Column:
    """A category with its values, their median, and the length to compare them with; all in one unit."""

    name: str
    values: tuple[float, ...]
    middle: float | None
    length: float


@dataclass(frozen=True, slots=True)
class Dot:
    """A labelled point."""

    name: str
    x: float
    y: float


def columns_plot(columns: Sequence[Column], title: str, unit: str) -> str:
    """Draw values as dots above their categories, the median as a bar, the length as a dashed line."""
    top = max((value for one in columns for value in (*one.values, one.length)), default=1.0)
    axis = _Axis(0, _nice_top(top), _HEIGHT - _BOTTOM, _TOP)
    parts = _level_lines(axis, unit)
    width = (_WIDTH - _LEFT - _RIGHT) / max(1, len(columns))
    for number, one in enumerate(columns):
        centre = _LEFT + width * (number + 0.5)
        half = width * 0.36
        for place, value in enumerate(one.values):
            # A fixed spread instead of random jitter: the same evening always gives the same page.
            x = centre + half * 0.8 * ((place * 0.618034) % 1 * 2 - 1)
            label = f"{one.name}: {value:.1f} {unit}"
            parts.append(_circle(x, axis.at(value), 3, "dot", label))
        parts.append(_line(centre - half, centre + half, axis.at(one.length), "length", f"length {one.length:.1f}"))
        if one.middle is not None:
            parts.append(_line(centre - half, centre + half, axis.at(one.middle), "middle", f"middle {one.middle:.1f}"))
        for row, word in enumerate(one.name.split() if len(one.name) > 6 else [one.name]):
            parts.append(_text(centre, _HEIGHT - _BOTTOM + 16 + 13 * row, word, "middle-of"))
    return _svg(title, parts)


def plane_plot(dots: Sequence[Dot], title: str, x_words: str, y_words: str, unit_at: float) -> str:
    """Draw labelled dots with both axes from 0; unit_at is the x of a dashed vertical line."""
    across = _Axis(0, _nice_top(max(unit_at, *(dot.x for dot in dots))), _LEFT, _WIDTH - _RIGHT)
    up = _Axis(0, _nice_top(max((dot.y for dot in dots), default=0) or 1.0), _HEIGHT - _BOTTOM, _TOP)
    parts = _level_lines(up, "")
    for value in across.ticks():
        parts.append(_text(across.at(value), _HEIGHT - _BOTTOM + 16, f"{value:g}", "middle-of"))
    limit = across.at(unit_at)
    parts.append(f'<line class="length" x1="{limit:.1f}" x2="{limit:.1f}" y1="{_TOP}" y2="{_HEIGHT - _BOTTOM}"/>')
    parts.append(_text((_LEFT + _WIDTH - _RIGHT) / 2, _HEIGHT - 8, x_words, "middle-of"))
    parts.append(
        f'<text class="middle-of" transform="translate(13 {(_TOP + _HEIGHT - _BOTTOM) / 2:.1f}) rotate(-90)">'
        f"{escape(y_words)}</text>"
    )
    spots = [(across.at(dot.x), up.at(dot.y)) for dot in dots]
    taken = [(x - 5, y - 5, x + 5, y + 5) for x, y in spots]
    taken.append((limit - 1, _TOP, limit + 1, _HEIGHT - _BOTTOM))
    for dot, (x, y) in zip(dots, spots, strict=True):
        parts.append(_circle(x, y, 4, "dot", f"{dot.name}: {dot.x:.1f}, {dot.y:.2f}"))
        parts += _label(dot.name, x, y, taken)
    return _svg(title, parts)


@dataclass(frozen=True, slots=True)
class _Axis:
    """A linear scale from a range of values to a range of the drawing."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        return self.start + (self.end - self.start) * (value - self.low) / (self.high - self.low)

    def ticks(self) -> list[float]:
        step = _nice_step(self.high)
        return [step * number for number in range(round(self.high / step) + 1)]


def _nice_step(top: float) -> float:
    """Return 1, 2 or 5 times a power of ten, so that about six steps make the top."""
    rough = top / 6
    power = 10 ** floor(log10(rough))
    return float(next(factor * power for factor in (1, 2, 5, 10) if factor * power >= rough * 0.999))


def _nice_top(top: float) -> float:
    step = _nice_step(top)
    return step * ceil(top / step - 1e-9)


def _level_lines(axis: _Axis, unit: str) -> list[str]:
    parts = []
    for value in axis.ticks():
        y = axis.at(value)
        parts.append(f'<line class="grid" x1="{_LEFT}" x2="{_WIDTH - _RIGHT}" y1="{y:.1f}" y2="{y:.1f}"/>')
        parts.append(_text(_LEFT - 6, y + 4, f"{value:g}{' ' if unit else ''}{unit}", "end-at"))
    return parts


def _label(name: str, x: float, y: float, taken: list[tuple[float, float, float, float]]) -> list[str]:
    """Return the name beside its dot if there is free space, else nothing; the dot's title still names it."""
    wide = _CHARACTER * len(name)
    right, middle, left_of = x + 7, x - wide / 2, x - 7 - wide
    places = [(right, y + 4), (left_of, y + 4), (middle, y - 8), (middle, y + 16)]
    places += [(side, y + drop) for side in (right, left_of) for drop in (-5, 12)]
    for left, base in places:
        box = (left, base - 9, left + wide, base + 2)
        inside = box[0] >= _LEFT and box[2] <= _WIDTH - 2 and box[1] >= 0 and box[3] <= _HEIGHT - _BOTTOM
        if inside and not any(_overlap(box, other) for other in taken):
            taken.append(box)
            return [_text(left, base, name, "start-at")]
    return []


def _overlap(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _circle(x: float, y: float, radius: float, kind: str, title: str) -> str:
    return f'<circle class="{kind}" cx="{x:.1f}" cy="{y:.1f}" r="{radius}"><title>{escape(title)}</title></circle>'


def _line(left: float, right: float, y: float, kind: str, title: str) -> str:
    place = f'x1="{left:.1f}" x2="{right:.1f}" y1="{y:.1f}" y2="{y:.1f}"'
    return f'<line class="{kind}" {place}><title>{escape(title)}</title></line>'


def _text(x: float, y: float, text: str, kind: str) -> str:
    return f'<text class="{kind}" x="{x:.1f}" y="{y:.1f}">{escape(text)}</text>'


def _svg(title: str, parts: Sequence[str]) -> str:
    inner = "\n".join(parts)
    return (
        f'<svg viewBox="0 0 {_WIDTH} {_HEIGHT}" role="img" aria-label="{escape(title)}">'
        f"<title>{escape(title)}</title>\n{inner}\n</svg>"
    )
