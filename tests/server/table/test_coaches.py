"""Bots on the coach: legal at every step, by what their seat sees, and the same set from the same seed."""

import pytest

from client.hosting.table import play_bots
from client.reports.bot_set import set_as_json
from server.table import bots
from server.table.coaches import thinker
from shared.cards import practice_card
from shared.cards.play import complete, shipped_text
from shared.coach.policies import STRENGTHS
from shared.rules.events import Passed, Planned, Voted
from shared.rules.settings import Settings
from shared.rules.wall import Stream
from tests.heats import faults
from tests.tables import Evening

CARD = shipped_text("first-evening")
SKILLS = ("coach, distracted", "coach, at a glance", "coach, thinking ahead")


def with_skill(skill: str, **values: object) -> Settings:
    return Settings.model_validate({"bot_skill": skill, "bot_pace": "quick", "heats": 1, **values})


def test_the_skills_of_the_settings_are_the_coachs_own_names() -> None:
    assert set(SKILLS) < set(STRENGTHS)
    assert thinker(with_skill("simple"), CARD) is bots.choose


@pytest.mark.parametrize("skill", SKILLS)
def test_four_coached_bots_play_whole_heats_by_the_rules(skill: str) -> None:
    for heat in play_bots(with_skill(skill, seed=3, plan=True), card=CARD):
        assert faults(heat, complete) == ()
        answers = [event for event in heat.events if isinstance(event, Passed | Voted | Planned)]
        assert {answer.by for answer in answers} == {"bot"}, "the clock answered for a bot that was refused"


def test_a_seed_plays_the_same_set_with_coached_bots() -> None:
    settings = with_skill("coach, distracted", seed=4)
    first, second = (set_as_json(settings, play_bots(settings, card=CARD)) for _ in range(2))
    assert first == second
    assert first != set_as_json(settings, play_bots(with_skill("simple", seed=4), card=CARD))


def test_a_coached_bot_names_a_hand_of_the_card_and_tiles_of_its_rack() -> None:
    heat = play_bots(with_skill("coach, at a glance", seed=5, plan=True))[0]
    plans = [event for event in heat.events if isinstance(event, Planned)]
    assert len(plans) == 4
    assert {plan.hand for plan in plans} <= {hand.id for hand in practice_card().hands}


def test_without_a_card_a_coached_bot_plays_as_the_simple_birds_do() -> None:
    think = thinker(with_skill("coach, at a glance"), "no card at all")
    evening = Evening()
    evening.ready()
    view = evening.heat()
    assert think(view, Stream(b"key", "bot")) == bots.choose(view, Stream(b"key", "bot"))
