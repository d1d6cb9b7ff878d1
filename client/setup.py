"""How a table is to be set up: its settings, and the name of the card that it plays by. Pure."""

from dataclasses import dataclass, field

from shared.rules.settings import Settings

ABOUT_CARDS = "Others get it only if share = true. Printed cards belong to their publishers."
"""What somebody needs to know who chooses a card; a line of the smallest full screen."""


ALONE = Settings(bot_pace="no wait", plan=True, plan_ms=120_000)
"""How a table for one is set up at first: nobody waits for bots, and a plan stands at the end of each heat."""


@dataclass(frozen=True, slots=True)
class Setup:
    """Settings and a card's name; without a name, any card that was chosen before is left as it is."""

    settings: Settings = field(default_factory=Settings)
    card: str = ""


def next_card(cards: tuple[str, ...], chosen: str, by: int) -> str:
    """Return the card so many places after the chosen one; the first one if the chosen one is not among them.

    >>> next_card(("practice", "pier"), "pier", 1)
    'practice'
    """
    if not cards:
        return chosen
    return cards[(cards.index(chosen) + by) % len(cards)] if chosen in cards else cards[0]


def fitting_name(name: str, cells: int) -> str:
    """Return a card's name in at most so many cells; where it is cut, two dots say so.

    >>> fitting_name("boathouse-evening", 11)
    'boathouse..'
    """
    return name if len(name) <= cells else f"{name[: cells - 2]}.."
