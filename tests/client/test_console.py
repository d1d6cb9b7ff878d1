"""What is written to standard output and standard error: plain text, whoever wrote it."""

import io
import logging
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from client.console import ask, complain, harmless, is_terminal, log_to_standard_error, new_sheet, say, show_progress

ANYTHING = st.text(st.characters(), max_size=40)


class Terminal(io.StringIO):
    """A stream at which somebody sits."""

    def isatty(self) -> bool:
        return True


@given(ANYTHING)
def test_what_is_said_is_one_line_of_characters_that_cannot_act(text: str) -> None:
    said = harmless(text)
    assert len(said) == len(text)
    assert all(char.isprintable() or char.isspace() for char in said)
    assert said.splitlines() in ([], [said])


@pytest.mark.parametrize("encoding", ["utf-8", "ascii", "cp1252", "latin-1"])
@given(text=ANYTHING)
def test_every_text_can_be_written_to_every_stream(encoding: str, text: str) -> None:
    bare = io.BytesIO()
    stream = io.TextIOWrapper(bare, encoding, newline="\n")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "stdout", stream)
        say(text, text)
    assert bare.getvalue().count(b"\n") == 2


def test_what_goes_wrong_is_written_to_standard_error(capsys: pytest.CaptureFixture[str]) -> None:
    complain("one\x1b[2J", "two")
    assert capsys.readouterr() == ("", "one\ufffd[2J\ntwo\n")


def test_nothing_is_shown_of_progress_where_there_is_no_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    show_progress("half")
    assert capsys.readouterr() == ("", "")


def test_progress_is_written_over_the_line_before_on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    show_progress("half\x1b[2J")
    show_progress("")
    assert terminal.getvalue() == "\rhalf\ufffd[2J\033[K\r\033[K"


@pytest.mark.parametrize(("stream", "sheet"), [(Terminal(), "\n"), (io.StringIO(), "\f")])
def test_a_new_sheet_begins_on_paper_and_a_terminal_gets_a_gap(
    stream: io.StringIO, sheet: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "stdout", stream)
    say("one")
    new_sheet()
    assert stream.getvalue() == f"one\n{sheet}"


def test_a_question_gets_the_line_that_is_typed_and_the_end_of_the_input_is_no_answer(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO("yes\n\nno"))
    assert [ask("Delete one\x1b[2J? ") for _ in range(3)] == ["yes\n", "\n", "no"]
    assert capsys.readouterr().out == "Delete one\ufffd[2J? " * 3
    with pytest.raises(EOFError):
        ask("And now? ")
    monkeypatch.setattr(sys, "stdin", None)
    with pytest.raises(EOFError):
        ask("And now? ")


def test_a_stream_that_was_closed_beforehand_is_no_trouble(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdout", None)
    monkeypatch.setattr(sys, "stderr", None)
    say("one")
    complain("two")
    show_progress("three")
    new_sheet()
    assert not is_terminal(None)


def test_a_name_in_the_log_is_text_as_well(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    root = logging.getLogger()
    monkeypatch.setattr(root, "handlers", [])
    monkeypatch.setattr(root, "level", root.level)
    log_to_standard_error()
    logging.getLogger("racktempo.test").warning("table %s", "\x1b]0;own\x07\u202e")
    assert capsys.readouterr().err.endswith("WARNING table \ufffd]0;own\ufffd\ufffd\n")
