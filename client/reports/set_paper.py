"""A set to take home in words and as a picture for paper. Pure: returns text and bytes."""

from datetime import date
from html import escape

from shared.names import clean_name
from shared.rules.set_line import TakeHome
from shared.rules.settings import Settings
from shared.times import write_time

_COLUMNS = 3
_WIDTH, _ROW, _TOP = 720, 96, 110
_FROM = {"wall": "Tiles come from the wall, the same for everybody", "racks": "Passes come from the bots' racks"}


def set_in_words(taken: TakeHome, card: str, today: date | None = None) -> tuple[str, ...]:
    """Return what a set is, in sentences; card is the title of its card. today is for who is about to play."""
    settings = taken.settings
    heats = f"{settings.heats} heat{'s' if settings.heats > 1 else ''} of {write_time(settings.level_ms)}"
    called = clean_name(card, "a card without a title", 40)
    rest = others(settings)
    lines = [
        f'{heats} by "{called}".',
        f"{_FROM[settings.incoming]}; bots: {settings.bot_skill}.",
        *([f"Other than usual: {', '.join(rest)}."] if rest else []),
        *([open_days(taken, today)] if taken.opens or taken.closes else []),
    ]
    return tuple(lines)


def others(settings: Settings) -> tuple[str, ...]:
    """Return the settings that are not as usual and not told otherwise, by name and value."""
    told = {"level_ms", "heats", "incoming", "bot_skill", "bot_pace", "seed", "first_east", "lengths_ms"}
    usual = Settings()
    found = [
        f"{name.removesuffix('_ms').replace('_', ' ')} {_value(name, value)}"
        for name, value in settings
        if name not in told and value != getattr(usual, name)
    ]
    return (*found, *(f"{step} {write_time(length_ms)}" for step, length_ms in settings.lengths_ms.items()))


def _value(name: str, value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return write_time(value) if name.endswith("_ms") and isinstance(value, int) else str(value)


def open_days(taken: TakeHome, today: date | None = None) -> str:
    """Return on which days a set is to be played; where today is none of them, say so."""
    first, last = (date.fromordinal(day).isoformat() if day else "" for day in (taken.opens, taken.closes))
    told = " ".join(part for part in (f"from {first}" if first else "", f"up to {last}" if last else "") if part)
    is_out = today is not None and (
        today.toordinal() < taken.opens or (taken.closes and today.toordinal() > taken.closes)
    )
    return f"To be played {told}.{' Today is another day; play it all the same if you agreed so.' if is_out else ''}"


def line_picture(taken: TakeHome, title: str) -> bytes:
    """Return a picture of a line for paper (SVG): its groups in rows, large, each with its number."""
    groups = taken.line.split("-")
    rows = -(-len(groups) // _COLUMNS)
    height = _TOP + rows * _ROW + 40
    heading = escape(clean_name(title, "A set to take home", 40))
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {height}" width="180mm" role="img">',
        f"<title>{heading}: {taken.line}</title>",
        f'<rect width="{_WIDTH}" height="{height}" fill="#ffffff"/>',
        f'<text x="24" y="48" font-family="sans-serif" font-size="30">{heading}</text>',
        '<text x="24" y="80" font-family="sans-serif" font-size="16">'
        "Type the groups in this order. Each is checked by itself. There is no 0, 1, I, L or O.</text>",
    ]
    for at, group in enumerate(groups):
        x, y = 24 + at % _COLUMNS * (_WIDTH - 48) // _COLUMNS, _TOP + at // _COLUMNS * _ROW
        parts.append(f'<text x="{x}" y="{y + 22}" font-family="sans-serif" font-size="16">{at + 1}</text>')
        parts.append(f'<text x="{x}" y="{y + 66}" font-family="monospace" font-size="44">{group}</text>')
    return "\n".join([*parts, "</svg>", ""]).encode()
