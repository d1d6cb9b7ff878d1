"""Heats with real tiles go into the player's own history, each once, with the seat that the player had."""

from pathlib import Path

from client.storage.history_db import History
from client.storage.real_tiles import keeper
from shared.clock.real_clock import RealClock, RealHeat
from shared.rules.settings import Settings

TWO_MINUTES = Settings(level_ms=120_000, heats=3)


def a_set() -> tuple[RealHeat, ...]:
    """Three heats of ten seconds a step, as the clock tells them."""
    clock, now_ms = RealClock(settings=TWO_MINUTES), 0
    for heat in range(3):
        clock = clock.begin(now_ms, f"2030-01-01T20:0{heat}:00+00:00")
        while clock.face(now_ms).phase == "step":
            now_ms += 10_000
            clock = clock.done(now_ms)
        now_ms += 30_000
    return clock.finished()


def test_the_heats_of_a_set_are_kept_in_order_with_their_times_and_seats(tmp_path: Path) -> None:
    path = tmp_path / "history.sqlite3"
    keep = keeper(path, TWO_MINUTES, "set one")
    assert [keep(heat) for heat in (*a_set(), *a_set())] == [""] * 6, "told twice"
    history = History(path)
    entries = history.read().entries
    history.close()
    assert [(entry.source, entry.heat.number, entry.heat.seat) for entry in entries] == [
        ("real tiles", 1, 0),
        ("real tiles", 2, 3),
        ("real tiles", 3, 2),
    ]
    assert all([step.spent_ms for step in entry.heat.steps] == [10_000] * 9 for entry in entries)
    assert entries[0].heat.settings == TWO_MINUTES


def test_another_set_is_another_even_at_the_same_second(tmp_path: Path) -> None:
    path = tmp_path / "history.sqlite3"
    for set_id in ("one", "two"):
        keeper(path, TWO_MINUTES, set_id)(a_set()[0])
    history = History(path)
    assert len(history.read().entries) == 2
    history.close()


def test_a_history_that_cannot_be_used_is_a_sentence(tmp_path: Path) -> None:
    other = tmp_path / "file"
    other.write_text("")
    told = keeper(other / "history.sqlite3", TWO_MINUTES, "one")(a_set()[0])
    assert "cannot be opened" in told
