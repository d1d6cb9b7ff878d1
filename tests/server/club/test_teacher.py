"""A teacher on an evening: who lets one in, what one sees and when no longer, and that one never plays what one saw."""

import asyncio
from pathlib import Path

import pytest

from server.club.telling import Telling
from server.table.outbox import Outbox
from shared.rules.intents import ShowRack
from shared.rules.settings import Settings
from shared.wire.club_views import ClubView
from shared.wire.desk_intents import EndEvening, GiveTime, LetTeacherSee, StartAll
from shared.wire.messages import TO_CLIENT, Close, Done
from tests.server.club.house import THREE_STEPS, ClubHouse, open_club
from tests.server.players import Player

SAME = THREE_STEPS.model_copy(update={"same_deal": True})


def teacher_of(house: ClubHouse, name: str = "Tess") -> Player:
    return Player(house.port, name, house.record.teacher_code, "teacher")


def racks(shown: ClubView) -> list[tuple[int, int]]:
    return [(table.number, at) for table in shown.tables for at, chair in enumerate(table.chairs) if chair.rack]


def shown_in(player: Player) -> list[ClubView]:
    return [message for message in player.heard if isinstance(message, ClubView)]


@pytest.mark.parametrize("settings", [THREE_STEPS, SAME], ids=["deals differ", "one deal"])
async def test_a_teacher_sees_live_the_racks_of_those_who_agreed_at_every_table_and_nothing_else(
    settings: Settings,
) -> None:
    async with open_club(settings, tables=2) as house:
        desk, people = await house.desk(), [house.guest(f"P{number}") for number in range(5)]
        for person in people:
            await person.come()
        await desk.order(LetTeacherSee(on=True))
        await people[1].ask(ShowRack(on=True))
        await people[4].ask(ShowRack(on=True))
        teacher = teacher_of(house)
        await teacher.say_hello()
        await desk.order(StartAll(in_ms=0))
        shown = await teacher.see(lambda shown: len(racks(shown)) == 2)
        assert racks(shown) == [(1, 1), (2, 0)]
        for person, (table, chair) in ((people[1], (1, 1)), (people[4], (2, 0))):
            assert person.view
            assert person.view.heat
            assert shown.tables[table - 1].chairs[chair].rack == person.view.heat.rack
        assert shown.desk is None
        assert not any(chair.person for table in shown.tables for chair in table.chairs)
        assert all(set(racks(one)) <= {(1, 1), (2, 0)} for one in shown_in(teacher))


async def test_a_player_sees_that_a_teacher_watches_from_before_the_first_rack_is_shown_until_they_go() -> None:
    async with open_club(tables=1) as house:
        desk, ann, bo = await house.desk(), house.guest("Ann"), house.guest("Bo")
        await ann.come()
        await bo.come()
        await desk.order(LetTeacherSee(on=True))
        await ann.ask(ShowRack(on=True))
        assert not (await ann.until(lambda view: view.chairs[0].shows)).club.watching  # type: ignore[union-attr]
        teacher = teacher_of(house)
        await teacher.say_hello()
        await ann.until(lambda view: view.club is not None and view.club.watching)
        assert bo.view
        assert bo.view.club
        assert not bo.view.club.watching, "their rack is not seen"
        await teacher.cut()
        await ann.until(lambda view: view.club is not None and not view.club.watching)


