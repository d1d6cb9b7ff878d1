"""Bots of a set to take home answer in the same way everywhere, and other answers are found."""

import pytest

from client.hosting.set_bots import bots_fault
from shared.cards.play import shipped_text
from shared.rules.events import Offered, Passed
from shared.rules.heat import HEAT
from shared.rules.set_result import bare
from shared.rules.settings import Settings
from tests.take_home import SETTINGS, made, played

CARD = shipped_text()


@pytest.mark.parametrize(
    ("skill", "incoming"),
    [
        ("simple", "wall"),
        ("coach, distracted", "wall"),
        ("coach, at a glance", "racks"),
        ("coach, thinking ahead", "wall"),
    ],
)
def test_the_bots_of_every_player_answer_as_they_do_here(skill: str, incoming: str) -> None:
    chosen = {"bot_skill": skill, "incoming": incoming, "plan": True}
    taken = made(Settings.model_validate({**SETTINGS.model_dump(), **chosen}))
    (heat,) = played(taken, 1, 1)
    assert bots_fault(HEAT.unpack(bare(heat)), CARD) == ""


def test_a_bot_that_answered_otherwise_is_found() -> None:
    heat = played(made(), 1, 1)[0]
    bots = [at for at, one in enumerate(heat.events) if isinstance(one, Passed | Offered) and one.by == "bot"]
    for at in bots:
        event = heat.events[at]
        other = {"count": 3 - event.count} if isinstance(event, Offered) else {"tiles": ("E", *event.tiles)}
        wrong = event.model_copy(update=other)
        changed = heat.model_copy(update={"events": (*heat.events[:at], wrong, *heat.events[at + 1 :])})
        assert "answers otherwise" in bots_fault(changed, CARD)
    assert len(bots) >= 18
