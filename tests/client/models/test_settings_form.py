from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from client.models.settings_form import CARD, FIRST_CHOICE, LOAD, OPEN, SAVE, WHO, SettingsForm
from client.setup import Setup
from shared.rules.settings import Settings
from shared.rules.steps import STEP_NAMES

KEYS = ["up", "down", "left", "right", "erase", "enter", *"0123456789:ax"]


def form_at(name: str, settings: Settings | None = None) -> SettingsForm:
    form = SettingsForm(settings or Settings(), {})
    return form.moved(next(at for at, row in enumerate(form.rows()) if row.name == name))


def typed(form: SettingsForm, text: str) -> SettingsForm:
    for character in text:
        form = form.typing(character)
    return form.entered()


def value(form: SettingsForm, name: str) -> str:
    return next(row.value for row in form.rows() if row.name == name)


def test_every_setting_has_a_row() -> None:
    names = {row.name for row in SettingsForm(Settings(), {}).rows()}
    steps = {"first right", "first across", "first left", "go on", "second left", "second across", "last right"}
    steps |= {"courtesy offer", "courtesy give"}
    assert (set(Settings.model_fields) - {"lengths_ms", "level_ms"}) | steps | {"level"} <= names


@given(st.lists(st.sampled_from(KEYS), max_size=40))
def test_no_keys_lead_to_settings_that_cannot_be(keys: list[str]) -> None:
    form = SettingsForm(Settings(), {"club": Setup(Settings(level_ms=120_000))})
    for key in keys:
        match key:
            case "up" | "down":
                form = form.moved(form.at + (1 if key == "down" else -1))
            case "left" | "right":
                form = form.changed(1 if key == "right" else -1)
            case "erase":
                form = form.erased()
            case "enter":
                form = form.entered()
            case _:
                form = form.typing(key)
    assert Settings.model_validate(form.settings.model_dump()) == form.settings
    assert len(form.rows()) == len(SettingsForm(Settings(), {}).rows())


def test_steps_follow_the_level_until_set() -> None:
    form = typed(form_at("first right"), "30")
    assert form.settings.length_ms("first right") == 30_000
    form = typed(form.moved(0), "2:00")
    assert form.settings.length_ms("first right") == 30_000
    assert form.settings.length_ms("first across") == 16_800
    at = next(at for at, row in enumerate(form.rows()) if row.name == "first right")
    assert form.moved(at).erased().settings.length_ms("first right") == 28_800


def test_the_running_total_is_the_sum_of_all_steps() -> None:
    assert value(SettingsForm(Settings(), {}), "total") == "3:00 of 3:00"
    assert value(typed(form_at("first right"), "1:43"), "total") == "3:59.8 of 3:00"


def test_a_length_out_of_bounds_is_refused_in_a_sentence() -> None:
    form = typed(form_at("first right"), "99999")
    assert form.settings == Settings()
    assert "1 to 600 seconds" in form.told


def test_nonsense_is_no_time() -> None:
    form = typed(form_at("level"), "2:99")
    assert form.settings == Settings()
    assert "2:99" in form.told


def test_a_preset_brings_all_its_settings() -> None:
    club = Settings(level_ms=120_000, second="always")
    form = SettingsForm(Settings(), {"club night": Setup(club)})
    form = form.moved(next(at for at, row in enumerate(form.rows()) if row.name == LOAD)).changed(1)
    assert form.settings == club


def test_a_preset_name_takes_letters() -> None:
    assert typed(form_at(SAVE), "Tuesday fast").name == "Tuesday fast"


def test_every_choice_says_in_a_line_what_it_sets() -> None:
    form = SettingsForm(Settings(), {})
    for at, row in enumerate(form.rows()):
        if row.changes and row.name not in STEP_NAMES:
            assert 0 < len(form.moved(at).meaning) <= 78, row


@pytest.mark.parametrize(
    ("row", "key", "asked"),
    [
        ("level", "f5", "open"),
        (OPEN, "enter", "open"),
        ("level", "enter", ""),
        ("level", "q", "back"),
        (WHO, "q", ""),
        (WHO, "escape", "back"),
        (SAVE, "enter", ""),
    ],
)
def test_what_a_key_asks_of_the_screen(row: str, key: str, asked: str) -> None:
    form = SettingsForm(Settings(), {})
    assert form.moved(form.place_of(row)).press(key)[1] == asked


def test_a_typed_name_is_kept_as_a_preset_by_enter() -> None:
    form = SettingsForm(Settings(heats=3), {})
    form = form.moved(form.place_of(SAVE))
    for key in ("c", "l", "u", "b", "space", "q"):
        form, asked = form.press(key)
        assert asked == ""
    form, asked = form.press("enter")
    assert (asked, form.name) == ("save", "club q")
    kept = form.saved()
    assert (kept.preset, kept.presets["club q"].settings.heats, kept.name) == ("club q", 3, "")


def test_clicks_are_keys_of_the_form_too() -> None:
    form = SettingsForm(Settings(), {})
    number = form.place_of("heats")
    more, _ = form.press(f"more {number}")
    assert more.settings.heats == form.settings.heats + 1
    assert more.row.name == "heats"
    assert more.press(f"less {number}")[0].settings == form.settings
    assert form.press(f"row {form.place_of(OPEN)}")[1] == "open"
    assert form.press("tab")[0].row.name == FIRST_CHOICE


CARDS = ("practice", "first-evening", "pier")


def at_card(card: str = "practice", presets: dict[str, Setup] | None = None) -> SettingsForm:
    form = SettingsForm(Settings(), presets or {}, cards=CARDS, card=card)
    return form.moved(form.place_of(CARD))


def test_the_card_has_a_row_that_says_what_sharing_means() -> None:
    form = at_card()
    assert form.row.value == "practice"
    assert "share = true" in form.meaning
    assert "publishers" in form.meaning
    assert len(form.meaning) <= 78
    assert form.changed(1).card == "first-evening"
    assert form.changed(-1).card == "pier"
    assert form.changed(-1).row.value == "pier"
    assert form.changed(1).settings == form.settings


def test_where_no_card_can_be_chosen_there_is_no_row_for_it() -> None:
    form = SettingsForm(Settings(), {})
    assert CARD not in {row.name for row in form.rows()}
    assert form.setup.card == ""


def test_a_preset_brings_its_card_and_keeps_the_chosen_one() -> None:
    presets = {"club": Setup(Settings(heats=2), "pier"), "lost": Setup(Settings(), "nowhere"), "old": Setup()}
    form = at_card(presets=presets)
    assert replace(form, name="mine").saved().presets["mine"] == Setup(Settings(), "practice")
    form = form.moved(form.place_of(LOAD)).changed(1)
    assert (form.card, form.settings.heats, form.told) == ("pier", 2, "These are the settings of club.")
    form = form.changed(1)
    assert (form.preset, form.card) == ("lost", "pier")
    assert form.told == "These are the settings of lost. Its card, nowhere, is not here."
    form = form.changed(1)
    assert (form.preset, form.card) == ("old", "pier")
