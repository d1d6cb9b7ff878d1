"""A visitor's screen: one table and no way to anything else of the host's, and an end when the page's server ends."""

import json
import os
import subprocess
import sys
from dataclasses import fields
from pathlib import Path

import pytest
from textual.pilot import Pilot

from client.browser.process import clean_environment
from client.browser.server import visit_program
from client.browser.visitor import visitor_app, write_told
from client.storage.card_files import find_played, keep_played
from client.tui.app import RacktempoApp
from client.tui.ports import AtSolo
from client.tui.screens.join import JoinScreen
from client.tui.screens.seats import SeatsScreen
from shared.cards.owned import told_card
from shared.rules.settings import Settings
from tests.client.frozen import text_of
from tests.owned import OWN
from tests.poison import poison
from tests.server.players import CODE, House, open_house

ROOT = Path(__file__).parents[3]
SECRET = bytes(range(16))


def app_at(house: House, secret: bytes = SECRET) -> RacktempoApp:
    return visitor_app(f"127.0.0.1:{house.listener.port}", secret)


async def sit_down(pilot: "Pilot[None]", name: str, code: str = CODE) -> None:
    """Fill in the form and wait for what the table says to it."""
    app = pilot.app
    assert isinstance(app, RacktempoApp)
    await pilot.press(*name, "enter", *code, "enter", "enter")
    while isinstance(app.screen, JoinScreen) and app.screen.told == "Knocking ...":
        await pilot.pause(0.01)  # a real table answers


def names(house: House) -> list[str]:
    return [chair.name for chair in house.table.record.chairs if chair.sitter == "person"]


def test_a_copy_of_a_card_on_the_hosts_disk_is_no_copy_of_the_visitors() -> None:
    keep_played(OWN)
    digest = told_card(OWN).digest
    assert find_played(digest) == OWN
    assert visitor_app("192.0.2.20", SECRET).storage.find_card(digest) == ""


async def test_who_has_said_name_and_code_on_the_page_goes_straight_in() -> None:
    async with open_house() as house:
        app = visitor_app(f"127.0.0.1:{house.listener.port}", SECRET, "Ada", CODE)
        async with app.run_test(size=(80, 24)) as pilot:
            while isinstance(app.screen, JoinScreen):
                await pilot.pause(0.01)  # a real table answers
            assert isinstance(app.screen, SeatsScreen)
            assert names(house) == ["Ada"]
            await pilot.press("q")
            assert isinstance(app.screen, JoinScreen)
            assert app.screen.values["name"] == "Ada"


async def test_the_form_asks_for_name_and_code_and_shows_the_address() -> None:
    async with visitor_app("192.0.2.20", SECRET).run_test(size=(80, 24)) as pilot:
        await pilot.press(*"Ada", "enter", *"otter")
        shown = text_of(pilot.app)  # type: ignore[arg-type]
        for text in ("Ada", "192.0.2.20:15214", "otter_"):
            assert text in shown
        await pilot.press("up", *"h", "backspace", "tab", *"x")
        form = pilot.app.screen
        assert isinstance(form, JoinScreen)
        assert form.values == {"name": "Ada", "address": "192.0.2.20:15214", "code": "otterx"}


async def test_on_a_narrow_screen_what_is_typed_is_in_sight() -> None:
    async with visitor_app("192.0.2.20", SECRET).run_test(size=(60, 20)) as pilot:
        await pilot.press(*"Ada")
        shown = text_of(pilot.app)  # type: ignore[arg-type]
        assert "Ada_" in shown
        assert "192.0.2.20:15214" in shown


async def test_a_click_on_the_address_does_not_take_it_in_hand() -> None:
    async with visitor_app("192.0.2.20", SECRET).run_test(size=(80, 24)) as pilot:
        form = pilot.app.screen
        assert isinstance(form, JoinScreen)
        form.do("row 1")
        await pilot.press(*"x")
        assert form.values["address"] == "192.0.2.20:15214"
        form.do("row 2")
        assert form.at == 2


async def test_nothing_lies_beneath_the_form() -> None:
    async with visitor_app("192.0.2.20", SECRET).run_test(size=(80, 24)) as pilot:
        for key in ("escape", "f10", "escape", "q", "ctrl+o", "f5"):
            await pilot.press(key)
            assert isinstance(pilot.app.screen, JoinScreen)
        assert len(pilot.app.screen_stack) == 2


async def test_after_leaving_one_is_at_the_form_again() -> None:
    async with open_house() as house, app_at(house).run_test(size=(80, 24)) as pilot:
        await sit_down(pilot, "Ada")
        assert isinstance(pilot.app.screen, SeatsScreen)
        await pilot.press("q")
        assert isinstance(pilot.app.screen, JoinScreen)
        assert len(pilot.app.screen_stack) == 2


async def test_a_wrong_code_is_refused_and_said() -> None:
    async with open_house() as house, app_at(house).run_test(size=(80, 24)) as pilot:
        await sit_down(pilot, "Ada", "wrong")
        assert "This is the wrong code" in text_of(pilot.app)  # type: ignore[arg-type]
        assert names(house) == []


