"""What a heat and a set are held against: the last five that count, of the same length, and before it."""

from client.models.heat_end import LastHeats
from client.reports.last_heats import last_heats, this_set
from client.storage.history_db import Read
from shared.rules.settings import Settings
from tests.client.heats import entry, heat, step


def test_a_heat_is_held_against_the_last_five_of_its_length_before_it() -> None:
    heats = [heat(number, [step(seconds=number)]) for number in range(1, 9)]
    short = heat(9, [step(seconds=90.0)], settings=Settings(level_ms=90_000))
    read = Read((*(entry(one, {"first right": 2.0}) for one in heats), entry(short)))
    assert last_heats(read, heats[6]) == LastHeats(5, 4_000, 2.0)
    assert last_heats(read, heats[0]) is None
    assert last_heats(read, short) is None


def test_drills_and_heats_that_nobody_played_do_not_count() -> None:
    heats = [heat(1), heat(2, [step(by="timeout")]), heat(3)]
    read = Read((entry(heats[0], source="drill"), entry(heats[1]), entry(heats[2])))
    assert last_heats(read, heats[2]) is None


def test_a_set_is_held_against_the_five_sets_before() -> None:
    sets = [[heat(3 * number + at, [step(seconds=number)]) for at in (1, 2, 3)] for number in range(1, 8)]
    read = Read(
        tuple(
            entry(one, {"first right": 1.0 * number}, first=3 * number + 1)
            for number, some in enumerate(sets, 1)
            for one in some
        )
    )
    own, before = this_set(read, sets[-1])
    assert own == LastHeats(3, 7_000, 7.0)
    assert before == LastHeats(15, 4_000, 4.0)
    assert this_set(read, sets[0]) == (LastHeats(3, 1_000, 1.0), None)
    assert this_set(read, [heat(99)]) == (None, None)
