"""Parse and format durations as people write them: minutes and seconds, or plain seconds.

Pure; must never read a clock.
"""

import re

_TIME = re.compile(r"(?:([0-9]{1,4}):)?([0-9]{1,6})(?:\.([0-9]{1,3}))?", re.ASCII)


def read_time_ms(text: str) -> int | None:
    """Parse "m:ss" or plain seconds, either with up to three decimals, into milliseconds; None if it is neither.

    >>> read_time_ms("2:30"), read_time_ms("45"), read_time_ms("0:07.5"), read_time_ms("2:99")
    (150000, 45000, 7500, None)
    """
    found = _TIME.fullmatch(text.strip())
    if not found:
        return None
    minutes, seconds, decimals = found.groups()
    if minutes is not None and (len(seconds) > 2 or int(seconds) > 59):
        return None
    return (60 * int(minutes or 0) + int(seconds)) * 1_000 + int((decimals or "0").ljust(3, "0"))


def time_ms_of(value: object) -> int | None:
    """Return the milliseconds of a time in a file: a text that read_time_ms takes, or a number of seconds.

    >>> time_ms_of("0:45"), time_ms_of(45), time_ms_of(True)
    (45000, 45000, None)
    """
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    return read_time_ms(f"{value}") if is_number or isinstance(value, str) else None


def write_time(ms: int) -> str:
    """Return the time as "m:ss" with as many decimals as it needs; the inverse of read_time_ms.

    >>> write_time(180_000), write_time(43_250)
    ('3:00', '0:43.25')
    """
    whole = f"{ms // 60_000}:{ms // 1_000 % 60:02}"
    return f"{whole}.{ms % 1_000:03}".rstrip("0") if ms % 1_000 else whole


def write_seconds(ms: int) -> str:
    """Return the time in whole seconds, rounded up, to read aloud.

    >>> write_seconds(43_200)
    '44 s'
    """
    return f"{-(-ms // 1_000)} s"
