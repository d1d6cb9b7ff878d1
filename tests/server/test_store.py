"""The disk: what was acknowledged is there, what was not is not, and trouble is told in one sentence."""

import asyncio
import contextlib
import multiprocessing
import sqlite3
import stat
from pathlib import Path

import pytest

from server.records import TableRecord
from server.store import Append, ClubAppend, Database, Store, StoreFault, default_path
from shared.rules.events import ClocksRan, ClocksStopped
from shared.rules.settings import Settings
from tests.clubs import club_record


def a_record(number: int = 1, table: str = "one") -> TableRecord:
    return TableRecord(id=table, name="Boathouse", code="", settings=Settings(), number=number, phase="heat")


def an_append(after: int, count: int = 2, table: str = "one") -> Append:
    events = tuple(ClocksStopped(at_ms=after + number) for number in range(count))
    return Append(a_record(table=table), 1, after, events)


def test_what_was_committed_is_there_after_opening_again(tmp_path: Path) -> None:
    path = tmp_path / "deep" / "tables.sqlite3"
    database = Database(path)
    database.commit([an_append(0), an_append(2)])
    database.close()
    stored = Database(path).load()
    assert len(stored) == 1
    assert stored[0].record == a_record()
    assert [event.at_ms for event in stored[0].events if isinstance(event, ClocksStopped)] == [0, 1, 2, 3]
    assert stored[0].is_unfinished


def test_only_the_owner_can_read_the_files(tmp_path: Path) -> None:
    path = tmp_path / "tables.sqlite3"
    path.touch(mode=0o644)
    database = Database(path)
    database.commit([an_append(0)])
    for file in tmp_path.iterdir():
        assert stat.S_IMODE(file.stat().st_mode) == 0o600, file.name


def test_every_commit_waits_for_the_disk(tmp_path: Path) -> None:
    database = Database(tmp_path / "tables.sqlite3")
    assert database._pragma("synchronous") == 2
    assert database._disk.execute("PRAGMA journal_mode").fetchone() == ("wal",)


def test_a_second_host_on_the_same_file_is_told_so(tmp_path: Path) -> None:
    path = tmp_path / "tables.sqlite3"
    first = Database(path)
    with multiprocessing.get_context("spawn").Pool(1) as pool:
        sentence = pool.apply(_fault_of_opening, (path,))
        assert "in use by another racktempo host" in sentence
        first.commit([an_append(0)])
        first.close()
        assert pool.apply(_fault_of_opening, (path,)) == ""


def _fault_of_opening(path: Path) -> str:
    try:
        Database(path).close()
    except StoreFault as fault:
        return str(fault)
    return ""


def test_a_file_of_another_version_or_program_is_left_alone(tmp_path: Path) -> None:
    newer, foreign, junk = (tmp_path / name for name in ("newer", "foreign", "junk"))
    older = tmp_path / "older"
    for path, version in ((newer, 99), (older, 2)):
        Database(path).close()
        with sqlite3.connect(path) as disk:
            disk.execute(f"PRAGMA user_version = {version}")
        disk.close()
    with sqlite3.connect(foreign) as disk:
        disk.execute("CREATE TABLE other (x)")
        disk.execute("PRAGMA application_id = 5")
    disk.close()
    junk.write_bytes(b"this is no database at all" * 100)
    told = ((newer, "version 99"), (older, "version 2; this racktempo reads version 3 and later"))
    for path, words in (*told, (foreign, "another program"), (junk, "cannot be used")):
        before = path.read_bytes()
        with pytest.raises(StoreFault, match=words):
            Database(path)
        assert path.read_bytes() == before


def test_without_a_path_of_its_own_a_host_keeps_its_tables_in_the_users_data_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("platformdirs.user_data_dir", lambda name, appauthor: str(tmp_path / name))
    assert default_path() == tmp_path / "racktempo" / "tables.sqlite3"


