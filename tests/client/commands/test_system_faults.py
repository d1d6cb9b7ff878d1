"""What the system refuses is one sentence and an exit code, whatever was called; nothing is half done."""

import os
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from shutil import which

import pytest

from client.cli import main
from client.storage.history_db import History, history_path
from server.store import default_path
from tests.client.full_disk import full_disk
from tests.client.heats import heat

ROOT = Path(__file__).parents[3]
RACK = "1b 2b 3b 4c 5c 6c 7d 8d 9d N E F J"
NOISE = ("Errno", "errno", "Traceback", "SQLITE", "_ssl.c", "Error:")
READERS = ["verify", "review", "drill", "card check", "solo --card", "desk --headless", "host --headless --card"]
KEEPERS = ["history", "history --json", "history --delete --yes", "review --last", "drill costliest"]
HOSTS = ["host --headless", "host", "desk"]


@contextmanager
def alarm(seconds: int) -> Iterator[None]:
    """Fail, instead of waiting for ever, when something waits."""

    def ring(*_: object) -> None:
        raise AssertionError("it waits")

    before = signal.signal(signal.SIGALRM, ring)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def sentence(capsys: pytest.CaptureFixture[str], code: int, *words: str) -> str:
    """Call a command that fails with a code, and return the one line that it says."""
    assert main(words) == code
    told = capsys.readouterr()
    said = told.out + told.err
    assert said.count("\n") == 1, said
    assert said.endswith(".\n")
    assert not any(noise in said for noise in NOISE), said
    return said


