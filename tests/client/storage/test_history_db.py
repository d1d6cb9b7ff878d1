"""The history file: every heat once, whatever happens to the process, the disk or the file."""

import random
import signal
import sqlite3
import stat
import subprocess
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from client.storage.history_db import MIGRATIONS, History, HistoryFault, StepLoss
from shared.clock.real_clock import RealHeat, RealStep, real_tiles_heat
from shared.rules.seat_heat import SEAT_HEAT, SeatHeat
from shared.rules.settings import Settings
from shared.versions import COACH
from tests.client.heats import heat

LOSS = StepLoss(step="first right", points=1.5, error=0.2, luck=-0.7, kinds=("breaking a pair",), forced=False)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "kept" / "history.sqlite3"


def heats_in(path: Path) -> list[SeatHeat]:
    history = History(path)
    read = history.read()
    history.close()
    assert history.notice == ""
    assert read.faults == ()
    return [entry.heat for entry in read.entries]


# ---- what is kept


def test_a_heat_comes_back_as_it_was_with_where_it_was_played(path: Path) -> None:
    history = History(path)
    history.add(heat(4), "drill", "what comes in helps the rival target", set_first=3)
    history.close()
    (entry,) = History(path).read().entries
    assert (entry.heat, entry.source, entry.detail) == (heat(4), "drill", "what comes in helps the rival target")
    assert (entry.set_first, entry.coach, dict(entry.losses)) == (3, "", {})


def test_a_heat_that_is_told_again_is_there_once(path: Path) -> None:
    history = History(path)
    first = history.add(heat(1))
    again = history.add(heat(1))
    assert (first.is_new, again.is_new, again.id) == (True, False, first.id)
    assert len(history.read().entries) == 1


def test_a_deal_repeated_by_its_seed_is_another_heat(path: Path) -> None:
    """The same secret has the same commitment; only when it was played tells the two apart."""
    history = History(path)
    history.add(heat(1, played_at="2031-03-01T19:00:00Z", commitment="a" * 64))
    history.add(heat(1, played_at="2031-03-01T19:20:00Z", commitment="a" * 64))
    assert len(history.read().entries) == 2


def test_the_latest_review_counts_and_one_by_the_same_coach_takes_the_earlier_ones_place(path: Path) -> None:
    history = History(path)
    kept = history.add(heat(1)).id
    history.set_losses(kept, "coach 1", [LOSS])
    history.set_losses(kept, "coach 2", [LOSS.model_copy(update={"points": 9.0})])
    history.set_losses(kept, "coach 2", [LOSS.model_copy(update={"points": 2.0})])
    (entry,) = history.read().entries
    assert (entry.coach, entry.losses["first right"].points) == ("coach 2", 2.0)
    history.set_losses(kept, "coach 1", [LOSS])
    (entry,) = history.read().entries
    assert (entry.coach, entry.losses["first right"]) == ("coach 1", LOSS)


def test_points_of_a_heat_played_for_values_are_left_out_among_points_of_winning(path: Path) -> None:
    history = History(path)
    played = heat(1)
    valued = heat(2).model_copy(update={"settings": Settings(play_for="values")})
    for each in (played, valued):
        history.set_losses(history.add(each).id, COACH, [LOSS])
    kept = [entry.by_this_coach() for entry in history.read().entries]
    assert [bool(entry.losses) for entry in kept] == [True, False]


def test_a_review_of_a_heat_that_is_not_there_is_refused(path: Path) -> None:
    history = History(path)
    with pytest.raises(HistoryFault, match="not in the history"):
        history.set_losses(7, "coach 1", [LOSS])


def test_a_number_too_great_for_the_file_is_a_fault_with_a_sentence_and_adds_nothing(path: Path) -> None:
    history = History(path)
    with pytest.raises(HistoryFault, match="cannot be used"):
        history.add(heat(1), set_first=2**64)
    assert history.add(heat(1)).is_new


