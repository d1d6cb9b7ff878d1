"""The rules page says what the settings say, and the glossary can be searched."""

from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from client.cli import main
from client.reports.rules import GLOSSARY, HOUSE, found_in, rules_of
from shared.rules.settings import Settings
from shared.rules.steps import STEPS

CHOICES: dict[str, tuple[Any, ...]] = {
    "carry_over": (True, False),
    "second": get_args(Settings.model_fields["second"].annotation),
    "silence": ("go on", "stop"),
    "stop_unseen": (True, False),
    "blind": (True, False),
    "blind_most": (1, 2, 3),
    "blind_at": ("both", "last right"),
    "courtesy": (True, False),
    "side_courtesy": (True, False),
    "east_complete": ("new deal", "wins"),
    "plan": (True, False),
    "heats": (1, 3),
    "first_east": get_args(Settings.model_fields["first_east"].annotation),
    "jokers": (8, 10, 0),
    "incoming": get_args(Settings.model_fields["incoming"].annotation),
    "final_at": get_args(Settings.model_fields["final_at"].annotation),
    "hints": get_args(Settings.model_fields["hints"].annotation),
    "play_for": get_args(Settings.model_fields["play_for"].annotation),
    "open_racks": (True, False),
    "level_ms": (120_000, 240_000),
}
"""The settings that change how a table plays, each with values that the page must tell apart."""


def text_of(settings: Settings) -> str:
    return "\n".join(line for section in rules_of(settings) for line in section.lines)


@pytest.mark.parametrize("field", CHOICES)
def test_each_value_of_a_setting_has_a_page_of_its_own(field: str) -> None:
    pages = [text_of(Settings(**{field: value})) for value in CHOICES[field]]
    assert len(set(pages)) == len(pages), field


@given(st.fixed_dictionaries({field: st.sampled_from(values) for field, values in CHOICES.items()}))
def test_the_page_follows_the_settings(values: dict[str, Any]) -> None:
    settings = Settings(**values)
    text = text_of(settings)
    assert f"{144 + settings.jokers} tiles" in text
    assert ("go on or stop" in text) == (settings.second == "offered")
    may_blind = settings.blind and (settings.blind_at == "both" or settings.second != "never")
    assert ("unseen" in text) == may_blind
    assert ("each offer 0 to 3" in text) == settings.courtesy
    assert ("never passed" in text) == bool(settings.jokers)
    assert ("plan step" in text) == settings.plan
    assert HOUSE in text


def test_blind_passes_are_allowed_where_the_steps_say_so() -> None:
    line = next(line for line in text_of(Settings()).splitlines() if "unseen" in line)
    assert all((name in line) == bool(step.blind_at) for name, step in STEPS.items())


def test_the_glossary_is_found_by_name_and_meaning() -> None:
    assert found_in("") == tuple(GLOSSARY.items())
    assert "soap" in dict(found_in("WHITE DRAGON"))
    assert found_in("no such word") == ()
    assert [word for word, _ in found_in("Gap")][:1] == ["gap"]


def test_words_that_begin_with_what_is_looked_for_come_first() -> None:
    words = [word for word, _ in found_in("ha")]
    begins, holds = [word.startswith("ha") for word in words], ["ha" in word.casefold() for word in words]
    assert begins == sorted(begins, reverse=True)
    assert holds == sorted(holds, reverse=True)
    assert begins[0]
    assert not holds[-1]


def test_the_words_stand_in_the_order_of_the_alphabet() -> None:
    assert list(GLOSSARY) == sorted(GLOSSARY, key=str.casefold)


def test_the_command_prints_the_page_or_a_word(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rules"]) == 0
    page = capsys.readouterr().out
    assert HOUSE in " ".join(page.split())
    assert all(word in page for word in GLOSSARY)
    assert max(len(line) for line in page.splitlines()) <= 80
    assert main(["rules", "kong"]) == 0
    assert capsys.readouterr().out == "  kong  Four of one kind.\n"
    assert main(["rules", "nothing like it"]) == 1
    assert capsys.readouterr().err.count("\n") == 1


def test_the_page_tells_house_variants_in_plain_words_and_none_that_the_table_does_not_play() -> None:
    told = {
        "jokers": (10, "154 tiles: 108 in three suits, 16 winds, 12 dragons, 8 flowers, 10 jokers."),
        "silence": ("stop", "no answer means stop."),
        "stop_unseen": (True, "The tiles of first left stay face down until everybody has said go on or stop."),
        "blind_most": (2, "you may pass on one or two incoming tiles, unseen"),
        "blind_at": ("last right", "At last right you may pass on"),
        "side_courtesy": (True, "One more courtesy may go to either side"),
        "east_complete": ("wins", "East wins the heat; nothing is passed."),
    }
    for field, (value, words) in told.items():
        assert words in text_of(Settings(**{field: value})), field
        assert words not in text_of(Settings()), field
    assert "face down" not in text_of(Settings(stop_unseen=True, second="always"))
    assert "Blind passes are not allowed." in text_of(Settings(blind_at="last right", second="never"))