async def test_a_consent_that_is_withdrawn_counts_before_its_player_is_answered_for_a_picture_that_still_waits(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A teacher does not read: the picture that waits for them holds a rack. It is dropped, and none follows it."""
    waiting: dict[Outbox, bytes | None] = {}
    is_stuck, came = False, asyncio.Event()
    show = Outbox.show

    def held(self: Outbox, view: bytes) -> None:
        if is_stuck and isinstance(told := TO_CLIENT.unpack(view), ClubView) and told.role == "teacher":
            waiting[self] = self._view = view  # as if it were not yet handed over
            came.set()
        else:
            show(self, view)

    monkeypatch.setattr(Outbox, "show", held)
    async with open_club(tables=1) as house:
        desk, ann = await house.desk(), house.guest("Ann")
        await ann.come()
        await desk.order(LetTeacherSee(on=True))
        await ann.ask(ShowRack(on=True))
        teacher = teacher_of(house)
        await teacher.say_hello()
        await desk.order(StartAll(in_ms=0))
        await teacher.see(lambda shown: bool(racks(shown)))
        is_stuck = True
        await desk.order(GiveTime())  # which is shown at once, and the next change only a while later
        await came.wait()
        (line,) = waiting
        assert line._view is not None
        assert racks(TO_CLIENT.unpack(line._view))  # type: ignore[arg-type]
        assert isinstance(await ann.ask(ShowRack(on=False)), Done)
        assert line._view is None or not racks(TO_CLIENT.unpack(line._view))  # type: ignore[arg-type]
        await asyncio.sleep(3)
        assert line._view is not None
        assert not racks(TO_CLIENT.unpack(line._view))  # type: ignore[arg-type]


async def test_without_the_dropping_the_test_before_would_see_a_rack(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Telling, "table_changed", lambda self: setattr(self, "changed", True))
    with pytest.raises(AssertionError):
        await test_a_consent_that_is_withdrawn_counts_before_its_player_is_answered_for_a_picture_that_still_waits(
            monkeypatch
        )


@pytest.mark.parametrize("on", [True, False], ids=["a new code", "no teacher"])
async def test_who_came_by_an_old_code_is_sent_away(on: bool) -> None:
    async with open_club(tables=1) as house:
        desk = await house.desk()
        await desk.order(LetTeacherSee(on=True))
        teacher = teacher_of(house)
        await teacher.say_hello()
        await teacher.see(lambda shown: True)
        await desk.order(LetTeacherSee(on=on))
        code, _ = await teacher.end()
        assert code == Close.SENT_AWAY
        await teacher.say_hello()
        assert (await teacher.end())[0] == Close.WRONG_CODE


async def test_who_sits_at_a_table_is_no_teacher_by_the_same_name_or_with_the_same_token() -> None:
    async with open_club(tables=1) as house:
        desk, ann = await house.desk(), house.guest("Ann")
        token = (await ann.come()).token
        await desk.order(LetTeacherSee(on=True))
        for name, own in (("ANN", None), ("Other", token)):
            teacher = teacher_of(house, name)
            teacher.token = own
            await teacher.say_hello()
            code, text = await teacher.end()
            assert code == Close.TABLE_FULL
            assert text.startswith("Ann sits at a table")
            assert shown_in(teacher) == []


async def test_who_was_a_teacher_waits_until_the_heat_that_ran_is_through_after_a_kill_too(tmp_path: Path) -> None:
    async with open_club(SAME, tables=2, path=tmp_path / "club") as house:
        desk, ann = await house.desk(), house.guest("Ann")
        await ann.come()
        await desk.order(LetTeacherSee(on=True))
        teacher = teacher_of(house)
        await teacher.say_hello()
        await teacher.see(lambda shown: True)
        await desk.order(StartAll(in_ms=0))
        await ann.until(lambda view: view.phase == "heat")
    async with open_club(SAME, tables=0, path=tmp_path / "club") as house:
        tess = house.guest("Tess")
        await tess.say_hello()
        shown = await tess.see(lambda shown: True)
        assert [one.name for one in shown.waiting] == ["Tess"]


async def test_teachers_who_come_again_and_again_wait_and_no_more_than_eight_are_here() -> None:
    async with open_club(tables=1) as house:
        desk = await house.desk()
        await desk.order(LetTeacherSee(on=True))
        here = [teacher_of(house, f"T{number}") for number in range(10)]
        for teacher in here[:8]:
            await teacher.say_hello()
            await teacher.see(lambda shown: True)
        await here[8].say_hello()
        assert (await here[8].end())[0] == Close.TABLE_FULL
        await here[0].cut()
        await here[9].say_hello()
        assert (await here[9].end())[0] == Close.TOO_MANY
        await asyncio.sleep(1.5)
        await here[9].say_hello()
        await here[9].see(lambda shown: True)


async def test_when_the_evening_is_over_and_its_host_closes_everybody_is_told_that_and_comes_back_no_more() -> None:
    async with open_club(tables=1) as house:
        desk, ann = await house.desk(), house.guest("Ann")
        await ann.come()
        await desk.order(EndEvening())
        await ann.until(lambda view: view.club is not None and view.club.over)
    assert (await ann.end()) == (Close.TABLE_CLOSED, "The evening is over.")
    assert (await desk.end()) == (Close.TABLE_CLOSED, "The evening is over.")


async def test_an_evening_that_is_not_over_says_that_it_may_open_again() -> None:
    async with open_club(tables=1) as house:
        ann = house.guest("Ann")
        await ann.come()
    assert (await ann.end())[0] == 1001
