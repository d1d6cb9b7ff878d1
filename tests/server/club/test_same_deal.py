"""An evening on which every table plays the same deal: what is the same, who has seen it, and when it is told."""

from server.club.club import shared_secret
from server.table.output import Rejected
from shared.rules.heat import HEAT
from shared.rules.intents import Leave, ShowRack
from shared.rules.wall import seeded_secret
from shared.wire.club_views import ClubRole
from shared.wire.desk_intents import (
    CloseTable,
    EndEvening,
    PlayBy,
    SeatAtRandom,
    SeatPerson,
    StartAll,
    Unseat,
)
from shared.wire.messages import TO_CLIENT, HeatFile, OwnHeat
from tests.clubs import SAME_DEAL, ClubEvening
from tests.heats import faults


def test_the_same_deal_is_the_same_seat_for_seat_and_was_bound_before() -> None:
    evening = ClubEvening(SAME_DEAL, tables=3, people=12)
    names = [f"P{number}" for number in range(1, 13)]
    bound = {evening.view(name).commitment for name in names}
    assert len(bound) == 1
    evening.ready(*names[:4])
    evening.do(StartAll(in_ms=0))
    dealt = {table: [evening.view(names[4 * table + chair]).heat.dealt for chair in range(4)] for table in range(3)}  # type: ignore[union-attr]
    assert dealt[0] == dealt[1] == dealt[2]
    evening.play(*names)
    for name in names:
        heats = [HEAT.unpack(file.data) for file in evening.files[name] if isinstance(file, HeatFile)]
        assert {heat.commitment for heat in heats} == bound
        assert not any(faults(heat, lambda card, rack: False) for heat in heats)
    assert evening.view("P1").commitment not in bound


def test_the_secret_of_a_shared_deal_is_its_evenings_own_in_every_heat_and_only_a_seed_repeats_it() -> None:
    one, other, seeded = b"1" * 32, b"2" * 32, SAME_DEAL.model_copy(update={"seed": 7})
    secrets = [shared_secret(master, SAME_DEAL, heat) for master in (one, other) for heat in (1, 2)]
    assert len(set(secrets)) == 4
    assert shared_secret(one, seeded, 2) == shared_secret(other, seeded, 2) == seeded_secret(7, 2)
    assert shared_secret(one, seeded, 1) not in (*secrets, shared_secret(one, seeded, 2))


def test_the_seed_of_an_evening_stays_with_the_desk() -> None:
    seeded = SAME_DEAL.model_copy(update={"seed": 7})
    evening = ClubEvening(seeded, tables=2, people=8)
    roles: tuple[ClubRole, ...] = ("desk", "watcher", "teacher", "waiting")
    assert [evening.shown(role).settings.seed for role in roles] == [7, None, None, None]
    assert [evening.view(f"P{number}").settings for number in range(1, 9)] == [seeded.unseeded()] * 8


def test_other_deals_differ_from_table_to_table() -> None:
    evening = ClubEvening(tables=2, people=8)
    evening.do(StartAll(in_ms=0))
    assert evening.view("P1").heat.dealt != evening.view("P5").heat.dealt  # type: ignore[union-attr]


def test_nothing_of_a_heat_is_told_before_every_table_has_finished_it() -> None:
    evening = ClubEvening(SAME_DEAL, tables=2, people=8)
    evening.do(StartAll(in_ms=0))
    fast, slow = [f"P{number}" for number in range(1, 5)], [f"P{number}" for number in range(5, 9)]
    evening.play(*fast, pause_ms=100)
    view = evening.view("P1")
    assert view.phase == "between"
    assert view.club
    assert view.club.still_playing == 1
    assert view.club.elsewhere == view.club.speed == ()
    assert not view.results[0].opened
    assert view.results[0].secret == ""
    assert all(seat.final == seat.dealt == () for seat in view.results[0].seats)
    assert {type(file) for name in fast for file in evening.files[name]} == {OwnHeat}
    evening.play(*slow, pause_ms=100)
    view = evening.view("P1")
    assert view.results[0].opened
    assert any(isinstance(file, HeatFile) for file in evening.files["P1"])
    assert view.club
    assert len(view.club.speed) == 8