async def test_the_same_browser_comes_back_to_its_seat_and_another_does_not() -> None:
    async with open_house() as house:
        for secret, expected in ((SECRET, ["Ada"]), (SECRET, ["Ada"]), (bytes(16), ["Ada", "Ada 2"])):
            async with app_at(house, secret).run_test(size=(80, 24)) as pilot:
                await sit_down(pilot, "Ada")
                assert names(house) == expected


async def test_the_palette_offers_the_keys_of_the_screen_and_no_more() -> None:
    async with open_house() as house, app_at(house).run_test(size=(80, 24)) as pilot:
        app = pilot.app
        assert isinstance(app, RacktempoApp)
        await sit_down(pilot, "Ada")
        offered = [command.title for command in app.get_system_commands(app.screen)]
        keys = {does.capitalize() for _, does, _ in app.screen.help_keys()}  # type: ignore[attr-defined]
        assert set(offered) <= keys | {"Help"}


async def test_no_door_and_no_shelf_leads_to_the_hosts_things() -> None:
    app = visitor_app("192.0.2.20", SECRET)
    closed = [door.name for door in fields(app.openers) if getattr(app.openers, door.name) is None]
    told = ("solo", "host", "join", "waiting", "left")
    assert closed == [door.name for door in fields(app.openers) if door.name not in told]
    assert app.openers.waiting() == "", "a visitor has no set of the host's to go on with"
    assert app.openers.left() == "", "nor a table of theirs"
    assert app.storage.load_presets() == ({}, ())
    assert app.journal.read().entries == ()
    async with app.run_test(size=(80, 24)) as pilot:
        for open_one in (
            lambda settings: app.go(AtSolo(settings)),
            lambda settings: app.open_table(app.openers.host(settings, "Ada", 0, "")),
        ):
            open_one(Settings())
            await pilot.pause()
            assert "Visitors cannot open tables here." in text_of(app)


def test_the_process_leaves_the_hosts_environment_and_folders_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    code = (
        "import json, os, sys; from pathlib import Path; from client.browser.visitor import shut_in\n"
        "shut_in(Path(sys.argv[1]))\n"
        "from client.storage.files import config_folder, data_folder, state_folder\n"
        "folders = [str(each()) for each in (config_folder, data_folder, state_folder)]\n"
        "print('not for the host', file=sys.stderr)\n"
        "import resource; limit = resource.getrlimit(resource.RLIMIT_DATA)[0]\n"
        "print(json.dumps([dict(os.environ), os.getcwd(), folders, limit]))"
    )
    lent = {"HOST_SECRET": "x", "TEXTUAL_LOG": "log", "TEXTUAL_SCREENSHOT": "1", "NO_COLOR": "1"}
    for name, value in lent.items():
        monkeypatch.setenv(name, value)
    held, holds = os.pipe()
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path)],
        cwd=ROOT,
        env=clean_environment(tmp_path) | {"TEXTUAL_DRIVER": "d", "PYTHONPATH": str(ROOT)},
        stdin=held,
        capture_output=True,
        text=True,
        check=True,
        timeout=30,
    )
    os.close(held)
    os.close(holds)
    environment, here, folders, limit = json.loads(done.stdout)
    assert not environment.keys() & lent.keys()
    assert environment["TEXTUAL_DRIVER"] == "d"
    assert {environment["HOME"], environment["TMPDIR"], here} == {str(tmp_path)}
    assert all(Path(folder).is_relative_to(tmp_path) for folder in folders)
    assert done.stderr == ""
    assert 0 < limit <= 2**30


def test_packages_in_the_working_directory_or_on_the_hosts_path_are_not_run(tmp_path: Path) -> None:
    folder = tmp_path / "visit"
    folder.mkdir()
    write_told(folder, "192.0.2.20", SECRET)
    was_run = poison(tmp_path)
    screen = {"TEXTUAL_DRIVER": "textual.drivers.web_driver:WebDriver", "PYTHONPATH": str(tmp_path)}
    with subprocess.Popen(
        visit_program(folder),
        cwd=tmp_path,
        env={**os.environ, **screen},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    ) as process:
        assert process.stdin
        assert process.stdout
        assert process.stdout.readline() == b"__GANGLION__\n"
        process.stdin.close()
        process.wait(30)
    assert not was_run.exists()


def test_a_visit_ends_and_clears_up_when_its_server_dies(tmp_path: Path) -> None:
    folder = tmp_path / "visit"
    folder.mkdir()
    write_told(folder, "192.0.2.20", SECRET)
    process = subprocess.Popen(
        visit_program(folder),
        env={**os.environ, "TEXTUAL_DRIVER": "textual.drivers.web_driver:WebDriver"},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    assert process.stdin
    assert process.stdout
    with process:
        assert process.stdout.readline() == b"__GANGLION__\n"
        assert list(folder.iterdir()) == []
        process.stdin.close()  # as when the server is killed: nobody holds the other end any more
        assert process.wait(30) == 1
    assert not folder.exists()
