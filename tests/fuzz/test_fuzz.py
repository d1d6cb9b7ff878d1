"""A small share of the fuzzing: whatever a stranger or a damaged file says is taken or refused in words."""

from pathlib import Path
from random import Random

import pytest

from client.storage.preferences import load_look
from server.store import Append, Database, StoreFault
from tests.fuzz.mutate import of_bytes
from tests.fuzz.run import fuzz, fuzz_one
from tests.fuzz.targets import Target
from tests.server.players import make_table


def test_no_input_brings_about_more_than_a_refusal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    found = fuzz(tmp_path, 3_000, seed=2)
    assert [fault for one in found for fault in one.faults] == []
    assert sum(one.inputs for one in found) > 2_900
    assert all(one.taken < one.inputs for one in found if one.name != "history")
    assert all(one.taken for one in found if one.name != "heat"), "changed inputs that are still good lead further in"


def test_a_reader_with_a_hole_is_found_out() -> None:
    def with_a_hole(data: bytes) -> bool:
        return data[3] > 0

    found = fuzz_one(Target("hole", (b"good",), (of_bytes,), with_a_hole, 1), 500, Random(1))
    assert found.faults[0].startswith("IndexError")


def test_a_table_whose_record_was_wiped_out_of_the_file_is_told_of(tmp_path: Path) -> None:
    disk = Database(tmp_path / "tables")
    disk.commit([Append(make_table().record)])
    disk._disk.execute("PRAGMA writable_schema = ON")
    disk._disk.execute("UPDATE sqlite_schema SET sql = replace(sql, 'record BLOB NOT NULL', 'record BLOB')")
    disk.close()
    disk = Database(tmp_path / "tables")
    disk._disk.execute("UPDATE tables SET record = NULL")
    with pytest.raises(StoreFault):
        disk.load()
    disk.close()


def test_a_look_nested_without_end_is_as_if_it_had_not_been_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    (tmp_path / "racktempo").mkdir()
    (tmp_path / "racktempo" / "look.toml").write_bytes(b"x = " + b"[" * 5_000)
    assert load_look().theme == "dark"