def test_a_faster_table_tells_a_slower_one_nothing() -> None:
    """Whatever the faster table passes, everything the slower one is told is the same to the byte."""

    def told(seed: bytes) -> tuple[list[bytes], list[bytes]]:
        evening = ClubEvening(SAME_DEAL, tables=2, people=8)
        fast, slow = [f"P{number}" for number in range(1, 5)], [f"P{number}" for number in range(5, 9)]
        evening.do(StartAll(in_ms=0))
        evening.play(*fast, seed=seed, pause_ms=100)
        evening.wait(3_000)
        assert evening.view("P1").phase == "between"
        assert evening.view("P5").phase == "heat"
        said = evening.told["P1"][:]
        for name in slow:
            evening.say(name, ShowRack(on=True))
        watched = TO_CLIENT.pack(evening.shown("watcher"))
        return [frame for name in slow for frame in evening.told[name]] + [watched], said

    first, second = told(b"one way"), told(b"another way")
    assert first[0] == second[0]
    assert first[1] != second[1]


def test_after_the_heat_a_seat_sees_what_the_same_rack_did_elsewhere() -> None:
    evening = ClubEvening(SAME_DEAL, tables=2, people=8)
    names = [f"P{number}" for number in range(1, 9)]
    evening.do(StartAll(in_ms=0))
    evening.play(*names)
    own, there = evening.view("P2"), evening.view("P6")
    assert own.club
    assert own.club.elsewhere_heat == 1
    (other,) = own.club.elsewhere
    assert (other.table, other.name) == ("Table 2", "P6")
    seat = next(seat for seat in there.results[0].seats if seat.chair == there.you)
    assert other.total_ms == seat.total_ms
    lived = next(file.heat for file in evening.files["P6"] if isinstance(file, OwnHeat))
    assert [(gave.step, gave.given) for gave in other.gave] == [
        (step.step, step.given) for step in lived.steps if step.given or step.blind
    ]


def test_where_racks_stay_closed_until_the_end_the_other_tables_stay_closed_too() -> None:
    evening = ClubEvening(SAME_DEAL.model_copy(update={"open_racks": False}), tables=2, people=8)
    names = [f"P{number}" for number in range(1, 9)]
    evening.do(StartAll(in_ms=0))
    evening.play(*names)
    assert evening.view("P1").club.elsewhere == ()  # type: ignore[union-attr]
    evening.do(StartAll(in_ms=0))
    evening.play(*names)
    assert evening.view("P1").phase == "over"
    assert len(evening.view("P1").club.elsewhere) == 1  # type: ignore[union-attr]


def test_what_the_end_of_an_evening_has_opened_stays_open() -> None:
    evening = ClubEvening(SAME_DEAL, tables=2, people=8)
    fast, slow = [f"P{number}" for number in range(1, 5)], [f"P{number}" for number in range(5, 9)]
    evening.do(StartAll(in_ms=0))
    evening.play(*fast, *slow)
    evening.ready(*fast)
    evening.play(*fast)
    assert [result.opened for result in evening.view("P1").results] == [True, False]
    evening.do(EndEvening())
    evening.take(evening.club.heat_over())
    assert [result.opened for result in evening.view("P1").results] == [True, True]


def test_nobody_plays_a_deal_that_they_have_seen_elsewhere() -> None:
    evening = ClubEvening(SAME_DEAL, tables=2, people=5)
    evening.do(StartAll(in_ms=0))
    evening.play("P1", "P2", "P3", "P4", "P5")
    evening.ready("P1", "P2", "P3", "P4")
    evening.play("P1", "P2", "P3", "P4")
    told = evening.refused(SeatPerson(person=evening.key("P1"), table=2, chair=2))
    assert told == "P1 has seen the deal of heat 2, which Table 2 has yet to finish."
    assert evening.refused(SeatAtRandom()).startswith("Not every table has played the same heats")
    evening.ready("P5")
    evening.play("P5")
    evening.do(SeatPerson(person=evening.key("P1"), table=2, chair=2))


