"""Who played a seat of a heat, as a value: a result belongs to them, whoever sits on the chair later."""

from shared.records import Record
from shared.rules.steps import STEP_NAMES, StepName


class Player(Record):
    """Who played a seat from a step on: they answered it, or were there when its time ran out. person counts the people
    of a table in the order in which they first played, from 1; a bot has 0. A bot in a person's place has no name."""

    name: str
    person: int
    since: StepName = STEP_NAMES[0]


Players = tuple[Player, ...]
"""All who played one seat of one heat, one after the other."""


def named(players: Players) -> str:
    """Return the names of all who played a seat.

    >>> named((Player(name="Ann", person=1), Player(name="", person=0, since="first left")))
    'Ann + bot'
    """
    return " + ".join(dict.fromkeys(player.name or "bot" for player in players))


def player_of(players: Players, step: StepName) -> Player | None:
    """Return who played a seat at a step."""
    begun = [player for player in players if STEP_NAMES.index(player.since) <= STEP_NAMES.index(step)]
    return begun[-1] if begun else None
