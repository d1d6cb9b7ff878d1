"""Files of version 0.1.0: every later version opens them, finds in them what was played, and calls them sound."""

import shutil
import sqlite3
import tomllib
from contextlib import closing
from pathlib import Path

import msgpack
import pytest
from pydantic import TypeAdapter

from client.hosting.evening_plan import read_plan
from client.setup import Setup
from client.storage.heat_files import KeptFile, keep
from client.storage.history_db import History
from client.storage.presets import load_presets
from client.storage.verify import look_into, read_any_heat, verify
from client.theme import Look, read_look
from server.admission import Admission
from server.club.club import new_club
from server.club.keeper import ClubKeeper
from server.shared_clock import SharedClockTable
from server.store import Database, Store, StoredTable, StoreFault
from server.table.output import Output
from server.table.table import Table
from shared.rules.heat import HEAT, SavedHeat, faults, final_state
from shared.rules.intents import Resume
from shared.rules.seat_heat import SeatHeat, seat_heat
from shared.rules.seats import Seat
from shared.rules.settings import Settings
from shared.wire.messages import HeatFile
from tests.server.players import counted_bytes
from tests.tables import Evening

FILES = Path(__file__).parent / "fixtures" / "0.1.0"
WHOLE = FILES / "whole.heat"
SETTINGS = Settings(
    level_ms=120_000,
    lengths_ms={"first right": 40_000, "go on": 7_500},
    plan=True,
    heats=2,
    bot_pace="quick",
    bot_skill="simple",
    seed=11,
)


class LaterSettings(Settings):
    """The settings of a version to come, with one more that has a default."""

    echo: bool = False


class LaterHeat(SavedHeat):
    settings: LaterSettings


