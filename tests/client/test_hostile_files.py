"""Files of ill will hold escape sequences in every text, and are called so: none reaches the player's terminal.

Whatever is printed by any command, and whatever a screen shows of files, is looked at byte by byte; nothing crashes.
"""

import asyncio
import io
import os
import sqlite3
import sys
from contextlib import closing
from pathlib import Path

import pytest

from client.cli import main
from client.storage.history_db import History, StepLoss, history_path
from server.evening import club_path, new_club_record
from server.host import new_record
from server.records import TableRecord
from server.store import Append, ClubAppend, Database, default_path
from shared.cards.play import shipped_text
from shared.rules.heat import HEAT, final_state
from shared.rules.seat_heat import SEAT_HEAT, seat_heat
from shared.rules.seats import Seat
from shared.rules.settings import Settings
from tests.client.heats import bots_heat
from tests.client.hostile import EVIL, SIGN, assert_harmless, spoilt, terminal_of, text_fields

ESCAPED = "".join(f"\\u{ord(char):04x}" for char in EVIL)
"""The ill words as TOML writes them between quotes."""
NAME = os.fsdecode(b"EVIL\xff\x1b]777;own\x07\xc2\x9d777;own\x1b[31m\xe2\x80\xae\xe2\x80\xa8\x7f")
"""What a file may be called: also bytes that are no UTF-8, which Python keeps as lone surrogates."""
FILES: dict[str, str | bytes] = {
    "syntax": f"[card\n{EVIL}",
    "bytes": b"\xff\xfe" + EVIL.encode(),
    "keys": f'"{ESCAPED}" = "{ESCAPED}"\n',
    "nested": f'["{ESCAPED}"."{ESCAPED}"]\nx = ["{ESCAPED}", {{ "{ESCAPED}" = 1 }}]\n',
    "settings": f'level = "{ESCAPED}"\nheats = "{ESCAPED}"\nsecond = "{ESCAPED}"\n'
    f'[lengths]\n"{ESCAPED}" = "{ESCAPED}"\n',
    "plan": f'name = "{ESCAPED}"\ntables = ["{ESCAPED}", 3]\nstart = ["{ESCAPED}"]\npause = "{ESCAPED}"\n'
    f'[settings]\nlevel = "{ESCAPED}"\n[files]\n"{ESCAPED}" = "{ESCAPED}\\u0000"\npage = "{ESCAPED}\\u0000"\n',
    "card": f'[card]\ntitle = "{ESCAPED}"\nyear = "{ESCAPED}"\nnote = "{ESCAPED}"\n"{ESCAPED}" = 1\n[[section]]\n'
    f'name = "{ESCAPED}"\nabout = "{ESCAPED}"\n[[section.hand]]\nid = "{ESCAPED}"\ngroups = "{ESCAPED}"\n'
    f'note = "{ESCAPED}"\npoints = "{ESCAPED}"\n',
    "theme": f'theme = "{ESCAPED}"\n',
    "empty": b"",
    "noise": bytes(range(256)) * 8,
}


@pytest.fixture(autouse=True)
def no_input(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO())


def written(folder: Path, name: str, data: str | bytes) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / name
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return path


def assert_nothing_acts(line: list[str], capfdbinary: pytest.CaptureFixture[bytes], silent: bool = False) -> None:
    """Call a command: it says something, silent or not of the ill words, and nothing that acts."""
    assert main(line) in (0, 1, 2)
    told = capfdbinary.readouterr()
    said = told.out + told.err
    assert said
    assert_harmless(said + SIGN.encode() * silent)


