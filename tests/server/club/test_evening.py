"""A whole evening over real sockets in virtual time: six tables, three heats, twenty people who are moved, cut and
come back; its standings are those that were computed by hand. And what else a club promises over a line.
"""

import asyncio
from fractions import Fraction
from itertools import count
from pathlib import Path

from server.club.telling import MOST_WITH_STEPS
from shared.measures.standings import standings
from shared.rules.intents import Lift, Ready, ShowRack
from shared.wire.desk_intents import (
    MOST_TABLES,
    CloseTable,
    HoldClocks,
    LetTeacherSee,
    OpenTable,
    RunClocks,
    SeatPerson,
    StartAll,
    Unseat,
)
from shared.wire.messages import NO_CHAIR, TO_SERVER, VIEW_LIMIT, Command, Done, Refused, Welcome
from tests.server.club.house import answer_after, idle, key_of, open_club
from tests.server.players import Player, answer_to, owes


async def test_an_evening_of_six_tables_three_heats_and_twenty_people() -> None:
    async with open_club(tables=6) as house:
        desk = await house.desk()
        names = [f"G{number:02}" for number in range(1, 21)]
        delay_ms = {name: 1_000 + 100 * number for number, name in enumerate(names, start=1)}
        guests = {name: house.guest(name) for name in names}
        for guest in guests.values():
            await guest.come()
        done = False
        # The twentieth sits there and answers nothing all evening.
        acting = [asyncio.create_task(answer_after(guests[name], delay_ms[name], lambda: done)) for name in names[:19]]

        async def start() -> None:
            assert isinstance(await desk.order(StartAll(in_ms=5_000)), Done)
            await desk.see(lambda shown: not idle(shown))

        # Five full tables; table 6 is empty, holds nobody up, and gets people later.
        await start()
        await desk.see(idle)

        # Between the heats: one moves to the empty table, two swap, and one is cut and comes back.
        shown = await desk.see(idle)
        for name, table, chair in (("G01", 6, 2), ("G02", 3, 1)):
            assert isinstance(await desk.order(SeatPerson(person=key_of(shown, name), table=table, chair=chair)), Done)
        assert [one for one in guests["G01"].heard if isinstance(one, Welcome)][-1].chair == 2
        await guests["G03"].cut()
        await start()
        await guests["G03"].come()
        # During the heat: one is cut and comes back in time, one is sent to wait and loses this heat to a bot.
        await guests["G04"].cut()
        await guests["G04"].come()
        shown = await desk.see(lambda shown: True)
        assert isinstance(await desk.order(Unseat(person=key_of(shown, "G05"))), Done)
        await desk.see(idle)
        assert isinstance(await desk.order(SeatPerson(person=key_of(shown, "G05"), table=6, chair=0)), Done)
        await start()
        await desk.see(idle)
        await desk.see(lambda shown: all(table.phase == "over" for table in shown.tables))
        async with desk._news:
            await desk._news.wait_for(lambda: desk.evening and len(desk.evening.played) == 5 * 4 * 3 + 2 * 4)
        assert desk.evening
        told = standings(desk.evening.played)
        done = True
        for guest in guests.values():
            await guest._tell()
        await asyncio.gather(*acting)

        # By hand: who answers each of 3 steps after d ms uses 3d of 52,000 ms; the same part of it in every heat.
        by_name = {line.name: line for line in told.speed}
        assert len(by_name) == 20
        for number, name in enumerate(names[:19], start=1):
            assert by_name[name].value == Fraction(3 * (1_000 + 100 * number), 52_000), name
            assert by_name[name].heats == (2 if name == "G05" else 3), name
        assert (by_name["G01"].amount, by_name["G01"].of) == (9_900, 156_000)
        assert (by_name["G20"].amount, by_name["G20"].of) == (156_000, 156_000)
        assert [line.name for line in told.speed] == names
        assert [line.place for line in told.speed] == list(range(1, 21))
        guest_of = {guest.name: guest for guest in told.guests}
        assert (guest_of["G05"].heats, guest_of["G05"].with_bot, guest_of["G05"].in_time) == (3, 1, 2)
        assert (guest_of["G20"].timeouts, guest_of["G20"].in_time) == (9, 0)
        # Everybody is told the same standing, each with their own line marked.
        view = await guests["G07"].until(lambda view: view.club is not None and len(view.club.speed) == 20)
        assert view.club
        assert [place.name for place in view.club.speed] == names
        assert [place.name for place in view.club.speed if place.you] == ["G07"]


