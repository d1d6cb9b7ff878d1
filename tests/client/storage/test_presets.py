"""Settings kept under a name: what is kept comes back, and no fault costs anything but itself."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from client.setup import Setup
from client.storage.presets import BadPreset, load_presets, preset_path, read_preset, save_preset, write_preset
from shared.rules.settings import Settings
from shared.rules.steps import STEP_NAMES

lengths = st.dictionaries(st.sampled_from(STEP_NAMES), st.integers(1_000, 600_000))
settings = st.builds(
    Settings,
    level_ms=st.integers(10_000, 1_800_000),
    lengths_ms=lengths,
    carry_over=st.booleans(),
    second=st.sampled_from(["offered", "always", "never"]),
    plan=st.booleans(),
    plan_ms=st.integers(1_000, 600_000),
    heats=st.integers(1, 12),
    first_east=st.sampled_from(["1", "4", "lot"]),
    jokers=st.sampled_from([8, 0]),
    hints=st.sampled_from(["none", "after each pass", "at the end"]),
    seed=st.none() | st.integers(0, 2**63 - 1),
)


CARDS = st.just("") | st.text(st.characters(exclude_categories=["C", "Z"]) | st.just(" "), max_size=60)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("presets")


@given(settings, CARDS, st.text(min_size=1, max_size=50))
def test_what_is_kept_comes_back(folder: Path, of_table: Settings, card: str, name: str) -> None:
    kept = Setup(of_table, card)
    try:
        path = preset_path(folder, name)
    except BadPreset:
        return
    assert path.parent == folder
    save_preset(folder, name, kept)
    assert read_preset(path) == kept
    path.unlink()


def test_presets_are_listed_by_their_names(tmp_path: Path) -> None:
    for name in ("Thursday evening", "2:00, no second", "../../etc/passwd", "Sølvi's"):
        save_preset(tmp_path, name, Setup())
    presets = load_presets(tmp_path)
    assert set(presets.found) == {"Thursday evening", "2:00, no second", "../../etc/passwd", "Sølvi's"}
    assert presets.faults == ()
    assert {path.parent for path in tmp_path.rglob("*.toml")} == {tmp_path}


def test_a_name_of_which_nothing_is_left_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadPreset, match="needs a name"):
        save_preset(tmp_path, " \x1b ", Setup())


def test_a_name_that_no_file_can_have_is_refused_and_a_long_plain_one_is_not(tmp_path: Path) -> None:
    with pytest.raises(BadPreset, match="too long"):
        save_preset(tmp_path, "e\u0301\u0316" * 40, Setup())
    save_preset(tmp_path, "ж" * 40, Setup())
    save_preset(tmp_path, "x" * 40, Setup())
    assert len(load_presets(tmp_path).found) == 2


def test_times_may_be_written_as_minutes_or_as_seconds(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text('level = "2:30"\nplan_length = 20\n[lengths]\n"go on" = 7.5\n')
    read = load_presets(tmp_path).found["mine"].settings
    assert (read.level_ms, read.plan_ms, read.lengths_ms) == (150_000, 20_000, {"go on": 7_500})


def test_every_fault_of_a_file_is_told_at_once(tmp_path: Path) -> None:
    lines = ("card = 7", 'level = "soon"', "heats = 99", 'secnd = "never"', 'blind = "perhaps"')
    lengths = ("[lengths]", '"first up" = "0:10"', '"go on" = "x"')
    (tmp_path / "mine.toml").write_text("\n".join((*lines, *lengths)))
    with pytest.raises(BadPreset) as told:
        read_preset(tmp_path / "mine.toml")
    for word in ("card is 7", "level", "heats is 99", "'secnd'", "blind is 'perhaps'", "first up", "go on is 'x'"):
        assert word in str(told.value)


@pytest.mark.parametrize("content", [b"level = ", b"\xff\xfe", b"a = 1\n" * 20_000, b"[lengths]\n" * 2, b"lengths = 3"])
def test_a_file_that_cannot_be_used_costs_only_itself(tmp_path: Path, content: bytes) -> None:
    save_preset(tmp_path, "good", Setup())
    (tmp_path / "bad.toml").write_bytes(content)
    presets = load_presets(tmp_path)
    assert set(presets.found) == {"good"}
    assert len(presets.faults) == 1
    assert "bad.toml" in presets.faults[0]
    assert (tmp_path / "bad.toml").read_bytes() == content


@given(st.binary(max_size=60))
def test_no_bytes_break_the_reading(folder: Path, content: bytes) -> None:
    path = folder / "fuzz.toml"
    path.write_bytes(content)
    presets = load_presets(folder)
    assert len(presets.found) + len(presets.faults) == 1


def test_a_preset_is_written_for_people() -> None:
    text = write_preset(Setup(Settings(level_ms=120_000, lengths_ms={"first right": 40_000}), "Pier evening"))
    assert 'card = "Pier evening"' in text
    assert 'level = "2:00"' in text
    assert '"first right" = "0:40"' in text
    assert "_ms" not in text


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(BadPreset, match="could not be kept"):
        save_preset(tmp_path / "file", "name", Setup())
