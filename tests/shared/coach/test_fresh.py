"""Fresh decisions: repeatable, each of its kind, and without a tile that their player could not know."""

from collections import Counter
from dataclasses import fields
from itertools import islice

import pytest

from shared.cards.play import shipped_text
from shared.coach.decisions import hand_names, judge, position_of
from shared.coach.fresh import decisions_of_rack, fresh_decision
from shared.coach.ranking import Effort
from shared.coach.targets import likeliest_first
from shared.rules.decisions import Answer, Decision, Drill
from shared.rules.drills import TEMPTING
from shared.rules.settings import Settings
from shared.rules.tiles import COPIES
from shared.rules.typed_tiles import typed
from tests.shared.coach.lives import TEXT, coach

QUICK = Effort(((6, 8),))
FRESH: tuple[Drill, ...] = ("first", "tempting", "go on", "courtesy", "discard", "hand", "family")


def key(number: int) -> bytes:
    return bytes([number]) * 32


def dealt(drill: Drill, number: int) -> Decision:
    return fresh_decision(coach(), drill, Settings(seed=3), TEXT, key(number))


@pytest.mark.parametrize("drill", FRESH)
def test_a_key_repeats_a_decision_and_another_one_gives_another(drill: Drill) -> None:
    assert dealt(drill, 1) == dealt(drill, 1)
    assert dealt(drill, 1).rack != dealt(drill, 2).rack


@pytest.mark.parametrize("drill", FRESH)
def test_a_decision_holds_only_tiles_that_one_seat_has_seen(drill: Drill) -> None:
    """No set of its fields holds more tiles than one player can have met, and its settings name no deal."""
    for number in range(4):
        decision = dealt(drill, number)
        assert decision.settings.seed is None
        held = {each.name: getattr(decision, each.name) for each in fields(decision)}
        tiles = [value for value in held.values() if isinstance(value, tuple) and value and value[0] in COPIES]
        assert len(decision.rack) in (13, 14)
        assert len(decision.passed) <= 3 * decision.made + 3
        assert len(decision.came) <= 3
        assert len(tiles) <= 3
        assert not Counter(decision.came) - Counter(decision.rack)


def test_each_kind_asks_its_own_question() -> None:
    assert {(dealt("first", number).ask, dealt("first", number).step) for number in range(3)} == {
        ("pass", "first right")
    }
    assert {dealt("go on", number).ask for number in range(3)} == {"vote"}
    assert {dealt("courtesy", number).ask for number in range(8)} == {"offer", "give"}
    for number in range(3):
        last = dealt("discard", number)
        assert (last.ask, last.step, len(last.rack)) == ("discard", None, 14)
    assert {dealt("tempting", number).what for number in range(8)} == {"dragons in threes", "late flowers"}
    card = shipped_text()
    whole = coach(card)
    kinds = {fresh_decision(whole, "tempting", Settings(), card, key(number)).what for number in range(12)}
    assert kinds == {deal.title for deal in TEMPTING.values()}


def test_the_dragons_have_come_when_they_tempt() -> None:
    tempted = next(islice((each for n in range(30) if (each := dealt("tempting", n)).what == "dragons in threes"), 1))
    seen = Counter(tempted.rack) + Counter(tempted.passed)
    assert sum(seen[dragon] >= 3 for dragon in "RGO") >= 1


def test_the_family_of_the_likeliest_hand_is_right_and_its_chance_decides_about_others() -> None:
    decision = dealt("family", 1)
    readings = likeliest_first(coach().engine.hands(position_of(decision)))
    right = decision.choices.index(coach().card.hands[readings[0].hand].section)
    assert judge(coach(), decision, Answer(number=right)).verdict == "Right."
    for number in range(len(decision.choices)):
        found = judge(coach(), decision, Answer(number=number))
        best = max(each.win for each in readings if coach().card.hands[each.hand].section == decision.choices[number])
        assert found.loss.points == pytest.approx(100 * (readings[0].win - best))


def test_the_tile_that_is_missed_least_is_the_best_discard() -> None:
    decision = dealt("discard", 1)
    best = judge(coach(), decision, None).best
    assert judge(coach(), decision, best).verdict == "Best."
    losses = [judge(coach(), decision, Answer((tile,))).loss.points for tile in set(decision.rack) - {"J"}]
    assert min(losses) == 0.0
    assert max(losses) > 0.0
    with pytest.raises(ValueError, match="cannot be discarded"):
        judge(coach(), decision, Answer(("J",)))


def test_a_typed_rack_is_asked_about_its_family_its_first_pass_and_with_fourteen_its_discard() -> None:
    asked = decisions_of_rack(typed("1123b 567c 9d NE FF J 3d"), Settings(), TEXT)
    assert [each.ask for each in asked] == ["family", "pass", "discard"]
    asked = decisions_of_rack(typed("1123b 567c 9d NE FF J"), Settings(), TEXT)
    assert [each.ask for each in asked] == ["family", "pass"]
    assert judge(coach(), asked[1], None, QUICK).best.tiles
    with pytest.raises(ValueError, match="13 or 14 tiles; these are 3"):
        decisions_of_rack(typed("123b"), Settings(), TEXT)


def test_a_hand_to_name_is_one_of_the_likeliest_and_judged_by_its_chance_alone() -> None:
    decision = dealt("hand", 5)
    assert decision.ask == "hand"
    assert decision.step is None
    order = likeliest_first(coach().engine.hands(position_of(decision)))
    names = hand_names(coach().card)
    assert sorted(decision.choices) == sorted(names[reading.hand] for reading in order[:6])
    for number, choice in enumerate(decision.choices):
        found = judge(coach(), decision, Answer(number=number))
        own = next(reading for reading in order if names[reading.hand] == choice)
        assert found.loss.points == pytest.approx(100 * (order[0].win - own.win))
        assert (found.rating == "best") == (found.loss.points < 0.05)
        assert found.own is not None
        assert found.own.name == choice
    assert decision.choices[found.best.number or 0] == names[order[0].hand]
    assert judge(coach(), decision, None).rating == "out of time"
