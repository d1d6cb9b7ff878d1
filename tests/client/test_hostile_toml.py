"""No TOML keeps its reader busy or makes it fall over: presets, plans, cards and the look share one reader."""

import time
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from client.hosting.evening_plan import BadPlan, read_plan
from client.storage.files import config_folder
from client.storage.preferences import load_look
from client.storage.presets import BadPreset, read_preset
from client.theme import Look
from shared.cards import read_card
from shared.toml import MAX_DEPTH, read_table


def deep(key: str, levels: int) -> bytes:
    """Tables in lists in tables, each eight deep without the parser going any deeper."""
    return (f"{key} = " + "[\n{a.a.a.a.a.a.a.a = " * levels + "1" + "}\n]" * levels).encode()


HOSTILE = {
    "a number of 60,000 digits": b"heats = " + b"9" * 60_000,
    "a hexadecimal number": b"level = 0x" + b"f" * 60_000,
    "a length of 60,000 digits": b'[lengths]\n"go on" = ' + b"9" * 60_000,
    "a number in a list": b"start = [[0b" + b"1" * 60_000 + b"]]",
    "a name of dotted parts": b"lengths" + b".a" * 30_000 + b" = 1",
    "a dotted head": b"[settings" + b".a" * 30_000 + b"]",
    "lists in lists": b"tables = " + b"[" * 60_000,
    "tables in tables": b"wait = " + b"{a=" * 20_000,
    "tables in lists, deep": deep("level", 150),
    "the same in a plan": deep("name", 150),
    "too many bytes": b"#" * (1 << 20) + b"#",
    "no UTF-8": b'level = "\xff"',
}


@pytest.fixture
def preset(tmp_path: Path) -> Callable[[bytes], object]:
    def read(data: bytes) -> object:
        path = tmp_path / "x.toml"
        path.write_bytes(data)
        return read_preset(path)

    return read


@pytest.mark.parametrize("data", HOSTILE.values(), ids=HOSTILE)
def test_a_hostile_file_is_refused_in_a_sentence_and_at_once(data: bytes, preset: Callable[[bytes], object]) -> None:
    began = time.process_time()
    with pytest.raises(BadPreset):
        preset(data)
    with pytest.raises(BadPlan):
        read_plan(data)
    assert isinstance(read_card(data), tuple)
    assert time.process_time() - began < 5, "a second on a slow machine"


@pytest.mark.parametrize("data", HOSTILE.values(), ids=HOSTILE)
def test_a_hostile_look_is_as_if_none_had_been_chosen(
    data: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    config_folder().mkdir()
    (config_folder() / "look.toml").write_bytes(data)
    assert load_look() == Look()


def test_what_is_read_can_be_shown_and_is_never_deeper_than_promised() -> None:
    assert isinstance(read_table(b"x = " + b"[" * (MAX_DEPTH - 1) + b"]" * (MAX_DEPTH - 1)), dict)
    assert isinstance(read_table(b"x = " + b"[" * MAX_DEPTH + b"]" * MAX_DEPTH), str)
    assert isinstance(read_table(b"x = " + b"9" * 900), dict)
    assert read_table(b"") == {}


@given(st.text("[]{}=.,\"'a1_x\n ", max_size=200) | st.text(max_size=100))
def test_any_text_is_a_table_that_can_be_shown_or_a_sentence(text: str) -> None:
    read = read_table(text.encode(errors="replace"))
    assert len(repr(read)) > 1
    assert isinstance(read, dict) or read.endswith(".")


LONG = "x" * 20_000


@pytest.mark.parametrize(
    "line",
    [
        *(f'{key} = "{LONG}"' for key in ("level", "second", "heats", "wait", "start", "tables", LONG)),
        *(f'[lengths]\n"{key}" = "{LONG}"' for key in ("go on", LONG)),
        f'[lengths]\n"{LONG}" = 1',
        f'[files]\npage = "{LONG}\\u0000"',
        f'[files]\n{LONG} = ""',
        f"[settings]\n{LONG} = 1",
        f'[settings]\nlevel = "{LONG}"',
    ],
    ids=lambda line: line[:40],
)
def test_a_long_bad_value_is_quoted_by_its_beginning_alone(line: str, preset: Callable[[bytes], object]) -> None:
    with pytest.raises(BadPreset) as of_preset:
        preset(line.encode())
    with pytest.raises(BadPlan) as of_plan:
        read_plan(line.encode())
    for told in (str(of_preset.value), str(of_plan.value)):
        assert "x" * 100 not in told
        assert len(told) < 1_000
