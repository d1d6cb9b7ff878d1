"""The settings of a table by a typed line: every one can be set by its name, and what cannot be is said."""

import pytest

from client.plain.settings import set_by, settable
from client.setup import Setup
from shared.rules.settings import Settings

BASE = Settings()
PRESETS = {"Slow pier": Setup(Settings(level_ms=240_000, heats=5))}


@pytest.mark.parametrize(
    ("line", "changed"),
    [
        ("clock 2:30", {"level_ms": 150_000}),
        ("Whole Charleston 90", {"level_ms": 90_000}),
        ("first left 0:30", {"lengths_ms": {"first left": 30_000}}),
        ("courtesy pass no", {"courtesy": False}),
        ("heats in a set 5", {"heats": 5}),
        ("a pass is final at step's end", {"final_at": "step end"}),
        ("if the host is away wait 3:00", {"host_away_ms": 180_000}),
        ("seed of the deal 12", {"seed": 12}),
    ],
)
def test_a_setting_is_set_by_its_name_and_its_value_in_words(line: str, changed: dict[str, object]) -> None:
    assert set_by(BASE, PRESETS, line.split()) == BASE.model_copy(update=changed)


def test_a_preset_is_taken_by_its_name() -> None:
    assert set_by(BASE, PRESETS, ["preset", "slow", "pier"]) == PRESETS["Slow pier"].settings


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ("clock soon", "soon is not a time: write seconds, or minutes and seconds as 2:30."),
        ("clock 99:00", "level is 5940 s; it must be 0:10 to 30:00."),
        ("courtesy pass perhaps", "Courtesy pass can be no, yes."),
        ("preset unknown", "Use a preset can be Slow pier."),
        ("weather fine", "No setting has this name; write set alone for all of them."),
        ("clock", "No setting has this name; write set alone for all of them."),
    ],
)
def test_what_cannot_be_set_is_said_in_a_sentence(line: str, sentence: str) -> None:
    assert set_by(BASE, PRESETS, line.split()) == sentence


def test_every_line_of_the_list_names_a_setting_that_can_be_set() -> None:
    *lines, how = settable(BASE, PRESETS)
    assert how == "Host, between heats: set clock 3:00, or set preset NAME."
    assert len(lines) > 25
    for line in lines:
        label, value = line.rstrip(".").split(": ", 1)
        if label not in ("Use a preset", "Seed of the deal"):
            answer = set_by(BASE, PRESETS, [label, value.removesuffix(" set")])
            assert isinstance(answer, Settings), (line, answer)