@pytest.mark.parametrize("what", FILES)
@pytest.mark.parametrize(
    "line", ["verify", "review", "drill", "card check", "card show", "read 1b --card", "solo --card", "desk --headless"]
)
def test_no_command_lets_a_file_act(
    line: str, what: str, home: Path, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    words = ["1b 2b 3b 4c 5c 6c 7d 8d 9d N E F J" if word == "1b" else word for word in line.split()]
    plan = what if line == "desk --headless" and what == "empty" else ""
    path = written(home, NAME, f'pause = "{ESCAPED}"' if plan else FILES[what])
    assert_nothing_acts([*words, str(path)], capfdbinary, silent=line == "desk --headless")


@pytest.mark.parametrize("what", ["syntax", "bytes", "keys", "nested", "settings", "noise"])
def test_no_preset_acts(what: str, home: Path, capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    written(home / "racktempo" / "presets", "EVIL.toml", FILES[what])
    assert_nothing_acts(["solo", "--preset", "EVIL"], capfdbinary)


@pytest.mark.parametrize("line", ["verify", "review", "review --json", "drill --from plan", "drill --from EVIL"])
@pytest.mark.parametrize("kind", ["whole", "card kept", "seat"])
def test_no_text_of_a_heat_acts(line: str, kind: str, home: Path, capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    seat = seat_heat(bots_heat(), final_state(bots_heat()), Seat.EAST)
    data = {
        "whole": HEAT.pack(spoilt(bots_heat())),
        "card kept": HEAT.pack(spoilt(bots_heat(), but=("card",))),
        "seat": SEAT_HEAT.pack(spoilt(seat, but=("card",))),
    }
    path = written(home, NAME, data[kind])
    assert_nothing_acts([*line.split(), str(path)], capfdbinary, silent=True)


def test_every_text_of_a_heat_is_spoilt_here() -> None:
    assert {"table", "names", "card", "played_at", "commitment", "digest"} <= text_fields(spoilt(bots_heat()))


def test_no_text_of_a_history_acts(capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    keep_spoilt_history()
    for line in (
        "history --numbers",
        "history",
        "history --json",
        "history --csv -",
        "review --last",
        "drill costliest",
    ):
        assert_nothing_acts(line.split(), capfdbinary, silent=line in ("history", "drill costliest"))
    with closing(sqlite3.connect(history_path())) as disk:
        disk.execute("UPDATE heats SET source = ?", (EVIL,))
        disk.commit()
    assert_nothing_acts(["history"], capfdbinary, silent=True)


def keep_spoilt_history() -> None:
    own = spoilt(seat_heat(bots_heat(), final_state(bots_heat()), Seat.EAST), but=("card", "sitters"))
    own = own.model_copy(update={"steps": tuple(step.model_copy(update={"by": "person"}) for step in own.steps)})
    with closing(History(history_path())) as history:
        added = history.add(own.model_copy(update={"sitters": ("person",) * 4}), "table", EVIL)
        loss = StepLoss(step="first right", points=30.0, error=0.1, luck=0.0, kinds=(EVIL,))
        history.set_losses(added.id, EVIL, [loss])


@pytest.mark.parametrize("line", ["host --headless", "host"])
def test_no_name_of_a_table_that_was_left_acts(line: str, capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    record: TableRecord = new_record(Settings(), "x").with_(name=EVIL, code=EVIL, phase="between", number=1)
    default_path().parent.mkdir(parents=True)
    database = Database(default_path())
    database.commit([Append(record)])
    database.close()
    assert_nothing_acts(line.split(), capfdbinary)


@pytest.mark.parametrize("line", ["desk --headless", "desk"])
def test_no_name_of_an_evening_that_was_left_acts(
    line: str, home: Path, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    club_path().parent.mkdir(parents=True)
    database = Database(club_path())
    club = new_club_record(Settings(), "x").with_(name=EVIL, code=EVIL)
    database.commit([ClubAppend(club), Append(new_record(Settings(), "x").with_(name=EVIL))])
    database.close()
    plan = [str(written(home, "plan.toml", "tables = 1"))] if "--headless" in line else []
    assert_nothing_acts([*line.split(), *plan], capfdbinary)


@pytest.mark.parametrize("line", ["", "solo --name", "verify", "solo --level", "solo --preset", "join", "ask"])
def test_no_word_of_a_command_line_acts(line: str, capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    assert_nothing_acts([*line.split(), NAME], capfdbinary, silent=True)


@pytest.mark.parametrize("what", [NAME, EVIL])
def test_a_name_of_any_bytes_is_taken_to_a_table(what: str, capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    assert main(["solo", "--plain", "--level", "0:10", "--heats", "1", "--name", what]) == 0
    assert_nothing_acts(["join", "127.0.0.1:9", "--plain", "--name", what, "--code", what], capfdbinary, silent=True)


def test_no_file_acts_on_a_screen(home: Path) -> None:
    """The forms and lists that show what lies in the player's folders: presets, cards, history, drills, look."""
    config = home / "racktempo"
    for number, (what, data) in enumerate(FILES.items()):
        for folder in ("presets", "cards"):
            written(config / folder, f"{NAME}{number}.toml", data)
        if what == "theme":
            written(config, "look.toml", data)
    written(config / "presets", "EVIL%1B%5D777%3Bown%07%C2%9D.toml", "heats = 2\n")
    written(config / "cards", f"{NAME}.toml", shipped_text())
    keep_spoilt_history()
    right, down, escape = b"\x1b[C", b"\x1b[B", b"\x1b"

    async def scene() -> bytes:
        async with terminal_of(home=home) as terminal:
            await terminal.until(b"Practise alone")
            await terminal.type(b"c", *(right,) * (len(FILES) + 4), b"w", b"E", escape, b"q")
            await terminal.type(b"h", *(down, right) * 4, b"\x1b[Z", right, right, escape)
            await terminal.type(b"y", *(right,) * 5, b"\r", right, b"s", b"q", b"q")
            await terminal.type(b"d", down, down, down, b"\r")
            await terminal.quiet()
            assert not terminal.has_ended()
            return bytes(terminal.seen)

    seen = asyncio.run(scene())
    assert_harmless(seen)
    assert all(words in seen for words in (b"History", b"Card", b"Drills"))
