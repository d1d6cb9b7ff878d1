"""Whose the heats are that have ended, and for how long a table remembers it."""

from server.records import Sat
from server.table.output import Joined
from server.table.retelling import AllOwed, Owed
from shared.rules.intents import MoveTo
from shared.wire.messages import Command, Held, OwnHeat
from tests.tables import QUICK, Evening, opened


def told_own(evening: Evening, chair: int) -> list[int]:
    """Let the person of a chair come back without anything, and return the heats that they are told as theirs."""
    joined = evening.table.join("", evening.tokens[chair], evening.now_ms, Held())
    assert isinstance(joined, Joined)
    told = [opened(message) for to, message in joined.output.messages if to == chair]
    return [one.heat.number for one in told if isinstance(one, OwnHeat)]


def test_of_heats_that_an_older_host_kept_everybody_is_told_those_since_they_came() -> None:
    evening = Evening(QUICK.model_copy(update={"heats": 4}))
    evening.play_heat()
    late = evening.join("Late")
    evening.play_heat()
    evening.play_heat()
    evening.table._record = evening.table.record.with_(sat=())  # an older host did not write down who sat where
    assert told_own(evening, 0) == [1, 2, 3]
    assert told_own(evening, late) == [2, 3]


def test_a_table_remembers_who_sat_there_in_its_last_64_heats() -> None:
    evening = Evening(QUICK)
    sat = tuple(Sat(heat=number, people=("", "", "", "")) for number in range(1, 101))
    evening.table._record = evening.table.record.with_(number=100, set_first=101, sat=sat)
    evening.ready()
    assert [sat.heat for sat in evening.table.record.sat] == list(range(37, 102)), "and in the one that runs"


def test_what_somebody_is_still_to_be_told_goes_along_to_another_chair_and_a_wish_alone_moves_nothing() -> None:
    evening = Evening(QUICK, people=2)
    one, other = (Owed(1, whole=True),), (Owed(1, whole=False), Owed(2, whole=False))
    evening.table._retelling.owed = (one, other, (), ())

    def asks_for(own: int, chair: int) -> AllOwed:
        command = Command(id=9 + own, heat=0, intent=MoveTo(chair=chair))
        evening.table.command(own, command, evening.now_ms)
        return evening.table._retelling.owed

    assert asks_for(0, 1) == (one, other, (), ()), "they have not agreed"
    assert asks_for(1, 0) == (other, one, (), ())
    assert asks_for(1, 3) == (other, (), (), one)
