"""A heat dealt from chosen racks, in which the order of every seat's tiles is plain to see."""

from typing import Any

from shared.rules.events import Moved
from shared.rules.settings import Settings
from tests.heats import Heat

FOUR_RACKS = (
    "1b 1b 2b 3b 4b 5b 6b 7b 8b 9b N N F J",
    "1c 1c 2c 3c 4c 5c 6c 7c 8c 9c E E F",
    "1d 1d 2d 3d 4d 5d 6d 7d 8d 9d S S F",
    "R R R G G G O O O W W F J",
)
LEVEL_MS = 100_000
"""At this level a step's share of the level is its length in seconds."""


def heat(**settings: Any) -> Heat:
    return Heat(Settings(level_ms=LEVEL_MS, **settings), racks=FOUR_RACKS)


def last_move(played: Heat) -> Moved:
    return next(event for event in reversed(played.events) if isinstance(event, Moved))
