"""Bugs: what the log says about them, and what the client gets."""

import traceback

INTERNAL_ERROR = "Internal error; nothing was changed."
_OURS = ("server.", "shared.")


def describe_fault(error: BaseException) -> str:
    """Return an error's kind and place (module, function, line), and the place in our own code that led there.

    Its own words are left out, since they could hold a tile, a token or a code.
    """
    places = []
    for frame, line in traceback.walk_tb(error.__traceback__):
        places.append(f"{frame.f_globals.get('__name__', '?')}, {frame.f_code.co_qualname}, line {line}")
    if not places:
        return type(error).__name__
    ours = [place for place in places if place.startswith(_OURS)][-1:]
    led = f", called from {ours[0]}" if ours and ours[0] != places[-1] else ""
    return f"{type(error).__name__} at {places[-1]}{led}"
