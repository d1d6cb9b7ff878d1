"""Tables in the client's own process."""

import asyncio
from pathlib import Path

import pytest

from client.connection.link import Connected, Heard
from client.connection.opened import Opened
from client.hosting.alone import open_solo
from client.hosting.opener import Unfinished
from client.hosting.table import (
    GoOn,
    clocks_path,
    left_unfinished,
    open_host,
    open_together,
    play_bots,
    table_left,
)
from client.storage.card_files import find_played, played_folder
from shared.rules.intents import Ready, Resume, StepDone
from shared.rules.settings import Settings
from shared.wire.group_views import GroupView
from shared.wire.messages import PORT
from shared.wire.views import View
from tests.client.relay import in_virtual_time
from tests.heats import faults
from tests.owned import OWN, TITLE, copy_in_words, found
from tests.ports import free_port

QUICK = Settings(seed=11, heats=2, bot_pace="quick")


async def _first_step(opened: Opened, says_ready: bool) -> tuple[View, list[Heard]]:
    """Sit at the table until a heat runs, going on with one that is paused, then close the line."""
    heard: list[Heard] = []

    def hear(what: Heard) -> None:
        heard.append(what)
        if not isinstance(what, View) or not what.heat:
            return
        if what.heat.paused:
            opened.line.ask(Resume(), what.heat_number)
        else:
            opened.line.close()

    if says_ready:
        opened.line.ask(Ready(), 0)
    await opened.line.run(hear)
    view = heard[-1]
    assert isinstance(view, View)
    return view, heard


def test_a_table_for_one_begins_once_its_player_is_ready_with_three_bots() -> None:
    async def scene() -> View:
        async with open_solo(QUICK, "Ann") as opened:
            return (await _first_step(opened, says_ready=True))[0]

    view = in_virtual_time(scene())
    assert [chair.sitter for chair in view.chairs] == ["person", "bot", "bot", "bot"]
    assert view.heat
    assert view.heat.step == "first right"


def test_two_tables_for_one_do_not_get_in_each_others_way() -> None:
    async def scene() -> None:
        async with open_solo(QUICK, "Ann") as one, open_solo(QUICK, "Bo") as two:
            await asyncio.gather(_first_step(one, True), _first_step(two, True))

    in_virtual_time(scene())


def test_a_table_that_is_left_in_the_middle_is_offered_again_and_the_host_regains_the_seat() -> None:
    async def leave_in_the_middle() -> View:
        async with open_host(QUICK, "Ann", free_port()) as opened:
            return (await _first_step(opened, says_ready=True))[0]

    async def come_back() -> tuple[View, list[Heard]]:
        async with open_host(Settings(), "Ann", free_port(), go_on="resume") as opened:
            return await _first_step(opened, says_ready=False)

    async def open_blindly() -> None:
        async with open_host(QUICK, "Ann", free_port()):
            pass

    left = in_virtual_time(leave_in_the_middle())
    assert "heat 1 of 2 was running" in left_unfinished()
    assert table_left() == "Ann's table, heat 1, first right"
    with pytest.raises(Unfinished, match="left unfinished"):
        in_virtual_time(open_blindly())
    back, heard = in_virtual_time(come_back())
    assert isinstance(heard[0], Connected)
    first = heard[1]
    assert isinstance(first, View)
    assert first.heat
    assert first.heat.paused
    assert first.heat.rack == ()
    assert back.host
    assert back.you == left.you
    assert back.code == left.code
    assert back.heat
    assert left.heat
    assert back.heat.rack == left.heat.rack


def test_a_table_comes_back_where_it_was_unless_another_port_is_asked_for() -> None:
    at, other = free_port(), free_port()

    async def opens(port: int, go_on: GoOn = "ask") -> list[str]:
        async with open_host(QUICK, "Ann", port, go_on=go_on) as opened:
            await _first_step(opened, says_ready=go_on == "ask")
            return [address.rpartition(":")[2] for address in opened.addresses]

    in_virtual_time(opens(at))
    assert set(in_virtual_time(opens(PORT, "resume"))) == {str(at)}
    assert set(in_virtual_time(opens(other, "resume"))) == {str(other)}
    assert set(in_virtual_time(opens(PORT, "resume"))) == {str(other)}


