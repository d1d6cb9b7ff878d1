"""Questions about a rack in plain lines: what a line means, what is answered, and what is told instead."""

import io

import pytest

from client.cli import main
from client.models.ask import Asked
from client.models.real_racks import last_rack
from client.plain.ask import HELP, PlainAsk
from shared.rules.typed_tiles import typed

RACK = "1123b 567c 9d NE FF J"
DEALER = "1123b 567c 9d NEE FF J"


def asked(plain: PlainAsk, line: str) -> Asked:
    heard = plain.hear(line)
    assert isinstance(heard, Asked), heard
    return heard


def told(plain: PlainAsk, line: str) -> str:
    heard = plain.hear(line)
    assert isinstance(heard, list), heard
    return " ".join(heard)


def test_a_rack_asks_for_the_first_pass_and_every_word_asks_something_else() -> None:
    plain = PlainAsk(2026)
    assert asked(plain, RACK) == Asked("pass", typed(RACK), "first right", ())
    assert asked(plain, "first left").step == "first left"
    assert asked(plain, "passed 9d N 4b") == Asked("pass", typed(RACK), "first left", typed("9d N 4b"))
    assert asked(plain, "Go  on").step == "go on"
    assert asked(plain, "offer").step == "courtesy offer"
    assert asked(plain, "hand").step is None
    assert "Only a rack of 14 tiles" in told(plain, "discard")
    assert asked(plain, DEALER).question == "hand"
    assert asked(plain, "discard").question == "discard"
    assert asked(plain, "second left") == Asked("pass", typed(DEALER), "second left", typed("9d N 4b"))
    assert asked(plain, "passed").passed == ()


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("112b", "these are 3. Write all of it."),
        ("22222b 3456789c NE", "There are 5 of 2 bam, but the set holds 4."),
        ("10b", "10b has no such rank"),
        ("1123b 567c 9d NEE FF JJ", "Take some away."),
        ("passed 10b", "10b has no such rank"),
    ],
)
def test_what_cannot_be_is_told_and_the_rack_before_it_stays(line: str, said: str) -> None:
    plain = PlainAsk(2026)
    asked(plain, RACK)
    assert said in told(plain, line)
    if "Write all" not in said:
        assert asked(plain, "pass").rack == typed(RACK)


def test_blind_is_asked_where_it_is_allowed() -> None:
    plain = PlainAsk(2026)
    asked(plain, RACK)
    assert asked(plain, "blind").step == "first left"
    assert told(plain, "first right") == "Pass any unseen? is asked at: first left, last right."


def test_the_rack_from_the_clock_is_offered() -> None:
    assert told(PlainAsk(2026), "clock") == "No rack was typed at the clock yet."
    kept = {"one": {"dealt": DEALER}, "two": {"dealt": "9d", "final": RACK}, "three": {"final": " "}}
    assert last_rack(kept) == RACK
    assert last_rack({}) == ""
    assert asked(PlainAsk(2026, RACK), "clock").rack == typed(RACK)


def test_the_command_talks_until_quit(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(f"help\nhands\n{RACK}\n\nhands\nrack\nhand\nquit\n{RACK}\n"))
    assert main(["ask", "--plain"]) == 0
    out = capsys.readouterr().out
    assert all(line in out for line in HELP)
    assert "Write your rack first." in out
    assert out.count("\nPass ") == 1
    assert "\nKeep: " in out
    assert " to go: " in out
    assert "Rack: two 1 bam" in out


def test_tiles_and_plain_do_not_go_together(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ask", "--plain", RACK]) == 2
    assert "--plain asks for the tiles itself" in capsys.readouterr().err
