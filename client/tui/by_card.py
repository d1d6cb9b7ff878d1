"""The screens that need a card besides what they begin with: which one a beginning leads to."""

from client.tui.ports import AtAsk, AtRacks, AtRealSet
from client.tui.screens.ask import AskScreen
from client.tui.screens.base import BaseScreen
from client.tui.screens.real_racks import RacksScreen
from client.tui.screens.real_set import RealSetScreen
from shared.cards import Card
from shared.cards.play import card_of

ByCard = AtAsk | AtRacks | AtRealSet


def screen_by(start: ByCard, text: str) -> BaseScreen:
    """Return the screen that a beginning leads to, by the card with this text."""
    card = card_of(text)
    assert isinstance(card, Card)
    match start:
        case AtAsk():
            return AskScreen(card.year, text, start)
        case AtRacks(heats, keeps, may_stay):
            return RacksScreen(heats, text, card.year, keeps, may_stay)
        case AtRealSet(heats, keeps):
            return RealSetScreen(heats, text, card, keeps)
