"""When a decision comes back, by the library and an hour that is handed in; and rounds on the disk."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from client.storage.costliest import Costly, comes_next, comes_now
from client.storage.drilled import Memory, Round, record_lines, remember
from client.storage.history_db import History, HistoryFault
from client.storage.journal import disk_journal
from tests.client.heats import heat

NOW = datetime(2031, 3, 1, 12, tzinfo=UTC)
DAY = timedelta(days=1)


def played(best: int = 5, points: float = 6.0, spent_ms: int = 40_000, out: int = 1) -> Round:
    return Round(played_s=1, best=best, close=1, costly=9 - best - out, out=out, spent_ms=spent_ms, points=points)


def test_the_better_it_went_the_later_it_comes_back() -> None:
    waits = [remember(None, rating, NOW).due - NOW for rating in ("best", "close", "costly", "out of time")]
    assert waits == sorted(waits, reverse=True)
    assert waits[0] > waits[1] > waits[2]
    assert waits[-1] >= DAY


def test_a_best_pass_again_when_it_is_due_waits_longer_and_a_missed_one_comes_back_soon() -> None:
    first = remember(None, "best", NOW)
    again = remember(first, "best", first.due)
    assert again.due - first.due > first.due - NOW
    missed = remember(again, "out of time", again.due)
    assert missed.due - again.due < first.due - NOW


def test_the_same_hour_gives_the_same_answer_in_any_zone() -> None:
    east = NOW.astimezone(tz=None)
    assert remember(None, "close", NOW) == remember(None, "close", east)


def test_what_is_due_comes_first_then_what_is_new_and_the_rest_waits() -> None:
    waits = Costly(heat(1), "first right", 9.0, remember(None, "best", NOW))
    due = Costly(heat(2), "first right", 1.0, remember(None, "close", NOW - 5 * DAY))
    overdue = Costly(heat(3), "first right", 0.5, remember(None, "close", NOW - 9 * DAY))
    small, large = (Costly(heat(number), "first left", points) for number, points in ((4, 2.0), (5, 8.0)))
    assert comes_now([waits, due, small, large, overdue], NOW) == (overdue, due, large, small)
    assert waits.memory
    assert comes_next([waits]) == waits.memory.due
    assert comes_next([small]) is None


@pytest.fixture
def history(tmp_path: Path) -> Iterator[History]:
    with closing(History(tmp_path / "history.sqlite3")) as opened:
        yield opened


def test_memories_and_rounds_come_back_from_the_disk(history: History) -> None:
    number = history.add(heat()).id
    memory = remember(None, "costly", NOW)
    history.set_memory(number, "first right", remember(None, "best", NOW))
    history.set_memory(number, "first right", memory)
    assert dict(history.read().entries[0].memories) == {"first right": memory}
    history.add_round("first", played())
    history.add_round("family", played(3))
    assert history.rounds("first") == (played(),)
    with pytest.raises(HistoryFault):
        history.set_memory(99, "first right", memory)


def test_what_cannot_be_read_is_left_out_and_everything_is_deleted_together(history: History) -> None:
    number = history.add(heat()).id
    history.set_memory(number, "first right", remember(None, "best", NOW))
    history.add_round("first", played())
    with closing(sqlite3.connect(history.path)) as disk:
        disk.execute("UPDATE memories SET memory = ?", (b"\xff" * 40,))
        disk.execute("INSERT INTO rounds (drill, round) VALUES ('first', 'no round')")
        disk.commit()
    read = history.read()
    assert (dict(read.entries[0].memories), read.faults) == ({}, ())
    assert history.rounds("first") == (played(),)
    history.delete_all()
    assert history.rounds("first") == ()


def test_a_memory_beyond_every_date_is_refused() -> None:
    kept = remember(None, "best", NOW).model_dump()
    for field, value in (("due_s", 10**18), ("stability", 0.0), ("difficulty", 99.0), ("state", 7)):
        with pytest.raises(ValueError, match=field):
            Memory.model_validate({**kept, field: value})


def test_the_journal_of_a_full_disk_says_so_in_a_sentence(tmp_path: Path) -> None:
    journal = disk_journal(tmp_path)  # a folder is no file
    assert journal.add_round("first", played()).endswith(".")
    assert journal.remember(heat(), "first right", remember(None, "best", NOW)).endswith(".")
    assert journal.rounds("first") == ()


def test_a_round_is_told_beside_the_earlier_ones() -> None:
    assert record_lines(played(), ()) == (
        "This round: 4.0 s and 0.7 points lost a decision; 5 of 10 best, 1 out of time.",
    )
    lines = record_lines(played(), (played(2, 18.0), played(8, 0.9, 20_000, 0)))
    assert lines[1:] == (
        "Your last 2: 3.0 s and 1.0 points lost a decision; 10 of 20 best, 1 out of time.",
        "Your best: 2.0 s and 0.1 points lost a decision; 8 of 10 best.",
    )