def listing(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*"))


def said_without_rights(*words: str) -> str:
    """Call a command that fails with 1 or 2 as a user for whom rights count, and return the one line that it says."""
    may_all = os.geteuid() == 0
    if may_all and not which("setpriv"):
        pytest.skip("nothing is closed to this user")
    lesser = ["setpriv", "--bounding-set=-dac_override,-dac_read_search"] if may_all else []
    line = [*lesser, sys.executable, "-m", "client.cli", *words]
    done = subprocess.run(line, cwd=ROOT, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60)
    said = done.stdout + done.stderr
    assert done.returncode == (2 if "--card" in words else 1), said
    assert (said.count("\n"), said[-2:]) == (1, ".\n"), said
    return said


# ---- folders that cannot be


@pytest.mark.parametrize("line", [*KEEPERS, *HOSTS])
@pytest.mark.parametrize("where", ["file", "file/below"])
def test_a_data_folder_that_cannot_be_is_told(
    line: str, where: str, home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (home / "file").write_bytes(b"mine")
    monkeypatch.setenv("XDG_DATA_HOME", str(home / where))
    told = sentence(capsys, 1, *line.split())
    assert f"{home / where}" in told
    assert "a part of its path is not a folder" in told
    assert listing(home) == ["file"]


@pytest.mark.parametrize("line", [*KEEPERS, *HOSTS])
def test_a_data_folder_on_a_system_that_makes_none_is_told(
    line: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", "/proc/nope")
    assert "/proc/nope/racktempo" in sentence(capsys, 1, *line.split())


@pytest.mark.parametrize("line", ["history", "review --last", "host --headless", "desk"])
def test_a_folder_that_may_only_be_read_is_told(line: str, home: Path) -> None:
    home.chmod(0o500)
    assert "you have no permission" in said_without_rights(*line.split())
    assert listing(home) == []


@pytest.mark.parametrize("line", READERS)
def test_a_file_that_may_not_be_read_is_told(line: str, home: Path) -> None:
    (home / "file").write_bytes(b"mine")
    (home / "file").chmod(0)
    told = said_without_rights(*line.split(), str(home / "file"))
    assert "cannot be read: you have no permission" in told


def test_a_folder_in_which_nothing_may_be_looked_for_is_told(home: Path) -> None:
    (home / "closed").mkdir(0)
    inside = str(home / "closed" / "file")
    assert "you have no permission" in said_without_rights("verify", inside)
    assert "you have no permission" in said_without_rights("solo", "--card", inside)


def test_a_card_that_is_nowhere_is_told_with_the_folder_that_was_searched(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for line in ("solo --card nope", "host --headless --card nope", "drill rival --card nope"):
        where = f"no card of this name in your cards folder, {home}/racktempo/cards"
        assert sentence(capsys, 2, *line.split()) == f"nope: There is no such file, and {where}.\n"
    assert "cards folder" in sentence(capsys, 2, "ask", RACK, "--card", "nope")


# ---- files that hold something else


@pytest.mark.parametrize("line", READERS)
@pytest.mark.parametrize(
    ("what", "words"),
    [
        ("folder", "it is a folder"),
        ("name", "its name is too long"),
        ("none", "here is no such file"),
        ("big", ""),
        ("pipe", "it is a pipe or a device, not a file"),
        ("device", "it is a pipe or a device, not a file"),
    ],
)
def test_what_is_no_file_of_ours_is_told_at_once(
    line: str, what: str, words: str, home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = home / (what if what != "name" else "n" * 300)
    if what == "folder":
        path.mkdir()
    if what == "pipe":
        os.mkfifo(path)
    if what == "device":
        path.symlink_to("/dev/zero")
    if what == "big":
        path.touch()
        os.truncate(path, 2**30)
    code = 2 if "--card" in line else 1
    with alarm(20):
        assert words in sentence(capsys, code, *line.split(), str(path))


@pytest.mark.parametrize("line", ["verify", "review", "drill"])
def test_an_empty_file_is_no_heat(line: str, home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (home / "empty").touch()
    assert "is not a saved heat" in sentence(capsys, 1, line, str(home / "empty"))


@pytest.mark.parametrize("line", ["history", "review --last"])
def test_a_history_that_is_no_database_is_set_aside_and_told(line: str, capsys: pytest.CaptureFixture[str]) -> None:
    history_path().parent.mkdir()
    history_path().write_bytes(b"a letter to my aunt, rather long " * 20)
    main(line.split())
    told = capsys.readouterr().err.splitlines()[0] if line == "history" else ""
    capsys.readouterr()
    assert "it is not a database" in told or line != "history"
    aside = history_path().with_name("history.sqlite3.damaged-1")
    assert aside.read_bytes().startswith(b"a letter")


@pytest.mark.parametrize("line", ["host --headless", "host"])
def test_a_file_of_tables_that_is_no_database_is_left_as_it_is(line: str, capsys: pytest.CaptureFixture[str]) -> None:
    default_path().parent.mkdir()
    default_path().write_bytes(b"a letter to my aunt, rather long " * 20)
    assert "it is not a database" in sentence(capsys, 1, *line.split())
    assert default_path().read_bytes().startswith(b"a letter")


@pytest.mark.parametrize(("path", "line"), [(history_path, "history"), (default_path, "host --headless")])
def test_a_database_that_is_a_folder_is_told(path: object, line: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert callable(path)
    path().mkdir(parents=True)
    assert "it is a folder" in sentence(capsys, 1, *line.split())


def test_a_certificate_that_is_none_is_told(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (home / "empty").touch()
    words_of = {"empty": "they are not a certificate", ".": "it is a folder", "none": "there is no such file"}
    for name, words in words_of.items():
        file = str(home / name)
        told = sentence(capsys, 1, "host", "--headless", "--tls-cert", file, "--tls-key", file)
        assert words in told


# ---- disks


def test_a_history_that_another_program_holds_is_told(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("client.storage.history_db._BUSY_S", 0.05)
    with closing(History(history_path())) as history:
        history.add(heat(1))
    with closing(sqlite3.connect(history_path(), isolation_level=None)) as other:
        other.execute("PRAGMA locking_mode = EXCLUSIVE")
        other.execute("BEGIN EXCLUSIVE")
        other.execute("DELETE FROM heats")
        for line in ("history", "review --last", "history --delete --yes"):
            assert "another program is using it" in sentence(capsys, 1, *line.split())
        other.execute("ROLLBACK")
    with closing(History(history_path())) as history:
        assert len(history.read().entries) == 1


def test_a_full_disk_is_told_and_leaves_nothing_behind(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with closing(History(history_path())) as history:
        for number in range(1, 401):
            history.add(heat(number))
    before = listing(home)
    with full_disk(room=40_000):
        told = sentence(capsys, 1, "history", "--csv", str(home / "heats.csv"))
    assert "heats.csv cannot be written: the file is too big." in told
    assert listing(home) == before


def test_a_first_history_on_a_full_disk_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    with full_disk():
        assert "The history in" in sentence(capsys, 1, "history")
    assert main(["history"]) == 0


@pytest.mark.parametrize(
    "line", ["--help", "--version", "messages", "history", "history --csv -", "card show", "solo --autoplay --heats 1"]
)
def test_output_for_which_there_is_no_room_is_told(line: str) -> None:
    command = [sys.executable, "-m", "client.cli", *line.split()]
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(command, cwd=ROOT, stdout=full, stderr=subprocess.PIPE, text=True)
    assert (done.returncode, done.stderr) == (1, "The output cannot be written: the disk is full.\n")


def test_a_heat_in_plain_lines_for_which_there_is_no_room_ends_with_a_sentence() -> None:
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "client.cli", "solo", "--plain", "--level", "0:10"],
            cwd=ROOT,
            input="help\n" * 20,
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            timeout=60,
        )
    assert (done.returncode, done.stderr) == (1, "The output cannot be written: the disk is full.\n")


def test_a_device_is_written_to_and_never_replaced(home: Path) -> None:
    pipe = home / "pipe"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    assert main(["history", "--csv", str(pipe)]) == 0
    assert os.read(reader, 1000).startswith(b'\xef\xbb\xbf"heat"')
    os.close(reader)
    assert pipe.is_fifo()
