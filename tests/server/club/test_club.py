"""An evening as sentences: seating, moving, starting, who is waited for, and standings."""

from shared.measures.standings import standings
from shared.rules.intents import Leave, NotReady, Pause, Start, TakeSeat
from shared.wire.desk_intents import (
    CallOff,
    CloseTable,
    EndEvening,
    GiveTime,
    HoldClocks,
    OpenTable,
    PlayBy,
    RankFrom,
    RenameTable,
    RunClocks,
    SeatAtRandom,
    SeatBots,
    SeatPerson,
    SendHome,
    StartAll,
    Unseat,
    WaitFor,
)
from shared.wire.messages import DeskCommand, Done, Refused
from tests.clubs import QUICK, SAME_DEAL, ClubEvening

# ---- seating


def test_people_come_to_the_first_free_chair_and_then_wait() -> None:
    evening = ClubEvening(tables=2, people=8)
    assert [evening.where(f"P{number}") for number in (1, 4, 5, 8)] == [(1, 0), (1, 3), (2, 0), (2, 3)]
    assert evening.come("Late") == (0, 0)
    assert [one.name for one in evening.shown("watcher").waiting] == ["Late"]


def test_a_bots_chair_is_free_but_an_empty_one_comes_first() -> None:
    evening = ClubEvening(tables=2, people=1)
    evening.do(SeatBots(table=1))
    assert evening.come("Next") == (2, 0)
    evening.do(SeatBots())
    assert evening.come("Third") == (1, 1)


def test_of_two_birds_chairs_the_one_at_a_table_that_plays_no_heat_comes_first() -> None:
    evening = ClubEvening(tables=2, people=1)
    evening.do(SeatBots())
    evening.do(StartAll(in_ms=0))
    assert [table.phase for table in evening.shown().tables] == ["heat", "seating"]
    assert evening.come("Next") == (2, 0)


def test_who_is_given_another_chair_has_yet_to_say_that_they_are_ready() -> None:
    evening = ClubEvening(tables=2, people=5)
    evening.ready("P1")
    evening.do(SeatPerson(person=evening.key("P1"), table=2, chair=1))
    evening.ready("P5")
    assert [chair.ready for chair in evening.view("P1").chairs] == [True, False, False, False]
    assert evening.view("P1").phase == "seating"
    evening.ready("P1")
    assert evening.view("P1").phase == "heat"


def test_a_person_moves_and_who_sat_there_takes_their_place() -> None:
    evening = ClubEvening(tables=2, people=5)
    evening.do(SeatPerson(person=evening.key("P1"), table=2, chair=3))
    assert evening.where("P1") == (2, 3)
    evening.do(SeatPerson(person=evening.key("P2"), table=2, chair=0))
    assert (evening.where("P2"), evening.where("P5")) == ((2, 0), (1, 1))


def test_from_the_list_of_those_who_wait_and_back() -> None:
    evening = ClubEvening(tables=1, people=5)
    evening.do(SeatPerson(person=evening.key("P5"), table=1, chair=2))
    assert (evening.where("P5"), evening.where("P3")) == ((1, 2), (0, 0))
    evening.do(Unseat(person=evening.key("P1")))
    assert [one.name for one in evening.shown().waiting] == ["P3", "P1"]
    evening.do(SendHome(person=evening.key("P3")))
    assert [one.name for one in evening.shown().waiting] == ["P1"]
    assert evening.refused(Unseat(person=evening.key("P1"))) == "P1 waits already."
    assert evening.refused(Unseat(person="who")) == "This person is not here any more."


def test_lots_fill_the_tables_evenly_and_keep_everybody() -> None:
    evening = ClubEvening(tables=3, people=7)
    evening.do(SeatAtRandom())
    taken = [len(table.people) for table in evening.club.tables.values()]
    assert sorted(taken) == [2, 2, 3]
    assert {place.person.name for place in evening.club.places()} == {f"P{number}" for number in range(1, 8)}


def test_names_stay_apart_at_the_new_table() -> None:
    evening = ClubEvening(tables=2)
    for name in ("Ann", "B", "C", "D"):
        evening.come(name)
    evening.tokens["Ann of 2"] = b"2" * 16
    joined = evening.club.tables[2].join("Ann", b"2" * 16, evening.now_ms)
    assert evening.where("Ann of 2") == (2, 0), joined
    evening.do(SeatPerson(person=evening.key("Ann"), table=2, chair=2))
    assert [chair.name for chair in evening.shown().tables[1].chairs] == ["Ann", "", "Ann 3", ""]


