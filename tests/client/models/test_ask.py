"""What is typed, which questions it allows, and what is asked when."""

import pytest

from client.models.ask import AskModel
from shared.rules.typed_tiles import typed

RACK = "1123b567c9dNEFFJ"


def model_with(text: str) -> AskModel:
    model = AskModel(2026)
    for character in text:
        model.press(character)
    return model


def test_nothing_is_asked_before_the_rack_is_whole() -> None:
    model = AskModel(2026)
    for count, character in enumerate(RACK, 1):
        model.press(character)
        assert (model.asked() is not None) == (count == len(RACK))
    asked = model.asked()
    assert asked is not None
    assert sorted(asked.rack) == sorted(typed("1b 1b 2b 3b 5c 6c 7c 9d N E F F J"))
    assert (asked.question, asked.step, asked.passed) == ("pass", "first right", ())


def test_fourteen_tiles_may_discard_and_thirteen_may_not() -> None:
    assert "discard" not in model_with(RACK).questions
    dealer = model_with(f"{RACK}2d")
    assert "discard" in dealer.questions
    dealer.press("discard")
    assert dealer.question == "discard"
    dealer.press("backspace")
    assert dealer.question == "pass"


@pytest.mark.parametrize(
    ("question", "step"), [("vote", "go on"), ("offer", "courtesy offer"), ("hand", None), ("blind", "first left")]
)
def test_each_question_is_asked_at_its_step(question: str, step: str | None) -> None:
    model = model_with(RACK)
    model.press(question)
    asked = model.asked()
    assert asked is not None
    assert (asked.question, asked.step) == (question, step)


def test_arrows_choose_the_pass_and_blind_ones_are_only_where_they_are_allowed() -> None:
    model = model_with(RACK)
    model.press("right")
    assert model.step == "first across"
    model.press("blind")
    assert model.step in ("first left", "last right")
    model.press("left")
    assert model.step in ("first left", "last right")


def test_what_was_passed_has_a_line_of_its_own() -> None:
    model = model_with(RACK)
    model.press("right")
    model.press("tab")
    for character in "9dS":
        model.press(character)
    asked = model.asked()
    assert asked is not None
    assert asked.passed == ("9d", "S")
    model.press("tab")
    model.press("backspace")
    assert (model.text, model.before) == (RACK[:-1], "9dS")


def test_faults_and_too_many_tiles_are_one_sentence_and_ask_nothing() -> None:
    assert "no such rank" in model_with("10b").fault
    over = model_with(f"{RACK}2d3d")
    assert over.fault == "A rack has 13 or 14 tiles; these are 15. Take some away."
    assert over.asked() is None
    assert model_with(RACK).counted == "13 tiles; the dealer has 14"
    assert model_with("1b").counted == "1 of 14"


def test_pasted_text_may_have_lines_and_control_characters_are_left_out() -> None:
    model = AskModel(2026)
    model.type("1123b 567c\n9d NE FF J")
    assert model.asked() is not None
    model.type("\x1b[31m")
    assert "\x1b" not in model.text


def test_escape_leads_back_and_f2_shows_all() -> None:
    model = model_with(RACK)
    assert model.press("escape") == "back"
    assert model.press("f2") == "more"
