"""How the bots of a table think: simply, or like the coach at one of three strengths.

Bots think in threads, so the table never waits for them. numpy and the coach are loaded by the first
bot that needs them, so that a table of simple birds opens at once.
"""

from collections.abc import Callable
from functools import partial

from server.table import bots
from shared.rules.intents import SeatIntent
from shared.rules.settings import Settings
from shared.rules.wall import Stream
from shared.wire.views import HeatView

Think = Callable[[HeatView, Stream], SeatIntent]


def thinker(settings: Settings, card: str) -> Think:
    """Return how a bot answers at a table with these settings and this card (TOML text)."""
    return bots.choose if settings.bot_skill == "simple" else partial(_coached, settings, card)


def _coached(settings: Settings, card: str, view: HeatView, stream: Stream) -> SeatIntent:
    """Answer like the coach, or like the simple bots if the card cannot be used."""
    from shared.coach.answers import answer
    from shared.coach.coach import Coach, coach_of

    coach = coach_of(card)
    if not isinstance(coach, Coach) or settings.bot_skill == "simple":
        return bots.choose(view, stream)
    return answer(coach, view, settings, settings.bot_skill, stream.below(2**63))
