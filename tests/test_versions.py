"""Whatever is sent or kept has a version: nothing of it changes under the same number, and a newer one is told."""

import hashlib
import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any, get_args

import msgpack
import pytest
from pydantic import TypeAdapter

from client.setup import Setup
from client.storage import history_db
from client.storage.drilled import Memory, Round
from client.storage.heat_files import keep
from client.storage.history_db import History, HistoryFault, StepLoss, TypedRacks
from client.storage.presets import write_preset
from client.storage.sets import KeptSet
from client.storage.verify import read_any_heat, verify
from server import store
from server.records import ClubRecord, SeatReview, TableRecord
from server.store import Database, StoreFault
from shared import versions
from shared.clock.real_clock import ClockLeft
from shared.measures.side_by_side import HeatFound
from shared.rules.events import Event
from shared.rules.heat import SavedHeat
from shared.rules.seat_heat import SeatHeat
from shared.rules.set_line import FIRST_DAY, TakeHome
from shared.rules.set_result import SetResult
from shared.rules.settings import Settings
from shared.rules.steps import STEP_NAMES
from shared.wire.messages import HeatFile, schemas

FILES = Path(__file__).parent / "fixtures" / "0.1.0"
FULL = Settings(lengths_ms=dict.fromkeys(STEP_NAMES, 1_000), seed=0)


def schema(kind: Any) -> object:
    return TypeAdapter(kind).json_schema()


FORMATS: dict[str, tuple[int, object]] = {
    "messages": (versions.PROTOCOL, schemas()),
    "heat": (versions.HEAT_FILE, schema(SavedHeat)),
    "seat's heat": (versions.SEAT_FILE, schema(SeatHeat)),
    "result of a set": (versions.RESULT_FILE, schema(SetResult)),
    "set on a machine": (versions.SET_FILE, [schema(KeptSet), schema(HeatFound)]),
    "line of a set": (versions.HEAT_FILE, [TakeHome(settings=FULL, card="f" * 15, opens=FIRST_DAY + 1, coach=1).line]),
    "clock for real tiles": (versions.CLOCK_FILE, schema(ClockLeft)),
    "store": (versions.STORE, [store._TABLES, *map(schema, (TableRecord, ClubRecord, SeatReview, Event))]),
    "history": (
        len(history_db.MIGRATIONS),
        [history_db.MIGRATIONS, *map(schema, (StepLoss, Memory, Round, TypedRacks)), get_args(history_db.Source)],
    ),
    "settings and presets": (versions.HEAT_FILE, [schema(Settings), write_preset(Setup(FULL))]),
    "presets with a card": (versions.PRESET, [schema(Setup), write_preset(Setup(FULL, "practice"))]),
}
"""What is sent or kept: its version, and all that this version says of it. Settings have the version of the heats that
they are written in."""
FROZEN: dict[str, dict[int, str]] = {
    "messages": {
        1: "dcbc493ddffbcad1",
        2: "e1b84e7e89639bdf",
        3: "c8d6f3622a391b78",
        4: "ae847411289da9a7",
        5: "17be0d44cbc0dedf",
        6: "64d4269d817b01ab",
        7: "fb01475c9a7f9c89",
        8: "5b7868c854bde849",
    },
    "heat": {
        1: "c6459a51b0986223",
        2: "462447a7204f7a30",
        3: "36b1b3708a64c276",
        4: "78392e7b2938e0b1",
        5: "31382b9436a39710",
    },
    "seat's heat": {
        1: "ae555df0aea6b107",
        2: "a71d454cc49f1f04",
        3: "c563a756f3b10379",
        4: "5d8d4b98b6a6d655",
        5: "d6db1c42b1f56003",
    },
    "result of a set": {1: "a8e7414b5eddfc03", 2: "a0052e2443a360af"},
    "set on a machine": {1: "6f4b3dd87981d16d"},
    "line of a set": {4: "93ae555945bfadac", 5: "0da9490e5dc843a6"},
    "clock for real tiles": {1: "7f120fd9d73830cd"},
    "store": {
        3: "667b0f50a0b300f0",
        4: "1c7b4f9dc52d79d1",
        5: "82fdd37d27636ebb",
        6: "13007788efc84945",
        7: "78db118f36243132",
        8: "91329cc433c85151",
        9: "6b431440a55e4034",
    },
    "history": {
        2: "3f45b18fc6a4a4d4",
        3: "ccebd26537267f5e",
        4: "70474a9a969ed14e",
        5: "f8a8e14bec8a0d23",
        6: "5ff1976cbc15818b",
    },
    "settings and presets": {
        1: "3b9cbb9a26dbf594",
        2: "3b9cbb9a26dbf594",
        3: "e3947b2b485ac446",
        4: "7921924211ef3ab7",
        5: "36fde5f29e85fb68",
    },
    "presets with a card": {2: "e8c6a4f30f1b5290", 3: "17df7e2cde46d521", 4: "1640c15934df2dd7", 5: "c8c3c924fca81327"},
}
"""What each version said. A new version gets a line of its own; a line is never changed."""
HOW = """
{name}: this is not what version {version} was. Raise the version in shared/versions.py (a history: add to MIGRATIONS),
or write the step up from the older one, so that the files in tests/fixtures still open. Then add {version}: "{found}".
"""