async def _first_step_of_a_clock(opened: Opened) -> GroupView:
    """Be ready, or go on with what is paused, and close the line once the first step is done."""
    views: list[GroupView] = []

    def hear(what: Heard) -> None:
        if not isinstance(what, GroupView):
            return
        views.append(what)
        if what.phase == "ready" and what.places[0].stand == "not ready":
            opened.line.ask(Ready(), 0)
        elif what.paused:
            opened.line.ask(Resume(), what.heat_number)
        elif what.step == "first right":
            opened.line.ask(StepDone(step="first right"), what.heat_number)
        elif what.step:
            opened.line.close()

    await opened.line.run(hear)
    return views[-1]


def test_a_shared_clock_is_kept_apart_from_tables_and_offered_again() -> None:
    async def scene(go_on: str) -> GroupView:
        async with open_together(QUICK, "Ann", free_port(), go_on=go_on) as opened:  # type: ignore[arg-type]
            return await _first_step_of_a_clock(opened)

    first = in_virtual_time(scene("ask"))
    assert (first.table, first.host, first.settings.seed) == ("Ann's clock", True, None)
    assert left_unfinished() == ""
    assert left_unfinished(clocks_path()) == 'The clock "Ann\'s clock" was left unfinished: heat 1 of 2 was running.'
    with pytest.raises(Unfinished, match="racktempo clock --together --resume"):
        in_virtual_time(scene("ask"))
    back = in_virtual_time(scene("resume"))
    assert (back.step, back.code, back.you) == ("first across", first.code, first.you)
    assert in_virtual_time(scene("fresh")).code != first.code


def test_a_table_and_a_clock_are_open_side_by_side() -> None:
    async def scene() -> None:
        async with open_host(QUICK, "Ann", free_port()) as table, open_together(QUICK, "Ann", free_port()) as clock:
            await asyncio.gather(_first_step(table, True), _first_step_of_a_clock(clock))

    in_virtual_time(scene())


def test_beginning_anew_forgets_what_was_left() -> None:
    async def scene(go_on: str) -> View:
        async with open_host(QUICK, "Ann", free_port(), go_on=go_on) as opened:  # type: ignore[arg-type]
            return (await _first_step(opened, says_ready=True))[0]

    first, second = in_virtual_time(scene("ask")), in_virtual_time(scene("fresh"))
    assert first.code != second.code
    assert second.heat_number == 1


def test_nothing_left_is_told_as_nothing() -> None:
    assert left_unfinished() == ""
    assert table_left() == ""


def test_a_port_that_is_taken_is_told_with_the_next_free_one() -> None:
    async def scene() -> None:
        async with await asyncio.start_server(lambda reader, writer: writer.close(), port=0) as other:
            port = other.sockets[0].getsockname()[1]
            with pytest.raises(ValueError, match=f"Port {port} is taken"):
                async with open_host(QUICK, "Ann", port):
                    pass

    in_virtual_time(scene())


def test_two_hosts_on_one_machine_are_told_apart() -> None:
    async def scene() -> None:
        async with open_host(QUICK, "Ann", free_port()):
            with pytest.raises(ValueError, match="in use by another racktempo host"):
                async with open_host(QUICK, "Bo", free_port()):
                    pass

    in_virtual_time(scene())


@pytest.mark.parametrize("second", ["offered", "always", "never"])
@pytest.mark.parametrize("incoming", ["racks", "wall"])
def test_four_bots_play_whole_sets_by_the_rules(second: str, incoming: str) -> None:
    settings = Settings(seed=3, second=second, incoming=incoming, plan=True)  # type: ignore[arg-type]
    heats = play_bots(settings)
    assert [heat.number for heat in heats] == [1, 2, 3]
    for heat in heats:
        assert heat.sitters == ("bot",) * 4
        assert faults(heat, lambda card, rack: False) == ()


def test_a_hosts_own_card_is_kept_beside_its_table_and_nothing_of_it_within(home: Path) -> None:
    plover = copy_in_words("plover", backwards=False)

    async def scene() -> list[Heard]:
        async with open_host(QUICK, "Ann", free_port(), card=OWN) as opened:
            assert opened.card == OWN
            await _first_step(opened, says_ready=True)
        async with open_host(QUICK, "Ann", free_port(), go_on="resume") as opened:
            return (await _first_step(opened, says_ready=False))[1]

    heard = in_virtual_time(scene())
    (welcome,) = [one.welcome for one in heard if isinstance(one, Connected)]
    assert (welcome.card, welcome.card_title) == ("", TITLE)
    assert find_played(welcome.card_digest) == OWN
    files = {path: path.read_bytes() for path in home.rglob("*") if path.is_file()}
    holding = {path.parent for path, data in files.items() if found(plover, [data])}
    assert holding == {played_folder()}
    assert any(TITLE.encode() in data for path, data in files.items() if path.suffix.startswith(".sqlite3"))
