"""Coming in by a code: to a chair, as a teacher, at a far desk, or for the wall; each over a real port."""

import asyncio
from pathlib import Path

import pytest

from client.connection.join import open_beside, open_join
from client.connection.link import Connected, Ended, Heard, Lost
from client.connection.opened import Opened
from shared.codes import teachers_code
from shared.rules.intents import ShowRack
from shared.wire.club_views import ClubView
from shared.wire.desk_intents import LetBack, LetTeacherSee, StartAll
from shared.wire.views import View
from tests.server.club.house import open_club


@pytest.fixture(autouse=True)
def _own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("HOME", "XDG_DATA_HOME", "XDG_STATE_HOME"):
        monkeypatch.setenv(name, str(tmp_path))


async def first(opened: Opened, wanted: type[View] | type[ClubView]) -> Heard:
    """Return the first view of a kind that is heard, or how the line ends."""
    heard: list[Heard] = []
    came = asyncio.Event()

    def hear(message: Heard) -> None:
        heard.append(message)
        if isinstance(message, wanted | Ended):
            came.set()

    running = asyncio.create_task(opened.line.run(hear))
    await came.wait()
    opened.line.close()
    await running
    assert isinstance(heard[0], Connected | Ended)
    return heard[-1]


async def test_who_knocks_again_while_the_host_is_asked_is_the_machine_that_the_host_lets_in() -> None:
    async with open_club(tables=1) as house:
        desk, ann = await house.desk(), house.guest("Ann")
        await ann.come()
        await ann.cut()
        at = f"127.0.0.1:{house.port}"
        async with open_join(at, "Ann", house.record.code) as opened:
            lost: asyncio.Queue[Heard] = asyncio.Queue()
            running = asyncio.create_task(opened.line.run(lost.put_nowait))
            assert isinstance(await lost.get(), Lost)
            opened.line.close()
            await running
        shown = await desk.see(lambda shown: shown.tables[0].chairs[0].asks)
        await desk.order(LetBack(person=shown.tables[0].chairs[0].person))
        async with open_join(at, "Ann", house.record.code) as opened:
            view = await first(opened, View)
        assert isinstance(view, View)
        assert [chair.name for chair in view.chairs][:2] == ["Ann", ""]


async def test_join_with_the_teachers_code_leads_to_the_racks_of_those_who_agreed() -> None:
    async with open_club(tables=1) as house:
        desk, ann = await house.desk(), house.guest("Ann")
        await ann.come()
        await desk.order(LetTeacherSee(on=True))
        await ann.ask(ShowRack(on=True))
        await desk.order(StartAll(in_ms=0))
        at, code = f"127.0.0.1:{house.port}", house.record.teacher_code
        async with open_join(at, "Tess", f"teacher-{code}") as opened:
            shown = await first(opened, ClubView)
        assert isinstance(shown, ClubView)
        assert shown.role == "teacher"
        assert ann.view
        assert ann.view.heat
        assert shown.tables[0].chairs[0].rack == ann.view.heat.rack
        async with open_join(at, "Tess", code) as opened:
            ended = await first(opened, ClubView)
        assert isinstance(ended, Ended), "without the word it is a wrong code of the evening"


async def test_the_walls_screen_comes_in_by_the_guests_code_and_is_told_no_other() -> None:
    async with open_club(tables=1) as house:
        async with open_beside(f"127.0.0.1:{house.port}", house.record.code, "watcher") as opened:
            assert (opened.at, opened.code) == (f"127.0.0.1:{house.port}", house.record.code)
            shown = await first(opened, ClubView)
        assert isinstance(shown, ClubView)
        assert shown.role == "watcher"
        assert shown.desk is None


async def test_a_second_machine_takes_the_desk_over_by_the_code_that_the_first_shows() -> None:
    async with open_club(tables=1) as house:
        desk = await house.desk()
        assert desk.shown
        assert desk.shown.desk
        async with open_beside(f"127.0.0.1:{house.port}", desk.shown.desk.desk_code, "desk") as opened:
            shown = await first(opened, ClubView)
            assert opened.code == "", "a desk's code is not for a wall"
        assert isinstance(shown, ClubView)
        assert shown.desk


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        ("teacher-maple-otter-lemon-07", "maple-otter-lemon-07"),
        ("Teacher mapl otte lemo 07", "mapl otte lemo 07"),
        ("teachermapleotterlemon07", "mapleotterlemon07"),
        ("teacher-otter-lemon-07", None),
        ("maple-otter-lemon-07", None),
        ("teacher", None),
        ("", None),
    ],
)
def test_what_is_a_teachers_code(typed: str, code: str | None) -> None:
    assert teachers_code(typed) == code
