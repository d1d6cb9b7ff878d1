"""A set to take home as one line: settings, card, seed and versions, in groups that check themselves. Pure."""

from collections.abc import Sequence
from functools import lru_cache
from typing import Literal, get_args, get_origin

from pydantic import Field
from pydantic.fields import FieldInfo

from shared import versions
from shared.records import Record
from shared.rules.grouped import ALL_AGAIN, Grouped
from shared.rules.settings import Settings
from shared.rules.steps import STEP_NAMES

MOST_CHARACTERS = 120
CARD_DIGITS = 15
"""How many hexadecimal digits of a card's digest a line holds: 60 bits."""
FIRST_DAY = 739_617
"""The first of January 2026, counted as datetime.date.toordinal does. A line holds the days after it."""
_DAYS = 1 << 14
COACH = int(versions.COACH.rpartition(" ")[2])
"""The number of the coach, by which bots pass."""
_COMMON = ("level_ms", "heats", "incoming", "bot_pace", "bot_skill", "hints")
"""The settings that people change most: they come first, and a line ends where all that follows is as usual."""
OLDER = "This set was made with an older racktempo, whose bots pass other tiles. Ask its maker for a new line."
"""What is said of a set that can no longer be played; results of it can still be compared if only the bots changed."""
_NO_LINE = "This is not the line of a set. It has groups of six letters and digits, such as 4KX7Q2-M9C3TB."
SET_LINE = Grouped(label=b"racktempo set\0", first=0, sums=1021, most=15, none=_NO_LINE)


class TakeHome(Record):
    """What a line fixes.

    settings hold the seed; card is the beginning of the card's digest. opens and closes are days, 0 for none: they
    are told, and nobody is kept from playing on another day. heat_file and coach are the versions of the rules' files
    and of the bots that the set was made for.
    """

    settings: Settings
    card: str = Field(pattern=f"^[0-9a-f]{{{CARD_DIGITS}}}$")
    opens: int = Field(0, ge=0)
    closes: int = Field(0, ge=0)
    heat_file: int = versions.HEAT_FILE
    coach: int = COACH

    @property
    def line(self) -> str:
        """The line, at most 120 characters."""
        return write_line(self)

    @property
    def is_older(self) -> bool:
        """Whether its bots are those of an older version, which this one does not have."""
        return self.coach < COACH

    @property
    def seed(self) -> int:
        """The seed of the deals."""
        return self.settings.seed or 0


def taken_home(settings: Settings, card_digest: str, seed: int, opens: int = 0, closes: int = 0) -> TakeHome | str:
    """Return a set with these settings and this seed, or a sentence why no line can hold it.

    What differs from machine to machine is taken out: the first East that is drawn by lot follows from the seed.
    """
    times_ms = (settings.level_ms, settings.plan_ms, *settings.lengths_ms.values())
    if any(time_ms % 1000 for time_ms in times_ms):
        return "A set to take home needs times in whole seconds."
    if any(day and not FIRST_DAY < day < FIRST_DAY + _DAYS for day in (opens, closes)):
        return "The days of a set to take home must lie between 2026 and 2070."
    if opens and closes and closes < opens:
        return "The set would close before it opens."
    east = "1234"[seed % 4] if settings.first_east == "lot" else settings.first_east
    fixed = settings.model_copy(update={"seed": seed, "first_east": east, "same_deal": False})
    return TakeHome(settings=fixed, card=card_digest[:CARD_DIGITS], opens=opens, closes=closes)


def write_line(taken: TakeHome) -> str:
    """Return the line of a set: groups with dashes between them."""
    number = 0
    for value, radix in reversed(_digits(taken)):
        number = number * radix + value
    return SET_LINE.write(number)


def read_line(text: str) -> TakeHome | str:
    """Return the set of a line, or one sentence that says what to do."""
    number = SET_LINE.read(text)
    return number if isinstance(number, str) else _read(number)


def _read(number: int) -> TakeHome | str:
    number, heat_file = divmod(number, 64)
    number, coach = divmod(number, 64)
    if heat_file > versions.HEAT_FILE or coach > COACH:
        return "This set was made with a newer racktempo. Use the newer one."
    if heat_file < versions.HEAT_FILE:
        return OLDER
    number, card = divmod(number, 16**CARD_DIGITS)
    number, seed = divmod(number, 1 << 32)
    opens = closes = high = 0
    number, has_days = divmod(number, 2)
    if has_days:
        number, opens = divmod(number, _DAYS)
        number, closes = divmod(number, _DAYS)
    number, is_long = divmod(number, 2)
    if is_long:
        number, high = divmod(number, 1 << 31)
    values: dict[str, object] = {}
    for name in _fields():
        options = _options(name)
        number, at = divmod(number, len(options))
        values[name] = options[at]
    lengths = {}
    for step in STEP_NAMES:
        number, seconds = divmod(number, 601)
        if seconds:
            lengths[step] = seconds * 1000
    if number:
        return ALL_AGAIN
    settings = Settings.model_validate({**values, "lengths_ms": lengths, "seed": seed + (high << 32)})
    first, last = (day and FIRST_DAY + day for day in (opens, closes))
    return TakeHome(settings=settings, card=f"{card:0{CARD_DIGITS}x}", opens=first, closes=last, coach=coach)


def _digits(taken: TakeHome) -> list[tuple[int, int]]:
    """Return what a line holds as (value, radix), the first to be read first."""
    settings, days = taken.settings, (taken.opens, taken.closes)
    found = [
        (taken.heat_file, 64),
        (taken.coach, 64),
        (int(taken.card, 16), 16**CARD_DIGITS),
        (taken.seed % (1 << 32), 1 << 32),
        (int(any(days)), 2),
        *((day and day - FIRST_DAY, _DAYS) for day in days if any(days)),
        (int(taken.seed >> 32 > 0), 2),
        *((high, 1 << 31) for high in (taken.seed >> 32,) if high),
    ]
    for name in _fields():
        options = _options(name)
        found.append((options.index(getattr(settings, name)), len(options)))
    return [*found, *((settings.lengths_ms.get(step, 0) // 1000, 601) for step in STEP_NAMES)]


def _fields() -> tuple[str, ...]:
    rest = (name for name in Settings.model_fields if name not in (*_COMMON, "lengths_ms", "seed"))
    return (*_COMMON, *rest)


@lru_cache(maxsize=64)
def _options(name: str) -> tuple[object, ...]:
    """Return every value that a setting can have, the usual one first."""
    field = Settings.model_fields[name]
    options = _values(field, 1000 if name.endswith("_ms") else 1)
    usual = options.index(field.default)
    return (*options[usual:], *options[:usual])


def _values(field: FieldInfo, unit: int) -> Sequence[object]:
    if get_origin(field.annotation) is Literal:
        return get_args(field.annotation)
    if field.annotation is bool:
        return (False, True)
    least, most = (next(getattr(one, end) for one in field.metadata if hasattr(one, end)) for end in ("ge", "le"))
    return range(least, most + 1, unit)
