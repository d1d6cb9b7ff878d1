"""The screens at a real table: server, socket and link as a player has them, in real time but at a quick pace."""

import shutil
import subprocess
import sys
import time
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest

from client.connection.join import open_join
from client.hosting.alone import open_solo
from client.hosting.table import open_host
from client.models.rack import PLACES
from client.models.table import TableModel
from client.tui.app import RacktempoApp
from client.tui.ports import AtSolo, Openers
from client.tui.screens.end import SetEndScreen
from client.tui.screens.start import StartScreen
from client.tui.screens.table import TableScreen
from shared.rules.settings import Settings

QUICK = Settings(seed=7, heats=1, level_ms=30_000, bot_pace="quick")


async def test_a_whole_heat_by_keys_at_a_real_table() -> None:
    app = RacktempoApp(Openers(solo=open_solo, host=open_host, join=open_join), AtSolo(QUICK), name="Anna")
    async with app.run_test(size=(80, 24)) as pilot:
        ends_at = time.monotonic() + 60
        pressed: set[str] = set()
        while not isinstance(app.screen, SetEndScreen):
            assert time.monotonic() < ends_at, "the heat never ended"
            await pilot.pause()
            table, screen = app.session, app.screen
            if isinstance(screen, StartScreen) and not table.in_heat:
                await pilot.press("enter")
                continue
            if not isinstance(table, TableModel):
                continue
            step = table.step
            if step is None or step.name in pressed or table.stage != "deciding":
                continue
            assert isinstance(screen, TableScreen)
            pressed.add(step.name)
            rack = table.rack
            free = [PLACES[place] for place in range(len(rack.tiles)) if rack.may_lift(place)]
            keys = {"vote": ["1"], "offer": ["1"]}.get(step.ask, free[: table.wanted])
            await pilot.press(*keys, "enter")
        assert isinstance(app.session, TableModel)
        assert app.session.view is not None
        (result,) = app.session.view.results
        own = next(seat for seat in result.seats if seat.chair == app.session.view.you)
        assert len(own.spent) >= 8
        assert own.spent[0].by == "person"
        assert result.secret


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[list[str]]:
    """A tmux server of our own with 80 columns and 24 rows; ended afterwards by its name."""
    if shutil.which("tmux") is None:
        pytest.skip("tmux is not installed here")
    tmux = ["tmux", "-L", f"racktempo-{uuid.uuid4().hex}"]
    root = Path(__file__).parents[3]
    command = f"env XDG_CONFIG_HOME={tmp_path} XDG_DATA_HOME={tmp_path} XDG_STATE_HOME={tmp_path} TERM=xterm-256color"
    command += f" PYTHONPATH={root} {sys.executable} -m client.cli solo --seed 7"
    subprocess.run([*tmux, "-f", "/dev/null", "new-session", "-d", "-x", "80", "-y", "24", command], check=True)
    yield tmux
    subprocess.run([*tmux, "kill-server"], check=False)


def wait_for(tmux: list[str], text: str) -> str:
    """Return the terminal's text once it holds the text."""
    ends_at = time.monotonic() + 60
    shown = ""
    while time.monotonic() < ends_at:
        shown = subprocess.run([*tmux, "capture-pane", "-p"], check=True, capture_output=True, text=True).stdout
        if text in shown:
            return shown
        time.sleep(0.05)  # another process draws; there is nothing to wait on but its screen
    raise AssertionError(f"{text!r} never appeared in:\n{shown}")


def test_a_table_in_a_real_terminal(terminal: list[str]) -> None:
    shown = wait_for(terminal, "enter starts the heat")
    assert "You are East, the dealer: 14 tiles." in shown
    assert "3:00 for the whole Charleston." in shown
    subprocess.run([*terminal, "send-keys", "Enter"], check=True)
    shown = wait_for(terminal, "First right: lift 3 more")
    assert "[a]" in shown
    subprocess.run([*terminal, "send-keys", "a", "b", "c"], check=True)
    wait_for(terminal, "Enter passes")
    subprocess.run([*terminal, "send-keys", "Enter"], check=True)
    wait_for(terminal, "First across: lift 3 more")  # nobody was waited for
    subprocess.run([*terminal, "send-keys", "q"], check=True)
    wait_for(terminal, "Leave?")
