"""The line of a set to take home: what it holds comes back, and one slip of a hand is found in its own group."""

import random
from typing import Literal, get_args, get_origin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared import versions
from shared.rules.grouped import ALPHABET, groups_of
from shared.rules.set_line import (
    COACH,
    FIRST_DAY,
    MOST_CHARACTERS,
    OLDER,
    SET_LINE,
    TakeHome,
    read_line,
    taken_home,
)
from shared.rules.settings import Settings
from shared.rules.steps import STEP_NAMES

CARD = "0f3a" * 16
wrong_groups = SET_LINE.wrong
seconds = st.integers(1, 600).map(lambda whole: whole * 1000)
times = {"level_ms": st.integers(10, 1800).map(lambda whole: whole * 1000), "plan_ms": seconds}
choices = {
    name: st.sampled_from([option for option in get_args(field.annotation) or (True, False) if option != "lot"])
    for name, field in Settings.model_fields.items()
    if get_origin(field.annotation) is Literal or (field.annotation is bool and name != "same_deal")
}
lengths = st.dictionaries(st.sampled_from(STEP_NAMES), seconds)
settings = st.builds(Settings, lengths_ms=lengths, heats=st.integers(1, 12), **times, **choices)
days = st.just(0) | st.integers(FIRST_DAY + 1, FIRST_DAY + 16_383)


def made(settings: Settings, seed: int, opens: int = 0, closes: int = 0) -> TakeHome:
    found = taken_home(settings, CARD, seed, opens, closes)
    assert isinstance(found, TakeHome), found
    return found


LINE = made(Settings(incoming="wall", bot_pace="no wait"), 3_141_592_653).line


@given(settings, st.integers(0, 2**63 - 1), st.tuples(days, days).map(sorted))
def test_what_a_line_holds_comes_back_and_every_line_fits_a_message(
    settings: Settings, seed: int, open_days: list[int]
) -> None:
    set_ = made(settings, seed, *(open_days if open_days[1] else (0, 0)))
    assert read_line(set_.line) == set_
    assert len(set_.line) <= MOST_CHARACTERS
    assert wrong_groups(set_.line) == ()


def test_the_longest_line_fits_a_message() -> None:
    every = dict.fromkeys(STEP_NAMES, 600_000)
    for field, value in (("heats", 2), ("plan_ms", 29_000), ("host_away_ms", 0), ("same_deal", True)):
        every_setting = Settings(lengths_ms=every, level_ms=179_000).model_copy(update={field: value})
        line = made(every_setting, 2**63 - 1, FIRST_DAY + 16_383, FIRST_DAY + 16_383).line
        assert len(line) <= MOST_CHARACTERS, line


def test_every_setting_is_among_those_that_are_tried() -> None:
    assert {*times, *choices, "lengths_ms", "heats", "seed", "same_deal"} == set(Settings.model_fields)


@given(st.sampled_from([" ", "", "\n", " - "]), st.booleans())
def test_dashes_spaces_and_case_do_not_count(between: str, is_lower: bool) -> None:
    typed = LINE.replace("-", between)
    assert read_line(typed.lower() if is_lower else typed) == read_line(LINE)


