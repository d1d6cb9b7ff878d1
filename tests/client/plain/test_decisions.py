"""Drills in plain lines: what is asked, what a line means, what the coach says, and an answer that comes too late."""

import io
from collections.abc import Callable
from dataclasses import replace

import pytest

from client.coach.drilling import Drilling, of_rack
from client.coach.queue import Coaching
from client.models.decisions import Decided
from client.plain.decisions import HELP, PlainDecision, play, verdict_lines
from client.storage.journal import Journal
from shared.cards.play import shipped_text
from shared.rules.decisions import Answer, Decision
from shared.rules.settings import Settings
from shared.rules.typed_tiles import typed
from tests.client.here import CoachHere

DEALT = typed("1b 2b 3b 4c 5c 6c 7d 8d 9d N E F F J")
PASS = Decision("pass", "first left", DEALT[1:], Settings(), shipped_text(), 20_000, passed=typed("1b N N"))


async def of_dealt() -> Drilling:
    return await of_rack(Coaching(CoachHere(), Journal(), lambda: None), DEALT, Settings(), shipped_text())


async def played(lines: str, now_ms: Callable[[], int], monkeypatch: pytest.MonkeyPatch) -> int:
    monkeypatch.setattr("sys.stdin", io.StringIO(lines))
    return await play(await of_dealt(), numbers=False, now_ms=now_ms)


async def test_a_typed_rack_is_asked_three_things_one_after_the_other(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = "99\n1\n1b 2b\n1b 2b J\n1b 2b 3b\nJ\nN\n"
    assert await played(lines, lambda: 0, monkeypatch) == 0
    told = capsys.readouterr().out.split("\n\n")
    assert told[0].startswith("A rack of your own. ")
    family, passing, discard = told[1:4]
    assert family.startswith("1 of 3.\nWhich section of the card does this rack's likeliest hand belong to?")
    assert "Write a section's name, or its number, 1 to " in family
    assert "The likeliest hand is " in family
    assert passing.startswith(
        "2 of 3.\nFirst right: three tiles for the player on your right. You are east, the dealer."
    )
    assert "These are 2; 3 go.\nA joker is never passed.\n" in passing
    assert discard.startswith("3 of 3.\nThe Charleston is over. Which tile do you discard first?")
    assert "The coach judges no joker as a discard.\n" in discard
    assert discard.rpartition("discard.\n")[2].startswith("Best. 0 s.\nYou let go north, which ")


async def test_help_rack_and_time_are_told_meanwhile_and_quit_leaves(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert await played("help\nrack\ntime\nquit\n1\n", lambda: 0, monkeypatch) == 0
    told = capsys.readouterr().out
    assert all(line in told for line in HELP)
    assert told.count("Rack: a: 1 bam, b: 2 bam, ") == 2
    assert "5 s left." in told
    assert "2 of 3." not in told


async def test_an_answer_after_its_time_is_told_as_out_of_time(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    moments = iter((0, 5_000))
    assert await played("1\nquit\n", lambda: next(moments, 5_000), monkeypatch) == 0
    assert "Time ran out. 5 s.\n" in capsys.readouterr().out


async def test_the_end_of_the_input_ends_it(monkeypatch: pytest.MonkeyPatch) -> None:
    assert await played("", lambda: 0, monkeypatch) == 0


def test_what_went_before_and_the_rack_are_told_in_words() -> None:
    asked, rack, length = PlainDecision(PASS).asked()
    assert "Passed before: 1 bam and two norths." in asked
    assert rack.startswith("Rack: a: 2 bam, b: 3 bam, ")
    assert length == "20 s."


@pytest.mark.parametrize(
    ("line", "heard"),
    [
        ("a b c", Answer(typed("2b 3b 4c"))),
        ("2b 3b 4c", Answer(typed("2b 3b 4c"))),
        ("blind 2 a", Answer(typed("2b"), 2)),
        ("blind 4 a", "Write how many go unseen, and then your own tiles: blind 2 a."),
        ("9b 3b 4c", "You do not hold that much of 9 bam."),
    ],
)
def test_a_line_is_an_answer_or_says_what_is_wrong(line: str, heard: Answer | str) -> None:
    assert PlainDecision(PASS).hear(line) == heard


def test_a_vote_and_an_offer_are_words_and_numbers() -> None:
    vote, offer = (PlainDecision(replace(PASS, ask=ask)) for ask in ("vote", "offer"))
    assert [vote.hear(line) for line in ("Go  on", "stop", "maybe")] == [
        Answer(number=1),
        Answer(number=0),
        "Write go on, or stop.",
    ]
    assert [offer.hear(line) for line in ("2", "4")] == [Answer(number=2), "Write 0, 1, 2 or 3."]


async def test_what_could_not_be_kept_is_said_after_the_verdict() -> None:
    drilling = await of_dealt()
    done = Decided(await drilling.supply(1), Answer(DEALT[:3]), 4_000)
    await drilling.judge(done)
    assert done.judgement
    before = verdict_lines(done, numbers=False)
    assert before[0] == f"{done.judgement.verdict} 4 s."
    done.trouble = "The disk is full."
    assert verdict_lines(done, numbers=False) == [*before, "The disk is full."]