async def test_a_person_without_a_chair_waits_and_is_told_when_they_have_one() -> None:
    async with open_club(tables=1) as house:
        desk = await house.desk()
        people = [house.guest(f"P{number}") for number in range(5)]
        for person in people[:4]:
            await person.come()
        await people[4].say_hello()
        shown = await people[4].see(lambda shown: bool(shown.waiting))
        assert (shown.role, [one.name for one in shown.waiting]) == ("waiting", ["P4"])
        answer = await asyncio.wait_for(_ask_without_view(people[4]), 5)
        assert answer.text == "You have no chair yet."
        assert isinstance(await desk.order(OpenTable()), Done)
        shown = await desk.see(lambda shown: len(shown.tables) == 2)
        assert isinstance(await desk.order(SeatPerson(person=key_of(shown, "P4"), table=2, chair=3)), Done)
        view = await people[4].until(lambda view: True)
        assert (view.table, view.you) == ("Table 2", 3)
        welcomes = [one for one in people[4].heard if isinstance(one, Welcome)]
        assert [one.chair for one in welcomes] == [NO_CHAIR, 3]
        assert len({one.token for one in welcomes}) == 1
        assert isinstance(await people[4].ask(Ready()), Done)
        assert isinstance(await desk.order(Unseat(person=key_of(shown, "P4"))), Done)
        await people[4].see(lambda shown: [one.name for one in shown.waiting] == ["P4"])
        await people[4].cut()
        people[4].view = None
        await people[4].say_hello()
        shown = await people[4].see(lambda shown: True)
        assert [one.connected for one in shown.waiting] == [True]


async def _ask_without_view(player: Player) -> Refused:
    before = len(player.heard)
    number = next(player.ids)
    await player.line.send(TO_SERVER.pack(Command(id=number, heat=0, intent=Ready())))
    answer = await player._answer(number, before)
    assert isinstance(answer, Refused)
    return answer


async def test_somebody_moved_while_the_line_is_down_comes_back_to_the_new_chair() -> None:
    async with open_club(tables=2) as house:
        desk = await house.desk()
        ann = house.guest("Ann")
        await ann.come()
        await ann.cut()
        shown = await desk.see(lambda shown: not shown.tables[0].chairs[0].connected)
        assert isinstance(await desk.order(SeatPerson(person=key_of(shown, "Ann"), table=2, chair=3)), Done)
        assert (await ann.come()).chair == 3
        assert ann.view
        assert ann.view.table == "Table 2"


async def test_a_closed_table_sends_its_people_to_wait_and_its_seat_tokens_lead_there_too() -> None:
    async with open_club(tables=1) as house:
        desk, ann = await house.desk(), house.guest("Ann")
        await ann.come()
        assert isinstance(await desk.order(CloseTable(table=1)), Done)
        await ann.see(lambda shown: [one.name for one in shown.waiting] == ["Ann"])
        await ann.cut()
        await ann.say_hello()
        await ann.see(lambda shown: [one.name for one in shown.waiting] == ["Ann"])


async def test_a_teacher_comes_in_by_the_code_that_the_desk_shows() -> None:
    async with open_club(tables=1) as house:
        desk, ann = await house.desk(), house.guest("Ann")
        await ann.come()
        await desk.order(LetTeacherSee(on=True))
        teacher = Player(house.port, "T", house.record.teacher_code, "teacher")
        await teacher.say_hello()
        await ann.ask(ShowRack(on=True))
        view = await ann.until(lambda view: view.chairs[0].shows)
        assert view.club
        await desk.order(StartAll(in_ms=0))
        shown = await teacher.see(lambda shown: bool(shown.tables[0].chairs[0].rack))
        assert ann.view
        assert ann.view.heat
        assert shown.tables[0].chairs[0].rack == ann.view.heat.rack