def test_a_table_is_opened_renamed_and_closed_and_its_people_wait() -> None:
    evening = ClubEvening(tables=1, people=2)
    evening.do(OpenTable(name="By the window"))
    evening.do(RenameTable(table=1, name="By the window"))
    assert [table.name for table in evening.shown().tables] == ["By the windo 1", "By the window"]
    evening.do(StartAll(in_ms=0))
    evening.do(CloseTable(table=1))
    assert [table.number for table in evening.shown().tables] == [2]
    assert [one.name for one in evening.shown().waiting] == ["P1", "P2"]
    assert evening.refused(CloseTable(table=1)) == "There is no open table 1."


def test_at_a_table_of_a_club_nobody_but_the_desk_is_host() -> None:
    evening = ClubEvening(tables=1, people=2)
    for intent in (Start(), Pause()):
        answer = evening.say("P1", intent)
        assert isinstance(answer, Refused)
        assert answer.code == "host only"
    assert not evening.view("P1").host


# ---- starting and clocks


def test_all_tables_start_together_when_the_countdown_ends() -> None:
    evening = ClubEvening(tables=3, people=5)
    evening.do(StartAll(in_ms=10_000))
    club = evening.view("P1").club
    assert club is not None
    assert club.starts_in_ms == 10_000
    evening.wait(9_999)
    assert {table.phase for table in evening.shown().tables} == {"seating"}
    evening.wait(1)
    assert [table.phase for table in evening.shown().tables] == ["heat", "heat", "seating"]
    assert evening.refused(StartAll()) == "No table has people and no heat running."


def test_a_table_that_has_not_begun_is_started_while_another_plays() -> None:
    evening = ClubEvening(tables=2, people=4)
    evening.do(StartAll(in_ms=0))
    assert evening.come("Late") == (2, 0)
    evening.do(StartAll(in_ms=0))
    assert [table.phase for table in evening.shown().tables] == ["heat", "heat"]


def test_what_no_table_can_do_is_refused_with_the_first_tables_reason() -> None:
    evening = ClubEvening(tables=2, people=4)
    evening.do(StartAll(in_ms=0))
    evening.do(HoldClocks())
    assert evening.refused(HoldClocks(table=2)) == "No heat is running."
    assert evening.refused(HoldClocks()) == evening.refused(HoldClocks(table=1)) != "No heat is running."


def test_a_countdown_can_be_called_off() -> None:
    evening = ClubEvening(tables=1, people=1)
    evening.do(StartAll(in_ms=10_000))
    evening.do(CallOff())
    evening.wait(20_000)
    assert evening.shown().tables[0].phase == "seating"
    assert evening.refused(CallOff()) == "No countdown is running."


def test_all_are_paused_and_go_on_and_get_more_time() -> None:
    evening = ClubEvening(tables=2, people=8)
    evening.do(StartAll(in_ms=0))
    before = [chair.left_ms for table in evening.shown().tables for chair in table.chairs]
    evening.do(HoldClocks())
    evening.wait(300_000)
    assert all(table.paused for table in evening.shown().tables)
    evening.do(RunClocks())
    evening.do(GiveTime(table=2, by_ms=5_000))
    after = [chair.left_ms for table in evening.shown().tables for chair in table.chairs]
    assert after == [*before[:4], *(left_ms + 5_000 for left_ms in before[4:])]


def test_settings_change_for_all_from_the_next_heat_on() -> None:
    evening = ClubEvening(tables=2, people=8)
    evening.do(StartAll(in_ms=0))
    slower = QUICK.model_copy(update={"level_ms": 240_000})
    evening.do(PlayBy(settings=slower))
    assert {evening.view(name).heat.clock.budget_ms for name in ("P1", "P8")} == {24_000}  # type: ignore[union-attr]
    assert evening.view("P1").settings == slower


def test_the_evening_ends_when_no_heat_is_running() -> None:
    evening = ClubEvening(tables=2, people=2)
    evening.do(StartAll(in_ms=0))
    assert evening.refused(EndEvening()) == "A heat is running at Table 1: wait, or close it."
    evening.play("P1", "P2")
    evening.do(EndEvening())
    assert evening.view("P1").phase == "over"
    assert evening.refused(OpenTable()) == "The evening is over."