def test_a_record_that_is_damaged_is_told_in_one_sentence(tmp_path: Path) -> None:
    database = Database(tmp_path / "tables.sqlite3")
    database.commit([an_append(0), ClubAppend(club_record())])
    for table, load in (("tables", database.load), ("clubs", database.load_club)):
        database._disk.execute(f"UPDATE {table} SET record = x'00'")
        with pytest.raises(StoreFault, match=r"tables\.sqlite3 cannot be read: "):
            load()


@pytest.mark.parametrize("what", ["load", "load_club", "forget_club", "forget", "commit"])
def test_a_disk_that_fails_is_told_in_one_sentence_whatever_was_asked_of_it(tmp_path: Path, what: str) -> None:
    database = Database(tmp_path / "tables.sqlite3")
    for table in ("tables", "clubs"):
        database._disk.execute(f"DROP TABLE {table}")
    asked: dict[str, tuple[object, ...]] = {"forget": ("one",), "commit": ([an_append(0)],)}
    words = "cannot be read" if what.startswith("load") else "could not be written"
    with pytest.raises(StoreFault, match=rf"tables\.sqlite3 {words}: "):
        getattr(database, what)(*asked.get(what, ()))
    assert not database._disk.in_transaction


def test_an_event_number_is_never_written_twice(tmp_path: Path) -> None:
    database = Database(tmp_path / "tables.sqlite3")
    database.commit([an_append(0)])
    with pytest.raises(StoreFault):
        database.commit([Append(a_record(number=5), 1, 2, (ClocksRan(at_ms=9),)), an_append(1)])
    assert database.load()[0].record.number == 1
    assert len(database.load()[0].events) == 2


def test_a_full_disk_refuses_and_leaves_nothing_half_done(tmp_path: Path) -> None:
    database = Database(tmp_path / "tables.sqlite3")
    database.commit([an_append(0)])
    pages = database._pragma("page_count")
    database._disk.execute(f"PRAGMA max_page_count = {pages}")
    done = 2
    with contextlib.suppress(StoreFault):
        while done < 2_000:
            database.commit([an_append(done)])
            done += 2
    with pytest.raises(StoreFault, match="full"):
        database.commit([an_append(done)])
    assert len(database.load()[0].events) == done
    database._disk.execute(f"PRAGMA max_page_count = {pages + 1_000}")
    database.commit([an_append(done)])
    assert len(database.load()[0].events) == done + 2


def test_the_table_that_was_written_last_comes_last(tmp_path: Path) -> None:
    database = Database(tmp_path / "tables.sqlite3")
    for table in ("one", "two", "three", "two"):
        database.commit([Append(a_record(table=table))])
    assert [stored.record.id for stored in database.load()] == ["one", "three", "two"]


def test_forgetting_a_table_drops_all_of_it(tmp_path: Path) -> None:
    database = Database(tmp_path / "tables.sqlite3")
    database.commit([an_append(0), an_append(0, table="two")])
    database.forget("one")
    assert [stored.record.id for stored in database.load()] == ["two"]
    assert database._disk.execute("SELECT count(*) FROM events").fetchone() == (2,)


async def test_many_tables_share_a_transaction_and_one_that_fails_fails_alone(tmp_path: Path) -> None:
    store = Store.open(tmp_path / "tables.sqlite3")
    commits: list[str] = []
    store._database._disk.set_trace_callback(lambda sql: commits.append(sql) if sql == "COMMIT" else None)
    await store.append([an_append(0, table="bad")])
    writes = [store.append([an_append(0, table=f"t{number}")]) for number in range(50)]
    bad = store.append([an_append(1, table="bad")])
    results = await asyncio.gather(*writes, bad, return_exceptions=True)
    assert results[:-1] == [None] * 50
    assert isinstance(results[-1], StoreFault)
    assert len(store.load()) == 51
    await asyncio.gather(*(store.append([an_append(2, table=f"t{number}")]) for number in range(50)))
    # One for the first, fifty for the batch that failed together, then one or two for all the rest.
    assert len(commits) <= 54
    await store.close()


async def test_in_memory_everything_is_there_at_once() -> None:
    store = Store.open(None)
    await store.append([an_append(0)])
    assert len(store.load()[0].events) == 2
    await store.close()