async def test_a_killed_club_goes_on_where_it_was(tmp_path: Path) -> None:
    path = tmp_path / "club"
    async with open_club(tables=2, path=path) as house:
        desk = await house.desk()
        people = [house.guest(f"P{number}") for number in range(9)]
        for person in people[:8]:
            await person.come()
        await people[8].say_hello()
        await people[8].see(lambda shown: True)
        await desk.order(StartAll(in_ms=0))
        for person in people[:4]:
            await person.until(owes)
            await person.ask(answer_to(person.view))  # type: ignore[arg-type]
        shown = await desk.see(lambda shown: shown.tables[0].step == "first across")
        key = key_of(shown, "P8")
    async with open_club(path=path) as house:
        again = await house.desk()
        shown = await again.see(lambda shown: True)
        assert [(table.phase, table.paused, table.step) for table in shown.tables] == [
            ("heat", True, "first across"),
            ("heat", True, "first right"),
        ]
        assert key_of(shown, "P8") == key
        for person in people[:8]:
            person.port = house.port
            await person.come()
        assert isinstance(await again.order(RunClocks()), Done)
        done = False
        acting = [asyncio.create_task(answer_after(person, 500, lambda: done)) for person in people[:8]]
        await again.see(idle)
        done = True
        for person in people:
            await person._tell()
        await asyncio.gather(*acting)
        async with again._news:
            await again._news.wait_for(lambda: again.evening and len(again.evening.played) == 8)
    async with open_club(path=path) as house:
        third = await house.desk()
        async with third._news:
            await third._news.wait_for(lambda: third.evening and len(third.evening.played) == 8)


async def test_a_desk_that_repeats_itself_after_a_cut_is_answered_and_nothing_is_done_twice() -> None:
    async with open_club(tables=1) as house:
        desk = await house.desk()
        assert isinstance(await desk.order(OpenTable()), Done)
        await desk.cut()
        await desk.say_hello()
        await desk.see(lambda shown: len(shown.tables) == 2)
        desk.ids = count(1)
        answer = await desk.order(OpenTable())
        assert isinstance(answer, Refused)
        assert answer.code == "repeated"


async def test_all_tables_stop_and_the_desks_picture_is_never_older_than_two_seconds() -> None:
    async with open_club(tables=1) as house:
        desk, ann = await house.desk(), house.guest("Ann")
        await ann.come()
        await desk.order(StartAll(in_ms=0))
        shown = await desk.see(lambda shown: shown.tables[0].phase == "heat")
        assert isinstance(await desk.order(HoldClocks()), Done)
        shown = await desk.see(lambda shown: shown.tables[0].paused)
        left_ms = shown.tables[0].chairs[0].left_ms
        await asyncio.sleep(30)
        assert desk.shown
        assert desk.shown.revision > shown.revision
        assert desk.shown.tables[0].chairs[0].left_ms == left_ms
        assert isinstance(await ann.ask(Lift(step="first right", tiles=())), Refused | Done)


async def test_the_results_of_the_longest_evening_fit_into_a_frame() -> None:
    async with open_club(tables=1) as house:
        ann = house.guest("Ann")
        await ann.come()
        desk = await house.desk()
        await desk.order(StartAll(in_ms=0))
        await answer_after(ann, 100, lambda: ann.view is not None and ann.view.phase == "between")
        club = house.club.club
        (whole,) = club.results._played.values()
        club.results._played = {(table, heat): whole for table in range(1, MOST_TABLES + 1) for heat in range(1, 13)}
        assert len(house.club.telling.results()) < VIEW_LIMIT
        club.results._played = {(1, heat): whole for heat in range(1, MOST_WITH_STEPS // 4 + 1)}
        assert len(house.club.telling.results()) < VIEW_LIMIT


async def test_who_comes_first_to_a_table_that_was_there_from_the_beginning_reads_where_they_are() -> None:
    async with open_club() as house:
        await house.club.open_table("By the window")
        ann = house.guest("Ann")
        await ann.come()
        assert ann.view
        assert ann.view.club
        assert (ann.view.club.evening, ann.view.club.number) == ("Boathouse", 1)
