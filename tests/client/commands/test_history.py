"""racktempo history, as it is called."""

import argparse
import csv
import io
import json
from pathlib import Path

import pytest

from client.commands.history import add_arguments, run
from client.commands.options import BadArgument, Parser
from client.storage.history_db import History, StepLoss, history_path
from client.storage.preferences import save_look
from client.theme import Look
from shared.versions import COACH
from tests.client.heats import heat


@pytest.fixture(autouse=True)
def _history_is_at_home(home: Path) -> None:
    assert history_path().is_relative_to(home)


def called(*words: str) -> int:
    parser = Parser("history", "what your own heats say")
    add_arguments(parser)
    args: argparse.Namespace = parser.parse_args(words)
    return run(args)


def keep(count: int) -> None:
    history = History(history_path())
    for number in range(1, count + 1):
        history.add(heat(number))
    history.close()


def kept() -> int:
    history = History(history_path())
    count = len(history.read().entries)
    history.close()
    return count


class Terminal(io.StringIO):
    """Standard input as a person at a terminal would be."""

    def isatty(self) -> bool:
        return True


class Output(io.TextIOWrapper):
    """Standard output on a screen or into a pipe."""

    def __init__(self, encoding: str, is_screen: bool) -> None:
        super().__init__(io.BytesIO(), encoding)
        self.is_screen = is_screen

    def isatty(self) -> bool:
        return self.is_screen


@pytest.mark.parametrize(
    ("encoding", "is_screen", "wants_ascii", "braille"),
    [
        ("utf-8", True, False, True),
        ("utf-8", True, True, False),
        ("utf-8", False, False, False),
        ("latin-1", True, False, False),
    ],
)
def test_the_plot_is_in_braille_only_where_it_can_be_seen(
    monkeypatch: pytest.MonkeyPatch, encoding: str, is_screen: bool, wants_ascii: bool, braille: bool
) -> None:
    save_look(Look(ascii=wants_ascii))
    history = History(history_path())
    history.add(heat(1))
    history.set_losses(1, COACH, [StepLoss(step="first right", points=1.0, error=0.1, luck=0.0)])
    history.close()
    out = Output(encoding, is_screen)
    monkeypatch.setattr("sys.stdout", out)
    assert called("--numbers") == 0
    out.seek(0)
    text = out.read()
    assert "Points lost (up)" in text
    assert any("\u2800" < character <= "\u28ff" for character in text) == braille


def test_nothing_played_is_said_in_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert called() == 0
    assert capsys.readouterr().out == "No heats yet.\n"


def test_the_report_is_text_or_one_json_object(capsys: pytest.CaptureFixture[str]) -> None:
    keep(2)
    assert called() == 0
    assert "so far there are 2" in capsys.readouterr().out
    assert called("--numbers") == 0
    told = capsys.readouterr().out
    assert "All levels: 2 heats" in told
    assert "no source" in told
    assert called("--json") == 0
    assert json.loads(capsys.readouterr().out)["heats"] == 2


def test_the_csv_goes_to_a_file_of_its_owner_or_to_standard_output(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    keep(2)
    assert called("--csv", "-") == 0
    shown = list(csv.reader(io.StringIO(capsys.readouterr().out)))
    file = home / "heats.csv"
    assert called("--csv", str(file)) == 0
    with file.open(encoding="utf-8-sig", newline="") as opened:
        assert list(csv.reader(opened)) == shown
    assert len(shown) == 3


def test_a_csv_that_cannot_be_written_is_a_sentence_and_exit_code_1(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (home / "file").write_text("")
    assert called("--csv", str(home / "file" / "heats.csv")) == 1
    assert "cannot be written" in capsys.readouterr().err


def test_deleting_asks_first_at_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    keep(3)
    for answer in ("no\n", "\n", ""):
        monkeypatch.setattr("sys.stdin", Terminal(answer))
        assert called("--delete") == 0
        assert kept() == 3
    monkeypatch.setattr("sys.stdin", Terminal("yes\n"))
    assert called("--delete") == 0
    assert kept() == 0


def test_without_a_terminal_deleting_needs_yes(monkeypatch: pytest.MonkeyPatch) -> None:
    keep(3)
    monkeypatch.setattr("sys.stdin", io.StringIO("yes\n"))
    with pytest.raises(BadArgument, match="--delete --yes"):
        called("--delete")
    assert kept() == 3
    assert called("--delete", "--yes") == 0
    assert kept() == 0


def test_yes_alone_and_two_forms_at_once_make_no_sense() -> None:
    for words in (("--yes",), ("--json", "--csv", "-"), ("--json", "--delete")):
        with pytest.raises(BadArgument):
            called(*words)


def test_a_newer_history_is_a_sentence_and_exit_code_1(capsys: pytest.CaptureFixture[str]) -> None:
    keep(1)
    history = History(history_path())
    history._disk.execute("PRAGMA user_version = 99")
    history.close()
    assert called() == 1
    assert "Use the newer racktempo" in capsys.readouterr().err


def test_a_damaged_history_is_told_and_the_command_goes_on(capsys: pytest.CaptureFixture[str]) -> None:
    keep(1)
    history_path().write_bytes(b"x" * 5_000)
    assert called() == 0
    told = capsys.readouterr()
    assert f"It was moved to {history_path()}.damaged-1, and" in told.err
    assert told.out == "No heats yet.\n"