def digest(content: object) -> str:
    return hashlib.sha256(json.dumps(_bare(content, {}), sort_keys=True).encode()).hexdigest()[:16]


def _bare(content: object, definitions: dict[str, object]) -> object:
    """Return a schema without prose and names of classes: another docstring or class name is no other format."""
    if isinstance(content, dict):
        definitions = content.get("$defs", definitions)
        if isinstance(reference := content.get("$ref"), str):
            return _bare(definitions[reference.removeprefix("#/$defs/")], definitions)
        idle = {key for key in ("title", "description") if isinstance(content.get(key), str)}
        idle |= {"$defs"} | ({"discriminator"} if "oneOf" in content else set())
        return {key: _bare(value, definitions) for key, value in content.items() if key not in idle}
    if isinstance(content, list | tuple):
        return [_bare(value, definitions) for value in content]
    return " ".join(content.split()) if isinstance(content, str) else content


@pytest.mark.parametrize("name", FORMATS)
def test_nothing_changes_under_the_same_version(name: str) -> None:
    version, content = FORMATS[name]
    found = digest(content)
    assert FROZEN[name].get(version) == found, HOW.format(name=name, version=version, found=found)


def test_one_more_setting_with_a_default_is_another_format_and_another_docstring_is_not() -> None:
    class Later(Settings):
        echo: bool = False

    class Reworded(Settings):
        """Other words."""

    assert digest(schema(Later)) != digest(schema(Settings)) == digest(schema(Reworded))


# ---- newer than the reader

UP_TO = "this racktempo reads versions up to {}. Use the newer racktempo."


def newer(name: str, path: Path) -> Path:
    """Write a file of the fixtures as a version to come would: with a higher number and a field that is new."""
    plain = msgpack.unpackb((FILES / name).read_bytes())
    path.write_bytes(msgpack.packb({**plain, "version": 99, "echo": True}))
    return path


def test_a_newer_whole_heat_is_told_with_both_versions_wherever_it_comes_from(tmp_path: Path) -> None:
    path = newer("whole.heat", tmp_path / "whole.heat")
    told = f'This is a "racktempo heat" of version 99; {UP_TO.format(versions.HEAT_FILE)}'
    assert verify(path) == (f"{path} cannot be read: {told}",)
    kept = keep(HeatFile(data=path.read_bytes()), tmp_path / "heats")
    assert kept == f"The table sent a heat that cannot be read, so it is not kept: {told}"


def test_a_newer_heat_of_one_seat_is_told_with_both_versions(tmp_path: Path) -> None:
    path = newer("own.seat", tmp_path / "own.seat")
    told = f'This is a "racktempo seat" of version 99; {UP_TO.format(versions.SEAT_FILE)}'
    assert read_any_heat(path) == f"{path} cannot be read: {told}"


@pytest.mark.parametrize(
    ("name", "opened", "fault", "known"),
    [
        ("tables.sqlite3", Database, StoreFault, versions.STORE),
        ("history.sqlite3", History, HistoryFault, len(history_db.MIGRATIONS)),
    ],
)
def test_a_newer_database_is_told_with_both_versions_and_left_alone(
    tmp_path: Path, name: str, opened: Callable[[Path], object], fault: type[Exception], known: int
) -> None:
    path = tmp_path / name
    path.write_bytes((FILES / name).read_bytes())
    with closing(sqlite3.connect(path)) as disk:
        disk.execute("PRAGMA user_version = 99")
    before = path.read_bytes()
    with pytest.raises(fault) as told:
        opened(path)
    assert f"is of version 99; {UP_TO.format(known)}" in str(told.value)
    assert path.read_bytes() == before


def test_a_heat_with_an_unknown_field_is_refused_whatever_its_version(tmp_path: Path) -> None:
    plain = msgpack.unpackb((FILES / "whole.heat").read_bytes())
    path = tmp_path / "whole.heat"
    path.write_bytes(msgpack.packb({**plain, "echo": True}))
    assert verify(path) == (f"{path} is not a saved heat of racktempo, or is damaged.",)