def test_a_heat_with_real_tiles_keeps_its_times(path: Path) -> None:
    step = RealStep(step="first right", length_ms=28_800, budget_ms=28_800, spent_ms=31_000)
    times = RealHeat(played_at="2031-03-01T19:00:00Z", number=2, east=3, setup_ms=90_000, steps=(step,))
    played = real_tiles_heat("0c1d", times, Settings(level_ms=120_000))
    history = History(path)
    history.add(played, "real tiles")
    history.add(played, "real tiles")
    (entry,) = history.read().entries
    assert [(step.step, step.length_ms, step.spent_ms) for step in entry.heat.steps] == [
        ("first right", 28_800, 31_000)
    ]


def test_only_its_owner_can_read_the_file_and_what_lies_beside_it(path: Path) -> None:
    history = History(path)
    history.add(heat(1))
    modes = {file.name: stat.S_IMODE(file.stat().st_mode) for file in path.parent.iterdir()}
    assert set(modes) == {"history.sqlite3", "history.sqlite3-wal", "history.sqlite3-shm"}
    assert set(modes.values()) == {0o600}
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700


def test_a_commit_waits_for_the_disk(path: Path) -> None:
    """PRAGMA synchronous: 2 is FULL (SQLite documentation)."""
    disk = History(path)._disk
    assert disk.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    assert disk.execute("PRAGMA synchronous").fetchone() == (2,)


def test_what_is_deleted_is_gone_from_the_bytes_too(path: Path) -> None:
    history = History(path)
    history.add(heat(1, table="Otter Creek"))
    history.set_losses(1, "coach 1", [LOSS])
    assert any(b"Otter Creek" in file.read_bytes() for file in path.parent.iterdir())
    assert history.delete_all() == 1
    assert history.read().entries == ()
    history.close()
    assert not any(b"Otter Creek" in file.read_bytes() for file in path.parent.iterdir())
    assert not any(b"breaking a pair" in file.read_bytes() for file in path.parent.iterdir())


