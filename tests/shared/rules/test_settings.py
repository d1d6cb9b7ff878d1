"""Settings: defaults, lengths, and a sentence for every value that cannot be."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.rules.settings import Settings, read_settings
from shared.rules.steps import STEPS

ANYTHING = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20) | st.lists(st.integers())


def sentence(**values: Any) -> str:
    faults = read_settings(values)
    assert isinstance(faults, tuple), "these settings were accepted"
    assert len(faults) == 1
    return faults[0]


def test_a_newcomer_plays_three_heats_of_three_minutes_with_everything_the_trade_plays() -> None:
    """Levels of 4:00, 3:00 and 2:00 and three timed heats a practice are common practice, without a source."""
    plain = Settings()
    assert (plain.level_ms, plain.heats, plain.second, plain.jokers) == (180_000, 3, "offered", 8)
    assert plain.blind
    assert plain.courtesy
    assert plain.carry_over
    assert (plain.incoming, plain.final_at, plain.seed) == ("racks", "commit", None)


@pytest.mark.parametrize("level_ms", [240_000, 180_000, 120_000, 100_000])
def test_the_lengths_of_a_level_are_its_shares_and_together_the_level(level_ms: int) -> None:
    settings = Settings(level_ms=level_ms)
    assert settings.total_ms() == level_ms
    assert all(settings.length_ms(step) == level_ms * STEPS[step].share // 100 for step in STEPS if step != "plan")


def test_every_length_can_be_set_by_itself() -> None:
    for step in STEPS:
        settings = Settings(lengths_ms={step: 7_000})
        assert settings.length_ms(step) == 7_000
        assert [other for other in STEPS if settings.length_ms(other) != Settings().length_ms(other)] == [step]


def shown(field: str, value: object) -> str:
    """Return how a sentence tells a value: whole milliseconds in seconds, all else as Python writes it."""
    is_time = field.endswith("_ms") and type(value) is int
    return f"{value / 1000:g} s" if is_time else repr(value)  # type: ignore[operator]


def test_no_step_is_shorter_than_a_second() -> None:
    shortest = Settings(level_ms=10_000)
    assert min(shortest.length_ms(step) for step in STEPS) == 1_000


@pytest.mark.parametrize(
    ("field", "value", "span"),
    [
        ("level_ms", 9_999, "0:10 to 30:00"),
        ("level_ms", 1_800_001, "0:10 to 30:00"),
        ("level_ms", "3:00", "0:10 to 30:00"),
        ("level_ms", True, "0:10 to 30:00"),
        ("level_ms", 180_000.0, "0:10 to 30:00"),
        ("plan_ms", 999, "1 to 600 seconds"),
        ("plan_ms", 600_001, "1 to 600 seconds"),
        ("heats", 0, "1 to 12"),
        ("heats", 13, "1 to 12"),
        ("carry_over", 1, "true or false"),
        ("blind", "yes", "true or false"),
        ("courtesy", None, "true or false"),
        ("plan", "on", "true or false"),
        ("open_racks", 0, "true or false"),
        ("same_deal", [], "true or false"),
        ("second", "sometimes", "offered, always or never"),
        ("first_east", 1, "1, 2, 3, 4 or lot"),
        ("first_east", "5", "1, 2, 3, 4 or lot"),
        ("jokers", 4, "8, 10 or 0"),
        ("east_complete", True, "new deal or wins"),
        ("silence", "yes", "go on or stop"),
        ("stop_unseen", 1, "true or false"),
        ("blind_most", 0, "3, 2 or 1"),
        ("blind_at", "first left", "both or last right"),
        ("side_courtesy", "left", "true or false"),
        ("incoming", "bag", "racks or wall"),
        ("final_at", "never", "commit or step end"),
        ("bot_pace", "fast", 'quick, steady, slow or "no wait"'),
        ("hints", "all", "none, after each pass or at the end"),
        ("seed", -1, "0 to 2^63 - 1"),
        ("seed", 2**63, "0 to 2^63 - 1"),
    ],
)
def test_a_bad_value_is_told_with_its_field_the_value_and_the_range(field: str, value: Any, span: str) -> None:
    text = sentence(**{field: value})
    assert text.startswith(f"{field.removesuffix('_ms')} is ")
    assert shown(field, value) in text
    assert span in text
    assert text.endswith(".")


@pytest.mark.parametrize("value", [0, 999, 600_001, "5 s", None, True])
def test_a_bad_length_is_told_with_its_step(value: Any) -> None:
    text = sentence(lengths_ms={"first left": value})
    assert text.startswith(f"lengths first left is {shown('lengths_ms', value)}; ")
    assert "1 to 600 seconds" in text


def test_a_step_that_does_not_exist_is_told_with_those_that_do() -> None:
    text = sentence(lengths_ms={"second right": 5_000})
    assert "'second right'" in text
    assert all(step in text for step in STEPS)


def test_a_setting_that_does_not_exist_is_told_by_its_name() -> None:
    assert "'colour'" in sentence(colour="red")


def test_every_bad_value_gets_a_sentence_of_its_own() -> None:
    faults = read_settings({"heats": 0, "jokers": 3, "blind": "no", "lengths_ms": {"go on": 1}})
    assert isinstance(faults, tuple)
    assert len(faults) == 4


@given(st.dictionaries(st.sampled_from([*Settings.model_fields, "other"]), ANYTHING, max_size=6))
def test_whatever_a_file_says_it_is_read_or_refused_in_sentences(values: dict[str, Any]) -> None:
    read = read_settings(values)
    if isinstance(read, tuple):
        assert read
        assert all(text.endswith(".") for text in read)
    else:
        assert read_settings(read.model_dump()) == read


def test_a_field_that_has_bounds_says_them() -> None:
    assert all(field.description for field in Settings.model_fields.values())