def test_who_came_to_a_running_heat_has_seen_its_deal_as_well() -> None:
    evening = ClubEvening(SAME_DEAL, tables=2, people=2)
    evening.do(SeatPerson(person=evening.key("P2"), table=2, chair=0))
    evening.ready("P1")
    assert evening.come("Late") == (2, 1)
    evening.do(SeatPerson(person=evening.key("Late"), table=1, chair=1))
    assert evening.view("Late").heat.rack  # type: ignore[union-attr]
    told = evening.refused(SeatPerson(person=evening.key("Late"), table=2, chair=1))
    assert told == "Late has seen the deal of heat 1, which Table 2 has yet to finish."
    told = evening.refused(SeatPerson(person=evening.key("Late"), table=1, chair=2))
    assert told == "Late was dealt another rack of the heat that runs at Table 1."


def test_who_leaves_and_comes_again_is_given_no_chair_where_the_deal_is_the_one_they_have_seen() -> None:
    evening = ClubEvening(SAME_DEAL, tables=2, people=5)
    evening.ready("P1", "P2", "P3", "P4")
    evening.say("P1", Leave())
    assert evening.come("P1") == (0, 0)
    assert isinstance(evening.club.tables[2].join("P1", evening.tokens["P1"], 0), Rejected), "nor by the table's code"
    assert evening.come("P6") == (2, 1)


def test_who_saw_a_deal_at_a_table_that_was_closed_waits_while_others_play_it() -> None:
    evening = ClubEvening(SAME_DEAL, tables=2, people=5)
    evening.ready("P5")
    evening.do(CloseTable(table=2))
    evening.do(SeatAtRandom())
    assert evening.where("P5") == (0, 0)
    assert sorted(evening.where(f"P{number}") for number in range(1, 5)) == [(1, 0), (1, 1), (1, 2), (1, 3)]
    evening.do(StartAll(in_ms=0))
    evening.play("P1", "P2", "P3", "P4")
    evening.do(SeatAtRandom())


def test_tables_cannot_go_back_to_one_deal_while_somebody_sits_where_they_would_play_it_again() -> None:
    evening = ClubEvening(SAME_DEAL, tables=2, people=5)
    evening.ready("P5")
    evening.do(CloseTable(table=2))
    evening.do(PlayBy(settings=SAME_DEAL.model_copy(update={"same_deal": False})))
    evening.do(Unseat(person=evening.key("P1")))
    evening.do(SeatPerson(person=evening.key("P5"), table=1, chair=0))
    told = evening.refused(PlayBy(settings=SAME_DEAL))
    assert told == "P5 has seen the deal of heat 1, which Table 1 has yet to finish."
    assert not evening.shown().settings.same_deal
    evening.do(Unseat(person=evening.key("P5")))
    evening.do(PlayBy(settings=SAME_DEAL))
    assert evening.shown().settings.same_deal


def test_a_table_without_people_holds_nobody_up_and_joins_in_with_the_next_heat() -> None:
    evening = ClubEvening(SAME_DEAL, tables=2, people=4)
    evening.do(StartAll(in_ms=0))
    evening.play("P1", "P2", "P3", "P4")
    assert evening.view("P1").results[0].opened
    assert evening.come("Late") == (2, 0)
    evening.do(StartAll(in_ms=0))
    assert evening.view("Late").heat.dealt == evening.view("P1").heat.dealt  # type: ignore[union-attr]
    assert evening.view("Late").heat_number == 2


def test_settings_of_a_common_deal_change_between_heats_only() -> None:
    evening = ClubEvening(SAME_DEAL, tables=2, people=8)
    evening.do(StartAll(in_ms=0))
    assert evening.refused(PlayBy(settings=SAME_DEAL)).startswith("All tables share a deal, and a heat is running")