def test_a_command_that_comes_twice_is_done_once() -> None:
    evening = ClubEvening(tables=1)
    again = DeskCommand(id=1, intent=OpenTable())
    answer, out = evening.club.command(b"desk", again, evening.now_ms)
    assert isinstance(answer, Refused)
    assert answer.code == "repeated"
    assert not out.tables
    assert len(evening.club.tables) == 1
    evening.do(OpenTable())
    answer, _ = evening.club.command(b"desk", again, evening.now_ms)
    assert isinstance(answer, Refused)
    assert answer.code == "repeated", "nor once it has asked for more since"
    assert len(evening.club.tables) == 2


# ---- moving without losing anything


def test_results_stay_with_the_person_wherever_they_sit() -> None:
    evening = ClubEvening(tables=2, people=8)
    key = evening.key("P1")
    evening.do(StartAll(in_ms=0))
    evening.play(*(f"P{number}" for number in range(1, 9)))
    evening.do(SeatPerson(person=key, table=2, chair=0))
    assert evening.key("P1") == key
    evening.do(StartAll(in_ms=0))
    evening.play(*(f"P{number}" for number in range(1, 9)))
    own = [one for one in evening.club.played() if one.person == key]
    assert [(one.heat, one.table) for one in own] == [(1, "Table 1"), (2, "Table 2")]
    assert not any(one.bot for one in own)


def test_who_moves_during_a_heat_leaves_it_to_a_bot_and_finds_one_in_the_new_seat() -> None:
    evening = ClubEvening(tables=2, people=8)
    evening.do(StartAll(in_ms=0))
    evening.do(SeatPerson(person=evening.key("P1"), table=2, chair=0))
    assert (evening.where("P1"), evening.where("P5")) == ((2, 0), (1, 0))
    for table in evening.club.tables.values():
        assert table.record.chairs[0].stand_in
    answer = evening.say("P5", Leave())
    assert isinstance(answer, Done)
    evening.do(Unseat(person=evening.key("P1")))
    evening.do(SeatPerson(person=evening.key("P1"), table=2, chair=0))
    assert isinstance(evening.say("P1", TakeSeat()), Done)
    evening.play(*(f"P{number}" for number in (1, 2, 3, 4, 6, 7, 8)))
    marked = {(one.table, one.name): one.bot for one in evening.club.played()}
    assert marked["Table 1", "P1"]
    assert not marked["Table 1", "P2"]


def test_who_comes_to_a_running_heat_finds_a_bird_on_their_seat_and_takes_it_when_they_like() -> None:
    evening = ClubEvening(tables=1, people=2)
    evening.do(StartAll(in_ms=0))
    assert evening.come("Late") == (1, 2)
    assert (evening.view("P1").chairs[2].name, evening.view("P1").chairs[2].sitter) == ("Late", "bot")
    assert isinstance(evening.say("Late", TakeSeat()), Done)
    assert evening.view("P1").chairs[2].sitter == "person"


def test_who_is_put_on_a_chair_during_a_heat_plays_from_the_next_one_on() -> None:
    evening = ClubEvening(tables=2, people=5)
    evening.do(StartAll(in_ms=0))
    evening.do(SeatPerson(person=evening.key("P5"), table=1, chair=0))
    evening.play("P2", "P3", "P4", "P1")
    assert [chair.sitter for chair in evening.view("P5").chairs] == ["person"] * 4
    evening.do(StartAll(in_ms=0))
    assert evening.owes("P5")


def test_nobody_is_shown_a_second_rack_of_the_heat_they_play() -> None:
    evening = ClubEvening(tables=1, people=2)
    evening.do(StartAll(in_ms=0))
    told = evening.refused(SeatPerson(person=evening.key("P1"), table=1, chair=3))
    assert told == "P1 was dealt another rack of the heat that runs at Table 1."


# ---- standings


def test_standings_of_the_evening_are_those_of_its_results() -> None:
    evening = ClubEvening(tables=2, people=8)
    names = [f"P{number}" for number in range(1, 9)]
    evening.do(StartAll(in_ms=0))
    evening.play(*names)
    club = evening.view("P3").club
    assert club
    wanted = standings(evening.club.played())
    assert [(place.place, place.name, place.value) for place in club.speed] == [
        (line.place, line.name, round(float(line.value), 6)) for line in wanted.speed
    ]
    assert [place.name for place in club.speed if place.you] == ["P3"]


