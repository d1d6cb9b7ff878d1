"""Coming back is cheap: nobody is sent what they have, what is sent is built once, and no faster than is allowed."""

import pytest

import server.table.ended
from server.records import TableRecord
from server.table.output import Joined
from server.table.retelling import BURST, PER_S, Owed, Retelling
from shared.rules.heat import SavedHeat
from shared.rules.settings import Settings
from shared.wire.messages import HeatFile, Held, OwnHeat
from tests.tables import QUICK, Evening, opened

HEATS = 12
LONG = QUICK.model_copy(update={"heats": HEATS})


def played(settings: Settings = LONG, heats: int = HEATS) -> Evening:
    evening = Evening(settings, people=1)
    for _ in range(heats):
        evening.play_heat()
    return evening


def back(evening: Evening, held: Held) -> list[object]:
    """Let the person of chair 0 come back who holds so much, and return what they are told."""
    joined = evening.table.join("", evening.tokens[0], evening.now_ms, held)
    assert isinstance(joined, Joined)
    return [opened(message) for chair, message in joined.output.messages if chair == 0]


def told_later(evening: Evening) -> list[object]:
    """Let time pass until nothing is due, and return what chair 0 is told."""
    told: list[object] = []
    while (due_ms := evening.table.next_deadline_ms()) is not None:
        assert due_ms > evening.now_ms
        evening.now_ms = due_ms
        told += [opened(message) for _, message in evening.table.tick(due_ms).messages]
    return told


def numbers(told: list[object], kind: type) -> list[int]:
    return [one.heat.number if isinstance(one, OwnHeat) else one.number for one in told if isinstance(one, kind)]


def test_who_has_nothing_is_told_every_heat_and_who_has_some_the_others() -> None:
    evening, table = played(), "t1"
    told = back(evening, Held())
    assert numbers(told, OwnHeat) == numbers(told, HeatFile) == list(range(1, HEATS + 1))
    evening.now_ms += 60_000
    told = back(evening, Held(table=table, own=(1, 2, 3, 12), whole=tuple(range(2, 13))))
    assert numbers(told, OwnHeat) == list(range(4, 12))
    assert numbers(told, HeatFile) == [1]
    assert back(evening, Held(table=table, own=tuple(range(1, 13)), whole=tuple(range(1, 13)))) == []


def test_the_heats_of_another_table_are_no_heats_of_this_one() -> None:
    told = back(played(heats=2), Held(table="another", own=(1, 2), whole=(1, 2)))
    assert numbers(told, OwnHeat) == numbers(told, HeatFile) == [1, 2]


def test_closed_racks_stay_closed_for_whoever_comes_back_until_the_set_is_over() -> None:
    settings = LONG.model_copy(update={"open_racks": False, "heats": 2})
    evening = played(settings, heats=1)
    assert numbers(back(evening, Held(table="t1", own=(1,))), HeatFile) == []
    evening.play_heat()
    assert numbers(back(evening, Held(table="t1", own=(1,))), HeatFile) == [1, 2]


def test_who_returns_again_and_again_is_told_no_faster_than_is_allowed_and_everything_in_the_end() -> None:
    evening = played()
    evening.now_ms += 60_000
    count = 0
    for _ in range(80):  # ten seconds of eight returns each
        count += len(back(evening, Held()))
        evening.now_ms += 125
        count += len(evening.table.tick(evening.now_ms).messages)
    assert BURST <= count <= BURST + 10 * PER_S + 1
    told = back(evening, Held()) + told_later(evening)
    assert numbers(told, OwnHeat) == numbers(told, HeatFile) == list(range(1, HEATS + 1))
    assert evening.table.next_deadline_ms() is None


def test_what_one_chair_is_owed_and_told_changes_nothing_for_the_others() -> None:
    retelling, own, whole = Retelling(), Owed(1, whole=False), Owed(1, whole=True)
    for chair in (2, 1, 3, 0):
        retelling.owe(chair, (own, whole) if chair % 2 else (whole,))
    assert retelling.owed == ((whole,), (own, whole), (whole,), (own, whole))
    assert retelling.take(1, 0) == own
    assert retelling.owed == ((whole,), (whole,), (whole,), (own, whole))
    for _ in range(BURST - 1):
        retelling.owe(1, (own,))
        assert retelling.take(1, 0) == own
    retelling.owe(1, (own,))
    assert retelling.take(1, 0) is None
    assert retelling.owed[1] == (own,)
    assert retelling.take(2, 0) == whole
    assert retelling.take(2, 0) is None


def test_what_a_cut_line_was_still_owed_is_not_waited_for() -> None:
    evening = played()
    for _ in range(3):
        back(evening, Held())
    assert evening.table.next_deadline_ms() is not None
    evening.table.disconnected(0, evening.now_ms)
    assert evening.table.next_deadline_ms() is None


def test_an_undone_step_owes_what_it_owed_before() -> None:
    evening = played()
    for _ in range(2):
        back(evening, Held())
    owed = evening.table._retelling.owed[0]
    assert owed
    before = evening.table.checkpoint()
    evening.now_ms += 60_000
    assert evening.table.tick(evening.now_ms).messages
    evening.table.go_back(before, [0])
    assert evening.table._retelling.owed[0] == owed


def test_what_is_told_again_was_built_once(monkeypatch: pytest.MonkeyPatch) -> None:
    built: list[int] = []

    def counted(heat: SavedHeat) -> object:
        built.append(heat.number)
        return final_state(heat)

    final_state = server.table.ended.final_state
    evening = Evening(LONG.model_copy(update={"heats": 3}), people=4)
    for _ in range(2):
        evening.play_heat()
    evening.views()
    monkeypatch.setattr(server.table.ended, "final_state", counted)
    for _ in range(5):
        back(evening, Held())
        evening.now_ms += 60_000
    assert built == []
    evening.play_heat()
    assert built.count(3) <= 2  # once for the four seats, once for the results
    record: TableRecord = evening.table.record
    assert record.phase == "over"


def test_coming_back_to_ones_own_seat_writes_nothing_to_the_disk() -> None:
    evening = played(heats=1)
    before = evening.table.record
    back(evening, Held())
    assert evening.table.record is before
