"""A saved heat is checked by whoever has the file."""

from pathlib import Path

import pytest

from client.hosting.table import play_bots
from client.storage.heat_files import KeptFile, keep, keep_heat
from client.storage.verify import verify
from shared.rules.events import Passed
from shared.rules.heat import HEAT, SavedHeat, final_state
from shared.rules.seat_heat import seat_heat
from shared.rules.seats import Seat
from shared.rules.settings import Settings
from shared.rules.wall import Stream
from shared.wire.messages import OwnHeat
from tests.client.heats import bots_heat


@pytest.fixture
def heat() -> SavedHeat:
    return bots_heat()


def _file(heat: SavedHeat, folder: Path) -> Path:
    kept = keep_heat(heat, folder)
    assert isinstance(kept, KeptFile)
    return kept.path


def test_every_heat_of_every_way_to_play_is_all_well(tmp_path: Path) -> None:
    for settings in (
        Settings(seed=1),
        Settings(seed=2, plan=True, incoming="wall", jokers=0),
        Settings(seed=3, second="never", courtesy=False, carry_over=False, bot_pace="slow", level_ms=10_000),
        Settings(second="always", open_racks=False, first_east="lot"),
    ):
        for heat in play_bots(settings):
            assert verify(_file(heat, tmp_path)) == ()


def test_a_secret_that_was_not_promised_is_found(tmp_path: Path, heat: SavedHeat) -> None:
    forged = heat.model_copy(update={"secret": bytes(32)})
    assert verify(_file(forged, tmp_path))


def test_a_pass_that_was_not_made_is_found(tmp_path: Path, heat: SavedHeat) -> None:
    events = list(heat.events)
    at = next(number for number, event in enumerate(events) if isinstance(event, Passed))
    events[at] = events[at].model_copy(update={"tiles": ("J", "J", "J")})
    assert verify(_file(heat.model_copy(update={"events": tuple(events)}), tmp_path))


def test_one_flipped_bit_anywhere_is_found(tmp_path: Path, heat: SavedHeat) -> None:
    data = HEAT.pack(heat)
    path, stream = tmp_path / "flipped.heat", Stream(b"tests", "bits")
    for _ in range(100):
        bit = stream.below(8 * len(data))
        flipped = bytearray(data)
        flipped[bit // 8] ^= 1 << bit % 8
        path.write_bytes(flipped)
        assert verify(path), f"bit {bit}"


def test_what_is_no_whole_heat_is_one_sentence(tmp_path: Path, heat: SavedHeat) -> None:
    own = keep(OwnHeat(heat=seat_heat(heat, final_state(heat), Seat.EAST)), tmp_path)
    assert isinstance(own, KeptFile)
    (tmp_path / "foreign").write_bytes(b"\x89PNG\r\n")
    (tmp_path / "huge").write_bytes(bytes(HEAT.limit + 1))
    for path in (tmp_path / "missing", tmp_path, tmp_path / "foreign", tmp_path / "huge", own.path):
        found = verify(path)
        assert len(found) == 1
        assert str(path) in found[0]