# ---- who holds others up


def test_a_late_guest_at_a_table_that_has_not_begun_keeps_nobodys_racks_shut() -> None:
    evening = ClubEvening(SAME_DEAL, tables=2, people=4)
    evening.do(StartAll(in_ms=0))
    evening.do(OpenTable())
    assert evening.come("Late") == (2, 0)
    evening.do(SeatPerson(person=evening.key("Late"), table=3, chair=0))
    assert evening.come("Later") == (2, 0)
    evening.play("P1", "P2", "P3", "P4")
    view = evening.view("P1")
    assert view.results[0].opened
    assert {table.record.number for table in evening.club.tables.values()} == {1}
    evening.do(StartAll(in_ms=0))
    racks = [evening.view(name).heat.dealt for name in ("P1", "Late", "Later")]  # type: ignore[union-attr]
    assert racks[0] == racks[1] == racks[2], "and joins in with the next heat"


def test_who_began_late_is_waited_for_once_they_play() -> None:
    evening = ClubEvening(SAME_DEAL, tables=2, people=4)
    evening.do(StartAll(in_ms=0))
    evening.come("Late")
    evening.ready("Late")
    evening.play("P1", "P2", "P3", "P4")
    assert not evening.view("P1").results[0].opened
    evening.play("Late")
    assert evening.view("P1").results[0].opened


def test_the_last_who_is_not_ready_is_waited_for_as_long_as_the_desk_says_and_is_told() -> None:
    evening = ClubEvening(tables=1, people=4)
    evening.do(WaitFor(ms=30_000))
    evening.ready("P1", "P2")
    evening.wait(100_000)
    assert evening.view("P1").phase == "seating", "two who are not ready are no slow guest"
    evening.ready("P3")
    evening.wait(10_000)
    assert evening.view("P4").club.goes_on_in_ms == 20_000  # type: ignore[union-attr]
    evening.wait(19_999)
    assert evening.view("P1").phase == "seating"
    evening.wait(1)
    assert evening.view("P1").phase == "heat"
    assert evening.view("P4").heat.rack  # type: ignore[union-attr]


def test_who_was_ready_and_is_away_is_waited_for_as_long_as_the_desk_says() -> None:
    evening = ClubEvening(tables=1, people=2)
    evening.do(WaitFor(ms=30_000))
    evening.ready("P2")
    evening.lose("P2")
    evening.ready("P1")
    evening.wait(29_999)
    assert evening.view("P1").phase == "seating"
    evening.wait(1)
    assert evening.view("P1").phase == "heat"


def test_who_is_ready_in_time_or_takes_it_back_starts_the_wait_anew() -> None:
    evening = ClubEvening(tables=1, people=4)
    evening.do(WaitFor(ms=30_000))
    evening.ready("P1", "P2", "P3")
    evening.wait(20_000)
    evening.say("P3", NotReady())
    evening.wait(20_000)
    evening.ready("P3")
    evening.wait(29_999)
    assert evening.view("P1").phase == "seating"


def test_whoever_is_away_is_played_for_by_a_bot_after_the_desks_wait_and_takes_the_seat_back() -> None:
    evening = ClubEvening(tables=1, people=2)
    evening.do(WaitFor(ms=10_000))
    evening.do(StartAll(in_ms=0))
    evening.lose("P2")
    evening.wait(9_999)
    assert evening.view("P1").chairs[1].sitter == "person"
    evening.wait(1)
    assert evening.view("P1").chairs[1].sitter == "bot"
    evening.come("P2")
    assert evening.view("P1").chairs[1].sitter == "person"
    evening.do(WaitFor(ms=0))
    evening.lose("P2")
    evening.wait(20_000)
    assert evening.view("P1").chairs[1].sitter == "person", "0 is for ever"


def test_while_clocks_stand_nobody_is_taken_for_away_too_long() -> None:
    evening = ClubEvening(tables=1, people=2)
    evening.do(WaitFor(ms=10_000))
    evening.do(StartAll(in_ms=0))
    evening.do(HoldClocks())
    evening.lose("P2")
    evening.wait(60_000)
    assert evening.view("P1").chairs[1].sitter == "person"


# ---- places in the standings