def test_every_wrong_character_is_found_in_its_own_group() -> None:
    for at, sign in enumerate(LINE):
        for other in ALPHABET + "01ILO" if sign != "-" else "":
            if other != sign:
                typed = LINE[:at] + other + LINE[at + 1 :]
                assert wrong_groups(typed) == (at // 7,), typed
                group = groups_of(typed)[at // 7]
                told = read_line(typed)
                assert isinstance(told, str)
                assert told.startswith(f"Group {at // 7 + 1} ({group}) cannot be right")


def test_two_neighbours_that_changed_places_are_found_in_their_own_group() -> None:
    swapped = 0
    for at in range(len(LINE) - 1):
        one, other = LINE[at : at + 2]
        if "-" not in (one, other) and one != other:
            assert wrong_groups(LINE[:at] + other + one + LINE[at + 2 :]) == (at // 7,)
            swapped += 1
    assert swapped > 20


@given(settings, st.integers(0, 2**63 - 1), st.data())
def test_one_slip_is_found_in_any_line(settings: Settings, seed: int, data: st.DataObject) -> None:
    line = made(settings, seed).line
    at = data.draw(st.integers(0, len(line) - 1).filter(lambda at: line[at] != "-"))
    wrong = data.draw(st.sampled_from(ALPHABET).filter(lambda sign: sign != line[at]))
    assert wrong_groups(line[:at] + wrong + line[at + 1 :]) == (at // 7,)


def test_groups_that_changed_places_are_found() -> None:
    groups = LINE.split("-")
    for at in range(len(groups) - 1):
        turned = [*groups[:at], groups[at + 1], groups[at], *groups[at + 2 :]]
        assert wrong_groups("-".join(turned)) == (at, at + 1)


def test_a_character_too_few_names_its_group() -> None:
    assert wrong_groups(LINE[:9] + LINE[10:]) == (1,)


def test_a_line_that_ends_early_says_so() -> None:
    short = LINE.rpartition("-")[0]
    told = f"Group 5 ({short[-6:]}) cannot be right, or groups are missing after it: copy the end again."
    assert read_line(short) == told


@pytest.mark.parametrize("text", ["", "hello", "maple otter 07", "-" * 50, "A" * 5000, "♜♞♝" * 6, "7KQXM2"])
def test_anything_else_is_no_line(text: str) -> None:
    told = read_line(text)
    assert isinstance(told, str)
    assert told.startswith("This is not the line of a set.")


def test_slips_that_fit_every_group_do_not_make_another_set() -> None:
    # Two wrong characters of a group cancel out once in 31 times; then the sum over the line still finds them.
    found = 0
    for at in (0, 7, 14, 21):
        for one in ALPHABET:
            for two in ALPHABET:
                typed = LINE[:at] + one + two + LINE[at + 2 :]
                if typed != LINE and not wrong_groups(typed):
                    found += 1
                    assert isinstance(read_line(typed), str)
    assert found > 100


def test_a_line_of_another_version_says_what_to_do() -> None:
    mine = made(Settings(), 1)
    for newer in ({"heat_file": versions.HEAT_FILE + 1}, {"coach": COACH + 1}):
        told = "This set was made with a newer racktempo. Use the newer one."
        assert read_line(mine.model_copy(update=newer).line) == told
    assert read_line(mine.model_copy(update={"heat_file": versions.HEAT_FILE - 1}).line) == OLDER
    assert not mine.is_older


def test_a_line_whose_bots_are_older_can_be_read_for_a_comparison() -> None:
    older = made(Settings(), 1).model_copy(update={"coach": COACH - 1})
    assert read_line(older.line) == older
    assert older.is_older


def test_what_no_line_can_hold_is_told() -> None:
    assert taken_home(Settings(level_ms=100_500), CARD, 1) == "A set to take home needs times in whole seconds."
    told = taken_home(Settings(), CARD, 1, FIRST_DAY + 9, FIRST_DAY + 8)
    assert told == "The set would close before it opens."
    assert isinstance(taken_home(Settings(), CARD, 1, opens=3), str)


def test_the_first_east_by_lot_is_the_same_on_every_machine() -> None:
    drawn = {made(Settings(first_east="lot"), seed).settings.first_east for seed in range(40)}
    assert drawn == {"1", "2", "3", "4"}


def test_a_typist_with_one_wrong_key_in_a_hundred_retypes_at_most_one_group_in_nine_lines_of_ten() -> None:
    dice, lines, well = random.Random(17), 4000, 0
    for _ in range(lines):
        line = made(Settings(incoming="wall", bot_pace="no wait"), dice.randrange(2**32)).line
        typed = "".join(dice.choice(ALPHABET) if sign != "-" and dice.random() < 0.01 else sign for sign in line)
        again, retyped = groups_of(typed), 0
        while wrong := wrong_groups("-".join(again)):
            retyped += len(wrong)
            fresh = dict(zip(wrong, (line.split("-")[at] for at in wrong), strict=True))
            again = tuple(
                "".join(dice.choice(ALPHABET) if dice.random() < 0.01 else sign for sign in fresh.get(at, "")) or group
                for at, group in enumerate(again)
            )
        assert "-".join(again) == line or isinstance(read_line("-".join(again)), str)
        well += retyped <= 1
    assert well / lines >= 0.9, well / lines
