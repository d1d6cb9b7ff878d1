"""Whose an evening's results are, where they stand, and with which heats of the same deal they are compared."""

from shared.rules.intents import TakeSeat
from shared.wire.desk_intents import RenameTable, StartAll, Unseat
from shared.wire.messages import Done
from tests.clubs import SAME_DEAL, ClubEvening
from tests.server.players import answer_to


def test_the_results_of_a_renamed_table_keep_its_number_whatever_it_is_called() -> None:
    evening = ClubEvening(tables=3, people=12)
    evening.do(RenameTable(table=1, name="Corner"))
    evening.do(RenameTable(table=2, name="Window"))
    evening.do(StartAll(in_ms=0))
    evening.play(*(f"P{number}" for number in range(1, 13)))
    assert {one.table for one in evening.club.played()} == {"1 Corner", "2 Window", "Table 3"}


def test_a_seat_that_another_plays_on_stays_the_result_of_who_began_it_by_key_and_name() -> None:
    evening = ClubEvening(tables=1, people=2)
    key = evening.key("P1")
    evening.do(StartAll(in_ms=0))
    assert isinstance(evening.say("P1", answer_to(evening.view("P1"))), Done)
    evening.do(Unseat(person=key))
    assert evening.come("Late") == (1, 0)
    assert isinstance(evening.say("Late", TakeSeat()), Done)
    evening.play("P2", "Late")
    [one] = [one for one in evening.club.played() if one.person == key]
    assert (one.name, one.bot) == ("P1", True)


def test_a_heat_is_compared_with_the_same_deal_elsewhere_and_only_the_last_two_are_kept_for_it() -> None:
    evening = ClubEvening(SAME_DEAL.model_copy(update={"heats": 3}), tables=3, people=12)
    names = [f"P{number}" for number in range(1, 13)]
    fast, slow = names[4:8], names[:4] + names[8:]

    def compared(table: int, heat: int) -> list[str]:
        seats = evening.club.results.elsewhere(table, heat)
        assert len({tuple(one.table for one in seat) for seat in seats}) == 1
        return [one.table for one in seats[0]]

    evening.do(StartAll(in_ms=0))
    evening.play(*names, pause_ms=100)
    for _ in range(2):
        evening.ready(*fast)
        evening.play(*fast, pause_ms=100)
    assert compared(1, 1) == ["Table 3"], "the second table's is forgotten, two heats later"
    assert compared(3, 1) == ["Table 1"]
    for _ in range(2):
        evening.do(StartAll(in_ms=0))
        evening.play(*slow, pause_ms=100)
    assert [compared(1, heat) for heat in (1, 2, 3)] == [[], ["Table 2", "Table 3"], ["Table 2", "Table 3"]]
    assert [compared(2, heat) for heat in (1, 2, 3)] == [[], ["Table 1", "Table 3"], ["Table 1", "Table 3"]]
