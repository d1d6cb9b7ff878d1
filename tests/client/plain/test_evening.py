"""An evening in plain lines: where one sits, what begins, a teacher, the standings and the end."""

from client.connection.link import Lost
from client.plain.evening import TEACHER_SCREEN, evening_changes, standings_lines, waiting_lines
from client.plain.table import PlainTable
from shared.rules.intents import ShowRack, TakeSeat
from shared.wire.club_views import Ranking, all_places
from shared.wire.desk_intents import EndEvening, LetTeacherSee, RenameTable, StartAll, Unseat, WaitFor
from shared.wire.messages import Done
from tests.clubs import QUICK, ClubEvening


def joined(evening: ClubEvening, name: str) -> tuple[PlainTable, list[str]]:
    table = PlainTable(bytes)
    return table, table.hear(evening.view(name), evening.now_ms).lines


def test_a_guest_reads_which_evening_table_and_chair_and_after_a_move_the_new_one() -> None:
    evening = ClubEvening(tables=2, people=5)
    evening.do(RenameTable(table=2, name="By the window"))
    table, lines = joined(evening, "P5")
    assert "You are at Boathouse, By the window (table 2), chair 1." in lines
    assert "You are at Boathouse, By the window (table 2), chair 1." in table.read("table", 0).lines
    assert not any("You are at" in line for line in table.hear(evening.view("P5"), evening.now_ms).lines)


def test_what_begins_is_said_once() -> None:
    evening = ClubEvening(tables=1, people=4)
    table, _ = joined(evening, "P1")
    evening.do(StartAll())
    assert "All tables start in 10 s." in table.hear(evening.view("P1"), evening.now_ms).lines
    assert table.hear(evening.view("P1"), evening.now_ms).lines == []


def test_who_is_waited_for_reads_for_how_long() -> None:
    evening = ClubEvening(tables=1, people=4)
    evening.do(WaitFor(ms=30_000))
    table, _ = joined(evening, "P4")
    evening.ready("P1", "P2", "P3")
    assert "The heat begins in 30 s, even if you are not ready." in table.hear(evening.view("P4"), evening.now_ms).lines


def test_a_teacher_is_let_see_and_stopped_by_words_in_a_heat_too_and_is_named_only_while_watching() -> None:
    evening = ClubEvening(tables=1, people=2)
    table, _ = joined(evening, "P1")
    evening.do(LetTeacherSee(on=True))
    lines = table.hear(evening.view("P1"), evening.now_ms).lines
    assert any(line.startswith("A teacher may watch: write teacher yes") for line in lines)
    evening.do(StartAll(in_ms=0))
    table.hear(evening.view("P1"), evening.now_ms)
    assert table.read("teacher yes", 0).intents == [ShowRack(on=True)]
    assert table.read("teacher no", 0).intents == [ShowRack(on=False)]
    evening.say("P1", ShowRack(on=True))
    assert table.hear(evening.view("P1"), evening.now_ms).lines == []
    evening.take(evening.club.teachers_are({b"t": "T"}))
    assert table.hear(evening.view("P1"), evening.now_ms).lines == [
        "teacher: watching. They see your rack; teacher no hides it."
    ]
    evening.take(evening.club.teachers_are({}))
    assert table.hear(evening.view("P1"), evening.now_ms).lines == ["The teacher has gone."]


def test_at_the_end_the_result_is_read_and_a_line_that_breaks_then_is_the_end() -> None:
    evening = ClubEvening(QUICK, tables=2, people=5)
    table, _ = joined(evening, "P5")
    evening.do(StartAll(in_ms=0))
    evening.play("P1", "P2", "P3", "P4", "P5", pause_ms=500)
    assert not table.is_over
    evening.do(EndEvening())
    lines = table.hear(evening.view("P5"), evening.now_ms).lines
    assert "The evening is over. Thank you for playing." in lines
    told = next(line for line in lines if line.startswith("Time used, less is better: 1 "))
    assert "you " in told
    assert table.is_over
    assert table.hear(Lost("gone", 100), 0).lines == ["The evening is over."]
    assert table.ended == "The evening is over."


def test_after_a_set_a_guest_waits_for_the_desk_and_no_host() -> None:
    evening = ClubEvening(QUICK.model_copy(update={"heats": 1}), tables=1, people=2)
    evening.do(StartAll(in_ms=0))
    table, _ = joined(evening, "P1")
    evening.play("P1", "P2")
    lines = table.hear(evening.view("P1"), evening.now_ms).lines
    assert "The set is over. The desk may begin a new one; write quit to leave." in lines
    assert "host" not in " ".join(lines)


def test_who_comes_to_a_running_heat_reads_that_a_bot_plays_and_what_to_write_and_is_asked_once_they_play() -> None:
    evening = ClubEvening(QUICK, tables=1, people=2)
    evening.do(StartAll(in_ms=0))
    evening.come("Kim")
    kim, lines = joined(evening, "Kim")
    assert "First right: a bot plays in your seat. Write take to play yourself." in lines
    assert not any(line.startswith("First right: pass") for line in lines)
    assert isinstance(evening.say("Kim", TakeSeat()), Done)
    lines = kim.hear(evening.view("Kim"), evening.now_ms).lines
    assert "You play now." in lines
    assert [line.partition(":")[0] for line in lines[-2:]] == ["First right", "Rack"]


def test_while_the_coach_looks_the_standings_say_so() -> None:
    evening = ClubEvening(QUICK, tables=1, people=2)
    evening.has_coach = True
    table, _ = joined(evening, "P1")
    evening.do(StartAll(in_ms=0))
    evening.play("P1", "P2")
    assert table.hear(evening.view("P1"), evening.now_ms).lines[-1] == "The coach looks at 1 of 2."


def test_who_waits_reads_so_once_and_the_result_at_the_end() -> None:
    evening = ClubEvening(QUICK, tables=1, people=4)
    evening.do(Unseat(person=evening.key("P4")))
    table = PlainTable(bytes)
    first = table.hear(evening.shown("waiting"), 0).lines
    assert first == ["You wait for a chair at Boathouse; the desk will seat you, and you will read here where."]
    assert table.hear(evening.shown("waiting"), 0).lines == []
    evening.do(StartAll(in_ms=0))
    evening.play("P1", "P2", "P3", pause_ms=500)
    evening.do(EndEvening())
    assert table.hear(evening.shown("waiting"), 0).lines == ["Boathouse is over."]
    ranking = Ranking.model_validate(all_places(evening.club.standings, ""))
    assert table.hear(ranking, 0).lines == standings_lines(ranking, most=10) != []


def test_a_person_below_the_line_is_said_to_be_there_and_how_many_more_is_true() -> None:
    evening = ClubEvening(QUICK.model_copy(update={"heats": 3}), tables=2, people=5)
    for people in (5, 4):
        evening.do(StartAll(in_ms=0))
        evening.play(*(f"P{number}" for number in range(1, people + 1)), pause_ms=500)
        if people == 5:
            evening.do(Unseat(person=evening.key("P5")))
    assert evening_changes(None, evening.view("P1"))
    lines = standings_lines(Ranking.model_validate(all_places(evening.club.standings, evening.key("P5"))))
    assert lines[0].startswith("Time used, less is better: 1 ")
    assert "too few heats for a place: you" in lines[0]
    assert lines[0].endswith(", and 1 more.")


def test_a_teacher_is_sent_to_the_full_screen() -> None:
    assert "full screen" in TEACHER_SCREEN
    evening = ClubEvening(tables=1)
    assert waiting_lines(None, evening.shown("teacher")) == []