def test_who_came_for_one_heat_has_no_place_where_the_desk_asks_for_more() -> None:
    evening = ClubEvening(QUICK.model_copy(update={"heats": 3}), tables=2, people=5)
    names = [f"P{number}" for number in range(1, 6)]
    evening.do(StartAll(in_ms=0))
    evening.play(*names)
    places = evening.view("P1").club.speed  # type: ignore[union-attr]
    assert {place.place for place in places} == {1, 2, 3, 4, 5}, "nobody has played more than one"
    evening.do(Unseat(person=evening.key("P5")))
    evening.do(StartAll(in_ms=0))
    evening.play(*names[:4])
    places = evening.view("P1").club.speed  # type: ignore[union-attr]
    assert [(place.name, place.place) for place in places if not place.place] == [("P5", 0)]
    assert places[-1].name == "P5"
    evening.do(RankFrom(heats=1))
    assert all(place.place for place in evening.view("P1").club.speed)  # type: ignore[union-attr]
    evening.do(RankFrom(heats=0))
    assert evening.shown().least == 2, "a set's heats less one"


def test_one_heat_is_not_enough_in_a_set_of_two() -> None:
    evening = ClubEvening(tables=2, people=5)
    evening.do(StartAll(in_ms=0))
    evening.play(*(f"P{number}" for number in range(1, 6)))
    evening.come("Late")
    evening.do(StartAll(in_ms=0))
    evening.play("P5", "Late")
    evening.play("P1", "P2", "P3", "P4")
    places = evening.view("P1").club.speed  # type: ignore[union-attr]
    assert [place.name for place in places if not place.place] == ["Late"]
    assert places[-1].name == "Late"


def test_a_newcomer_gets_no_name_of_somebody_who_has_played_and_gone_and_who_returns_keeps_theirs() -> None:
    evening = ClubEvening(tables=1, people=2)
    evening.do(StartAll(in_ms=0))
    evening.play("P1", "P2")
    assert evening.club.own_name("P1", evening.key("P1")) == "P1 2", "P1 is here"
    key = evening.key("P1")
    assert isinstance(evening.say("P1", Leave()), Done)
    assert evening.club.own_name("P1", "somebody else") == "P1 2"
    assert evening.club.own_name("p1", key) == "p1"


# ---- the end


def test_at_the_end_everybody_is_told_so_and_has_the_result() -> None:
    evening = ClubEvening(tables=1, people=5)
    evening.do(StartAll(in_ms=0))
    evening.play("P1", "P2", "P3", "P4")
    assert not evening.view("P1").club.over  # type: ignore[union-attr]
    evening.do(EndEvening())
    club = evening.view("P1").club
    assert club
    assert club.over
    assert len(club.speed) == 4
    assert evening.shown("waiting").over
    assert [line.name for line in evening.club.standings.speed] == [place.name for place in club.speed]


def test_a_night_with_five_who_come_late_or_leave_early_needs_nothing_of_its_host_but_the_starts() -> None:
    """Six tables of one deal and twenty people: two come after the first heat has begun, one after it, one goes home
    in the second heat, one loses the line for good in it. Every heat is told to all, and nobody is waited for."""
    evening = ClubEvening(SAME_DEAL.model_copy(update={"heats": 3}), tables=6, people=20)
    people = [f"P{number}" for number in range(1, 21)]
    evening.do(StartAll(in_ms=0))
    assert evening.come("Late")[0] == 6
    assert evening.come("Later")[0] == 6
    evening.play(*people, pause_ms=20)
    assert all(evening.view(name).results[0].opened for name in people)
    assert evening.come("Last")[0] == 6
    people += ["Late", "Later", "Last"]
    evening.do(StartAll(in_ms=0))
    evening.say("P3", Leave())
    evening.lose("P7")
    people = [name for name in people if name not in ("P3", "P7")]
    evening.play(*people, pause_ms=20)
    evening.wait(100_000)
    assert all(evening.view(name).results[-1].opened for name in people)
    evening.do(StartAll(in_ms=0))
    evening.play(*people, pause_ms=20)
    evening.wait(200_000)
    assert all(evening.view(name).results[-1].opened for name in people)
    assert evening.club.record.closed_round == 3
    evening.do(EndEvening())
    places = {place.name: place.place for place in evening.view("P1").club.speed}  # type: ignore[union-attr]
    assert {name for name, place in places.items() if not place} == {"P3", "P7"}
    assert {evening.view(name).table for name in ("Late", "Later", "Last")} == {"Table 6"}
    assert len(places) == 23