@pytest.fixture
def later(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have heats read as a version to come reads them."""
    monkeypatch.setattr(HEAT, "adapter", TypeAdapter(LaterHeat))


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A folder with a copy of every file, since a store is written to when it is opened."""
    return Path(shutil.copytree(FILES, tmp_path / "copy"))


def stored(path: Path) -> tuple[StoredTable, ...]:
    with closing(Database(path)) as database:
        return database.load()


def own() -> SeatHeat:
    heat = read_any_heat(FILES / "own.seat")
    assert isinstance(heat, SeatHeat)
    return heat


# ---- heats


def test_a_whole_heat_is_all_well() -> None:
    heat = read_any_heat(WHOLE)
    assert isinstance(heat, SavedHeat)
    assert (heat.table, heat.number, heat.names[:2]) == ("Boathouse", 1, ("Ann", "Bo"))
    assert heat.settings == SETTINGS.unseeded()
    assert verify(WHOLE) == ()


def test_a_heat_as_one_seat_lived_it_is_that_of_the_whole_one() -> None:
    heat = read_any_heat(WHOLE)
    assert isinstance(heat, SavedHeat)
    today = seat_heat(heat, final_state(heat), Seat.EAST)
    assert own() == today.model_copy(update={"version": own().version})
    assert [step.by for step in own().steps] == ["person"] * len(own().steps)


@pytest.mark.usefixtures("later")
def test_a_heat_from_before_a_setting_is_all_well_and_kept_to_the_byte(tmp_path: Path) -> None:
    heat = read_any_heat(WHOLE)
    assert isinstance(heat, LaterHeat)
    assert heat.settings.echo is False
    assert verify(WHOLE) == ()
    kept = keep(HeatFile(data=WHOLE.read_bytes()), tmp_path)
    assert isinstance(kept, KeptFile)
    assert kept.path.read_bytes() == WHOLE.read_bytes()


def test_a_digest_is_that_of_the_bytes_not_of_what_they_say() -> None:
    """The same values in longer MessagePack, and a file whose digest is not its last field."""
    data = WHOLE.read_bytes()
    plain = msgpack.unpackb(data)
    longer = data.replace(b"\xa5table\xa9Boathouse", b"\xa5table\xd9\x09Boathouse")
    moved = msgpack.packb({"digest": plain.pop("digest"), **plain})
    for other in (longer, moved):
        assert other != data
        assert HEAT.unpack(other) == HEAT.unpack(data)
        assert faults(other, lambda card, rack: False)[0] == (
            "The file is not as it was written: its digest does not fit."
        )


# ---- stores


def test_a_table_goes_on_in_the_middle_of_its_heat(copy: Path) -> None:
    (kept,) = stored(copy / "tables.sqlite3")
    assert (kept.record.name, kept.record.code, kept.record.number) == ("Boathouse", "tern-lake-12", 2)
    assert kept.record.settings == SETTINGS
    assert [heat.data for heat in kept.finished] == [WHOLE.read_bytes()]
    table = Table(kept.record, counted_bytes(), lambda: "")
    table.restore(kept.events, kept.finished, 9_000_000)
    view = table.view(0, 9_000_000)
    assert view.heat
    assert (view.heat.step, view.heat.paused, view.heat.answered) == ("second left", True, True)
    assert [chair.name for chair in view.chairs][:2] == ["Ann", "Bo"]


@pytest.mark.usefixtures("later")
def test_a_table_that_goes_on_in_a_later_version_tells_its_heats_to_the_byte(copy: Path) -> None:
    with closing(sqlite3.connect(copy / "tables.sqlite3")) as disk:
        ((written,),) = disk.execute("SELECT saved FROM heats").fetchall()
    (kept,) = stored(copy / "tables.sqlite3")
    assert [heat.data for heat in kept.finished] == [written]


def test_a_shared_clock_goes_on_where_it_stood(copy: Path) -> None:
    (kept,) = stored(copy / "clocks.sqlite3")
    table = SharedClockTable(kept.record, counted_bytes(), lambda: "")
    table.restore(kept.events, kept.finished, 9_000_000)
    view = table.view(0, 9_000_000)
    assert (view.heat_number, view.step, view.paused) == (2, "first across", True)
    assert len(view.results) == 1


async def test_an_evening_goes_on_with_its_tables_and_what_the_coach_found(copy: Path) -> None:
    store = Store.open(copy / "evening.sqlite3")
    record = store.load_club()
    assert record
    club = new_club(record, counted_bytes(), lambda: "")
    async with Admission.open(store) as admission:
        await ClubKeeper(club, store, admission.add).open(store.load())
        assert record.teacher
        assert {number: table.record.number for number, table in club.tables.items()} == {1: 2, 2: 2}
        assert all(table.heat and table.heat.state.paused for table in club.tables.values())
        assert club.results.looked == 6
        assert sorted(one.loss for one in club.played() if one.loss is not None) == [0.5, 0.5, 1.5, 1.5, 2.5, 3.5]
    await store.close()


async def test_an_evening_of_which_a_table_cannot_be_restored_is_refused_in_one_sentence_and_kept(copy: Path) -> None:
    with closing(sqlite3.connect(copy / "evening.sqlite3")) as disk:
        disk.execute("DELETE FROM events WHERE \"table\" LIKE '%.2'")
        disk.commit()
    store = Store.open(copy / "evening.sqlite3")
    record, stored = store.load_club(), store.load()
    assert record
    club = new_club(record, counted_bytes(), lambda: "")
    async with Admission.open(store) as admission:
        with pytest.raises(StoreFault, match="Table 2 of the evening could not be restored from disk"):
            await ClubKeeper(club, store, admission.add).open(stored)
    assert store.load_club() == record
    assert {kept.record.id: kept.record for kept in store.load()} == {kept.record.id: kept.record for kept in stored}
    await store.close()


def test_a_history_has_its_heats_and_losses(copy: Path) -> None:
    with closing(History(copy / "history.sqlite3")) as history:
        read = history.read()
        assert (history.notice, read.faults) == ("", ())
    assert [(entry.source, entry.detail) for entry in read.entries] == [
        ("table", ""),
        ("real tiles", ""),
        ("drill", "first right"),
    ]
    first = read.entries[0]
    assert (first.heat, first.coach) == (own(), "coach 1")
    assert {step: (loss.points, loss.kinds, loss.forced) for step, loss in first.losses.items()} == {
        "first right": (1.5, ("breaking a pair",), False),
        "courtesy give": (1.5, ("breaking a pair",), True),
    }


# ---- what people write


def test_a_preset_holds_its_settings() -> None:
    assert load_presets(FILES).found["Thursday evening"] == Setup(SETTINGS)


def test_a_plan_says_what_it_said() -> None:
    plan = read_plan((FILES / "plan.toml").read_bytes())
    assert (plan.name, plan.tables) == ("Tuesday at the Boathouse", ("By the window", "Corner"))
    assert (plan.starts_ms, plan.wait_ms) == ((70_200_000, 71_400_000), 300_000)
    assert plan.settings == Settings(heats=2, same_deal=True)
    assert plan.files == {"page": "evening.html"}


def test_the_look_is_the_one_that_was_chosen() -> None:
    assert read_look(tomllib.loads((FILES / "look.toml").read_text())) == Look(theme="light", bell=True)


# ---- the last version whose walls were made without rounds

OLDER = FILES.parent / "0.1.1"


def test_a_heat_of_before_the_rounds_is_all_well_and_said_to_be_what_it_was() -> None:
    heat = read_any_heat(OLDER / "whole.heat")
    assert isinstance(heat, SavedHeat)
    assert (heat.wall, heat.attempts, sum(map(bool, heat.contributions))) == ("", (), 2)
    assert verify(OLDER / "whole.heat") == ()
    assert "could choose among walls" in look_into(OLDER / "whole.heat").told[0]


def test_a_seat_of_before_the_rounds_holds_no_evidence() -> None:
    assert "only a whole heat can be verified" in verify(OLDER / "own.seat")[0]


def test_a_table_with_somebody_ready_goes_on_and_makes_its_next_wall_in_a_round(tmp_path: Path) -> None:
    (kept,) = stored(Path(shutil.copy(OLDER / "ready.sqlite3", tmp_path)))
    assert [chair.ready for chair in kept.record.chairs] == [True, False, False, False]
    evening = Evening(people=0, record=kept.record)
    evening.table.restore(kept.events, kept.finished, evening.now_ms)
    assert evening.view().wall.kind == "round"


def test_a_heat_that_ran_without_a_round_ends_as_what_it_was(tmp_path: Path) -> None:
    (kept,) = stored(Path(shutil.copy(OLDER / "running.sqlite3", tmp_path)))
    evening = Evening(people=0, record=kept.record)
    evening.take(evening.table.restore(kept.events, kept.finished, evening.now_ms))
    for chair in range(2):
        evening.take(evening.table._seat_bot(chair, evening.now_ms, out := Output()) or out)  # type: ignore[arg-type]
    evening.take(evening.table._host(Resume(), 0, evening.now_ms, out := Output()) or out)  # type: ignore[arg-type]
    evening.wait(1_000_000)
    heat = evening.finished[0]
    assert (heat.number, heat.wall, heat.attempts) == (2, "", ())
    assert heat.contributions[:2] == (b"a" * 16, b"b" * 16)
    assert faults(HEAT.pack(heat), lambda card, rack: False) == ()


def test_a_shared_clock_with_somebody_ready_still_has_them_ready(tmp_path: Path) -> None:
    (kept,) = stored(Path(shutil.copy(OLDER / "clocks.sqlite3", tmp_path)))
    assert [chair.ready for chair in kept.record.chairs] == [False, True, False, False]
