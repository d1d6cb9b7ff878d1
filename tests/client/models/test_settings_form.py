from hypothesis import given
from hypothesis import strategies as st

from client.models.settings_form import LOAD, SAVE, SettingsForm
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
    form = SettingsForm(Settings(), {"club": Settings(level_ms=120_000)})
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
    form = SettingsForm(Settings(), {"club night": club})
    form = form.moved(next(at for at, row in enumerate(form.rows()) if row.name == LOAD)).changed(1)
    assert form.settings == club


def test_a_preset_name_takes_letters() -> None:
    assert typed(form_at(SAVE), "Tuesday fast").name == "Tuesday fast"


def test_every_choice_says_in_a_line_what_it_sets() -> None:
    form = SettingsForm(Settings(), {})
    for at, row in enumerate(form.rows()):
        if row.changes and row.name not in STEP_NAMES:
            assert 0 < len(form.moved(at).meaning) <= 78, row
