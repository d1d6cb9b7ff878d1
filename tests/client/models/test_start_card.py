"""The three lines before a heat say which one it is, what is dealt, and the clock."""

from client.models.start_card import start_card
from shared.rules.settings import Settings
from tests.tables import Evening


def card(evening: Evening) -> tuple[str, str, str]:
    return start_card(evening.view())


def test_a_person_alone_deals_and_is_told_so_with_the_clock() -> None:
    evening = Evening(Settings(level_ms=180_000, heats=3))
    assert card(evening) == (
        "Heat 1 of 3",
        "You are East, the dealer: 14 tiles.",
        "3:00 for the whole Charleston. The first pass has 43 s.",
    )
    evening.play_heat()
    assert card(evening)[0] == "Heat 2 of 3"


def test_who_does_not_deal_is_told_who_does() -> None:
    evening = Evening(Settings(first_east="2"), people=2)
    assert card(evening)[1] == "You are north, not the dealer: 13 tiles. Person 2 deals."
