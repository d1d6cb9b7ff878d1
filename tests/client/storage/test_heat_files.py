"""Heats on the player's machine: each is kept once, none is lost, and a full disk is only a sentence."""

import os
from pathlib import Path

import pytest

from client.hosting.table import play_bots
from client.storage.heat_files import KeptFile, file_name, keep, keep_heat
from shared.rules.heat import HEAT, SavedHeat, final_state
from shared.rules.seat_heat import SEAT_HEAT, seat_heat
from shared.rules.seats import Seat
from shared.rules.settings import Settings
from shared.rules.wall_seen import WallSeen
from shared.wire.messages import HeatFile, OwnHeat
from tests.client.full_disk import full_disk
from tests.client.heats import bots_heat


@pytest.fixture
def heat() -> SavedHeat:
    return bots_heat()


def test_a_heat_is_kept_with_the_bytes_that_were_told(tmp_path: Path, heat: SavedHeat) -> None:
    data = HEAT.pack(heat)
    kept = keep(HeatFile(data=data), tmp_path / "new")
    assert isinstance(kept, KeptFile)
    assert kept.is_new
    assert kept.path.read_bytes() == data
    assert kept.path.suffix == ".heat"


def test_a_heat_that_is_told_again_is_not_kept_again(tmp_path: Path, heat: SavedHeat) -> None:
    told = HeatFile(data=HEAT.pack(heat))
    first, second = keep(told, tmp_path), keep(told, tmp_path)
    assert isinstance(first, KeptFile)
    assert second == KeptFile(first.path, False)
    assert len(os.listdir(tmp_path)) == 1


def test_the_same_deal_played_twice_is_two_heats(tmp_path: Path) -> None:
    for pace in ("quick", "slow"):
        keep_heat(play_bots(Settings(seed=7, heats=1, bot_pace=pace))[0], tmp_path)  # type: ignore[arg-type]
    assert len(os.listdir(tmp_path)) == 2


def test_a_heat_as_one_seat_lived_it_is_kept_too(tmp_path: Path, heat: SavedHeat) -> None:
    own = seat_heat(heat, final_state(heat), Seat.WEST)
    kept = keep(OwnHeat(heat=own), tmp_path)
    assert isinstance(kept, KeptFile)
    assert kept.path.suffix == ".seat"
    assert SEAT_HEAT.unpack(kept.path.read_bytes()) == own


@pytest.mark.parametrize("is_first", [True, False], ids=["told first", "told later"])
def test_a_heat_is_kept_once_with_what_the_program_saw_of_its_wall(
    tmp_path: Path, heat: SavedHeat, is_first: bool
) -> None:
    """Whoever comes back with another program is told the heat again, and knows nothing more of its wall."""
    own = seat_heat(heat, final_state(heat), Seat.WEST)
    seen = own.model_copy(update={"seen": WallSeen(table="t", number=1, chair=2)})
    for each in (seen, own) if is_first else (own, seen):
        keep(OwnHeat(heat=each), tmp_path)
    (kept,) = tmp_path.iterdir()
    assert SEAT_HEAT.unpack(kept.read_bytes()) == seen


@pytest.mark.parametrize("table", ["", "../../tmp/x", "a\x1b[2Jb", "CON", "x" * 300, "Boathouse, the 2nd"])
def test_a_table_cannot_choose_where_its_heats_are_kept(heat: SavedHeat, table: str) -> None:
    hostile = heat.model_copy(update={"table": table, "played_at": "../.."})
    name = file_name(hostile, HEAT.pack(hostile), "heat")
    assert Path(name).name == name
    assert name.isascii()
    assert len(name) < 100
    assert set(name) <= set("abcdefghijklmnopqrstuvwxyz0123456789-.")


def test_what_is_no_heat_is_told_and_not_kept(tmp_path: Path) -> None:
    told = keep(HeatFile(data=b"nonsense"), tmp_path)
    assert isinstance(told, str)
    assert os.listdir(tmp_path) == []


def test_a_full_disk_is_one_sentence(tmp_path: Path, heat: SavedHeat) -> None:
    with full_disk():
        told = keep_heat(heat, tmp_path)
    assert told == f"The heat could not be kept in {tmp_path}: the file is too big."
    assert os.listdir(tmp_path) == []