def test_two_holders_of_the_file_and_many_threads_add_each_heat_once(path: Path) -> None:
    holders = [History(path), History(path)]
    with ThreadPoolExecutor(8) as threads:
        added = list(threads.map(lambda n: holders[n % 2].add(heat(n // 2)), range(40)))
    assert sum(one.is_new for one in added) == 20
    assert sorted(kept.number for kept in heats_in(path)) == list(range(20))


# ---- older, newer, foreign and damaged files


def test_a_file_of_the_first_version_is_brought_up_to_date_with_all_its_heats(path: Path) -> None:
    path.parent.mkdir()
    old = sqlite3.connect(path)
    old.execute(MIGRATIONS[0][0])
    old.execute("PRAGMA application_id = 0x72746869")
    old.execute("PRAGMA user_version = 1")
    row = (heat(1).commitment, 1, heat(1).played_at, "table", "", 1, SEAT_HEAT.pack(heat(1)))
    old.execute("INSERT INTO heats VALUES (NULL, ?, ?, ?, ?, ?, ?, ?)", row)
    old.commit()
    old.close()
    history = History(path)
    assert not history.add(heat(1)).is_new
    history.set_losses(1, "coach 1", [LOSS])
    history.close()
    assert heats_in(path) == [heat(1)]
    assert sqlite3.connect(path).execute("PRAGMA user_version").fetchone() == (len(MIGRATIONS),)


def test_a_newer_file_is_refused_with_a_sentence_and_untouched(path: Path) -> None:
    path.parent.mkdir()
    newer = sqlite3.connect(path)
    newer.execute("CREATE TABLE heats (whatever TEXT)")
    newer.execute("PRAGMA application_id = 0x72746869")
    newer.execute("PRAGMA user_version = 99")
    newer.close()
    before = path.read_bytes()
    with pytest.raises(HistoryFault, match="is of version 99; this racktempo reads versions up to 6"):
        History(path)
    assert path.read_bytes() == before


def test_another_programs_file_is_refused_and_untouched(path: Path) -> None:
    path.parent.mkdir()
    other = sqlite3.connect(path)
    other.execute("CREATE TABLE recipes (text TEXT)")
    other.close()
    before = path.read_bytes()
    with pytest.raises(HistoryFault, match="belongs to another program"):
        History(path)
    assert path.read_bytes() == before


def test_what_is_no_database_is_set_aside_and_a_new_history_begins(path: Path) -> None:
    path.parent.mkdir()
    for number in (1, 2):
        path.write_bytes(b"these are not the heats you played " * 100)
        history = History(path)
        aside = path.with_name(f"history.sqlite3.damaged-{number}")
        assert str(aside) in history.notice
        assert aside.read_bytes().startswith(b"these are not")
        assert history.add(heat(1)).is_new
        history.close()


def test_a_damaged_history_never_does_worse_than_being_set_aside_whole_or_losing_single_heats(path: Path) -> None:
    """60 files with up to 40 bytes overwritten at random, seed 3: each still opens, is refused, or is set aside."""
    history = History(path)
    for number in range(30):
        history.add(heat(number))
    history.close()
    sound, dice, outcomes, set_aside = path.read_bytes(), random.Random(3), set[str](), 1
    for _ in range(60):
        damaged = bytearray(sound)
        for _ in range(dice.randint(1, 40)):
            damaged[dice.randrange(len(damaged))] = dice.randrange(256)
        path.write_bytes(damaged)
        try:
            history = History(path)
            if history.notice:
                outcomes.add("set aside")
                assert f"It was moved to {path}.damaged-{set_aside}, and" in history.notice
                assert path.with_name(f"{path.name}.damaged-{set_aside}").read_bytes() == damaged
                set_aside += 1
            else:
                read = history.read()
                outcomes.add("all there" if len(read.entries) == 30 else "some heats told as unreadable")
                assert len(read.entries) + len(read.faults) == 30
            history.close()
        except HistoryFault:
            outcomes.add("refused")
            assert path.read_bytes() == damaged
    assert outcomes >= {"set aside", "some heats told as unreadable"}


def test_a_folder_that_cannot_be_written_is_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "kept").write_text("a file where the folder should be")
    with pytest.raises(HistoryFault, match="cannot be opened"):
        History(tmp_path / "kept" / "history.sqlite3")


# ---- faults at every point


class Faults:
    """Fails the numbered statement, before it runs or after it has taken effect."""

    def __init__(self, at: int, after: bool) -> None:
        self.left, self.after = at, after

    def run(self, statement: Callable[[], Any]) -> Any:
        self.left -= 1
        if self.left == 0 and not self.after:
            raise sqlite3.OperationalError("disk I/O error")
        done = statement()
        if self.left == 0:
            raise sqlite3.OperationalError("disk I/O error")
        return done


def faulty_history(faults: Faults) -> type[History]:
    class FaultyConnection(sqlite3.Connection):
        def execute(self, *words: Any) -> Any:
            return faults.run(lambda: super(FaultyConnection, self).execute(*words))

        def executemany(self, *words: Any) -> Any:
            return faults.run(lambda: super(FaultyConnection, self).executemany(*words))

    class FaultyHistory(History):
        @staticmethod
        def _connect(path: Path) -> sqlite3.Connection:
            return sqlite3.connect(path, isolation_level=None, check_same_thread=False, factory=FaultyConnection)

    return FaultyHistory


@pytest.mark.parametrize("after", [False, True])
@pytest.mark.parametrize("existing", [0, 1, 2])
def test_a_fault_at_any_statement_loses_no_heat_and_doubles_none(tmp_path: Path, existing: int, after: bool) -> None:
    """From the first statement of opening (no file, an old file, a new one) to the last of a review."""
    for at in range(1, 100):
        path = tmp_path / f"{at}.sqlite3"
        if existing:
            prepared = sqlite3.connect(path, isolation_level=None)
            for statements in MIGRATIONS[:existing]:
                for statement in statements:
                    prepared.execute(statement)
            prepared.execute("PRAGMA application_id = 0x72746869")
            prepared.execute(f"PRAGMA user_version = {existing}")
            row = (heat(1).commitment, 1, heat(1).played_at, "table", "", 1, SEAT_HEAT.pack(heat(1)))
            prepared.execute("INSERT INTO heats VALUES (NULL, ?, ?, ?, ?, ?, ?, ?)", row)
            prepared.close()
        faults = Faults(at, after)
        kept = [heat(1)] if existing else []
        try:
            history = faulty_history(faults)(path)
            added = history.add(heat(2))
            kept.append(heat(2))
            history.set_losses(added.id, "coach 1", [LOSS])
            history.close()
        except HistoryFault:
            pass
        if faults.left > 0:
            assert at > 15
            return
        again = History(path)
        assert [entry.heat for entry in again.read().entries] in (kept, [*kept, heat(2)])
        again.add(heat(2))
        assert [entry.heat for entry in again.read().entries] == [*([heat(1)] if existing else []), heat(2)]
        again.close()
    pytest.fail("the faults never came to an end")


def test_a_full_disk_is_a_sentence_and_what_was_kept_stays(path: Path) -> None:
    """SQLite's own SQLITE_FULL, brought about with PRAGMA max_page_count."""
    history = History(path)
    history._disk.execute("PRAGMA max_page_count = 12")
    added = 0
    said = ""
    while not said:
        try:
            added += history.add(heat(added)).is_new
        except HistoryFault as fault:
            said = str(fault)
    assert "full" in said
    assert added > 0
    history._disk.execute("PRAGMA max_page_count = 100000")
    assert history.add(heat(added)).is_new
    history.close()
    assert [kept.number for kept in heats_in(path)] == list(range(added + 1))


def test_a_writer_killed_at_random_moments_loses_no_heat_that_it_had_said_was_kept(path: Path) -> None:
    """kill -9 after a random number of heats, eight times on one file; the heat in hand is there once or not at all."""
    dice, kept = random.Random(8), 0
    for _ in range(8):
        command = [sys.executable, "-m", "tests.client.history_writer", str(path), str(kept)]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as writer:
            assert writer.stdout
            for _ in range(dice.randint(1, 40)):
                said = int(writer.stdout.readline())
            writer.send_signal(signal.SIGKILL)
            said = max([said, *(int(line) for line in writer.stdout.read().splitlines() if line)])
        there = [one.number for one in heats_in(path)]
        assert there in (list(range(said + 1)), list(range(said + 2)))
        history = History(path)
        for number in range(said + 1):
            assert not history.add(heat(number)).is_new
        history.close()
        kept = len(there)
    assert kept > 20


# ---- what was typed at a clock


def real(number: int = 1) -> SeatHeat:
    step = RealStep(step="first right", length_ms=28_800, budget_ms=28_800, spent_ms=20_000)
    times = RealHeat(played_at="2031-03-01T19:00:00Z", number=number, east=1, setup_ms=None, steps=(step,))
    return real_tiles_heat(f"0c1d {number}", times, Settings())


def test_typed_lines_come_back_as_they_were_the_last_ones_at_the_end(path: Path) -> None:
    history = History(path)
    history.set_racks("one", {"dealt": "112b 10b"})
    history.set_racks("two", {"dealt": "9d"})
    history.set_racks("one", {"dealt": "112b 1b"})
    assert list(history.racks().items()) == [("two", {"dealt": "9d"}), ("one", {"dealt": "112b 1b"})]
    history.delete_all()
    assert history.racks() == {}


def test_tiles_take_the_place_of_times_alone_and_of_what_was_judged_by_other_tiles(path: Path) -> None:
    history = History(path)
    times = real()
    kept = history.add(times, "real tiles").id
    whole = times.model_copy(update={"seat": 1, "dealt": ("1b",) * 4, "final": ("1b",) * 4})
    history.add_tiles(whole)
    history.set_losses(history.add(whole).id, COACH, [LOSS])
    history.add_tiles(whole)
    (entry,) = history.read().entries
    assert (entry.id, entry.heat, entry.source) == (kept, whole, "real tiles")
    assert entry.losses
    history.add_tiles(whole.model_copy(update={"dealt": ("2b",) * 4, "final": ("2b",) * 4}))
    (entry,) = history.read().entries
    assert not entry.losses


def test_tiles_of_a_heat_that_is_not_there_yet_are_kept_with_it(path: Path) -> None:
    history = History(path)
    history.add_tiles(real(2))
    (entry,) = history.read().entries
    assert (entry.heat, entry.source) == (real(2), "real tiles")
