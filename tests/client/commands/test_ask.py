"""racktempo ask: the coach on tiles that lie on a table."""

import itertools
import json
from typing import Any

import pytest

from client.cli import main
from shared.cards import first_evening_card
from shared.cards.tell import tell
from shared.rules.typed_tiles import typed

RACK = "1b 1b 2b 3b 5c 6c 7c 9d N E F F J"


def read(capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    """Read a rack by the small card, which is quick, as JSON."""
    assert main(["ask", *words, "--card", "first-evening", "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_a_rack_may_be_written_without_quotes(capsys: pytest.CaptureFixture[str]) -> None:
    assert read(capsys, *RACK.split())["rack"] == RACK.split()


def test_a_set_with_ten_jokers_leaves_more_of_them_to_draw_and_one_without_holds_none(
    capsys: pytest.CaptureFixture[str],
) -> None:
    told = [read(capsys, RACK, "--jokers", count)["hands"] for count in ("8", "10")]
    eight, ten = (sum(hand["chance"] for hand in hands) for hands in told)
    assert ten > eight
    assert main(["ask", RACK, "--jokers", "0", "--card", "first-evening"]) == 2
    assert "There are 0 jokers in the set; this rack has 1." in capsys.readouterr().err


@pytest.mark.parametrize("words", [["1123b 567c 9d NE FF J"], ["1b1b2b3b", "567", "crak", "9d", "en", "ff", "joker"]])
def test_a_rack_is_typed_as_people_write_it(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    told = read(capsys, *words, "--step", "first left", "--passed", "soap 13D")
    assert sorted(told["rack"]) == sorted(RACK.split())
    assert told["passes"] == read(capsys, RACK, "--step", "first left", "--passed", "O 1d 3d")["passes"]


def test_every_fault_of_a_typed_rack_is_told_on_a_line_of_its_own(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ask", "1123b 567 9d", "10b", "NE FF J", "--card", "first-evening"]) == 2
    assert capsys.readouterr().err.splitlines() == [
        "At 7: 567 has no suit. Write 567b, 567c or 567d.",
        "At 14: 10b has no such rank. Ranks go from 1 to 9; write 0 alone for a soap.",
    ]


def test_the_json_has_every_hand_and_every_pass(capsys: pytest.CaptureFixture[str]) -> None:
    told = read(capsys, RACK, "--step", "First Left")
    assert list(told) == ["rack", "step", "hands", "passes", "votes", "discards"]
    assert (told["votes"], told["discards"]) == ([], [])
    assert (told["rack"], told["step"]) == (RACK.split(), "first left")
    assert {hand["hand"] for hand in told["hands"]} == {hand.id for hand in first_evening_card().hands}
    for hand in told["hands"]:
        assert list(hand) == ["hand", "name", "away", "win", "chance", "variant"]
        assert isinstance(hand["away"], int)
        assert 0 <= hand["win"] <= 1
        assert 0 <= hand["chance"] <= 1
        assert sum(count for _, count in hand["variant"]) == 14
    wins = [hand["win"] for hand in told["hands"]]
    assert wins == sorted(wins, reverse=True)
    # To the left a tenth of the gift counts; passes that the last rounds tried all come before the others.
    net = [ranked["points"] - 0.1 * ranked["gift"] for ranked in told["passes"][:10]]
    assert net == pytest.approx(sorted(net, reverse=True), abs=1e-5)
    assert max(ranked["points"] for ranked in told["passes"][60:]) <= min(
        ranked["points"] for ranked in told["passes"][:60]
    )
    for ranked in told["passes"]:
        assert list(ranked) == ["tiles", "blind", "win", "points", "se", "gift"]
        assert ranked["win"] == ranked["points"] / 100
        assert len(ranked["tiles"]) + ranked["blind"] == 3
        assert "J" not in ranked["tiles"]
        assert all(isinstance(ranked[value], float) for value in ("points", "se", "gift"))
    assert len({(*ranked["tiles"], ranked["blind"]) for ranked in told["passes"]}) == len(told["passes"])


@pytest.mark.parametrize("rack", [RACK, f"{RACK} 9d"])
def test_without_a_step_the_passing_is_over_and_one_tile_goes(rack: str, capsys: pytest.CaptureFixture[str]) -> None:
    told = read(capsys, rack, "--passed", "1c 2c 4c")
    assert told["step"] is None
    assert (told["passes"], told["votes"]) == ([], [])
    assert {each["tile"] for each in told["discards"]} == set(rack.split()) - {"J"}
    assert len(told["discards"]) == len(set(rack.split()) - {"J"})
    for each in told["discards"]:
        assert list(each) == ["tile", "win", "points", "loss", "called"]
        assert each["win"] == each["points"] / 100
        assert each["loss"] == told["discards"][0]["points"] - each["points"] >= 0
        assert 0 <= each["called"] <= 1
    assert told["discards"][0]["loss"] == 0


def test_the_plan_is_the_same_question_as_no_step(capsys: pytest.CaptureFixture[str]) -> None:
    assert {**read(capsys, RACK, "--step", "plan"), "step": None} == read(capsys, RACK)


def test_at_the_vote_both_answers_are_weighed(capsys: pytest.CaptureFixture[str]) -> None:
    told = read(capsys, RACK, "--step", "go on", "--passed", "1c 2c 4c")
    assert told["step"] == "go on"
    assert (told["passes"], told["discards"]) == ([], [])
    assert {each["vote"] for each in told["votes"]} == {"go on", "stop"}
    for each in told["votes"]:
        assert list(each) == ["vote", "win", "points", "se"]
        assert each["win"] == each["points"] / 100
        assert 0 < each["win"] < 1
    assert told["hands"][0]["win"] > 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--step", "go on"], "Go on or stop "),
        ([], "First discards "),
        (["--step", "last right"], "Passes, best of "),
        (["--step", "courtesy offer"], "Passes, best of "),
    ],
)
def test_each_question_has_its_own_lines(words: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ask", f"{RACK} 9d", "--card", "first-evening", "--top", "4", *words]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= 80
    heads = ("Go on or stop ", "First discards ", "Passes, best of ")
    assert [line.startswith(said) for line in lines if line.startswith(heads)] == [True]
    assert any(line.startswith("Likeliest hands") for line in lines)
    assert any(line.startswith("Worth of a tile") for line in lines)
    after = lines[next(number for number, line in enumerate(lines) if line.startswith(said)) + 1 :]
    assert after[0].startswith("  ")


def test_the_more_passes_are_to_come_the_likelier_every_hand(capsys: pytest.CaptureFixture[str]) -> None:
    steps: list[list[str]] = [[], ["--step", "last right"], ["--step", "second across"], ["--step", "first right"]]
    by_step = [{hand["hand"]: hand["chance"] for hand in read(capsys, RACK, *step)["hands"]} for step in steps]
    for fewer, more in itertools.pairwise(by_step):
        assert all(more[hand] >= fewer[hand] for hand in fewer)
        assert any(more[hand] > fewer[hand] for hand in fewer)


def test_a_courtesy_gives_none_to_three(capsys: pytest.CaptureFixture[str]) -> None:
    told = read(capsys, f"{RACK} 9d", "--step", "courtesy-offer", "--passed", "1c 1c 1c")
    assert {len(ranked["tiles"]) for ranked in told["passes"]} == {0, 1, 2, 3}
    assert {ranked["blind"] for ranked in told["passes"]} == {0}


def test_what_was_passed_is_out_of_reach(capsys: pytest.CaptureFixture[str]) -> None:
    words = ("--step", "first across", "--draws", "20")
    before = next(line for line in read(capsys, RACK, *words)["hands"] if dict(line["variant"]).get("F", 0) > 2)
    after = read(capsys, RACK, *words, "--passed", "F F F")["hands"]
    assert next(line["chance"] for line in after if line["hand"] == before["hand"]) < before["chance"]


def test_the_order_of_the_codes_does_not_matter(capsys: pytest.CaptureFixture[str]) -> None:
    turned = " ".join(reversed(typed(RACK)))
    for words in ([], ["--step", "first left"], ["--step", "go on"]):
        assert {**read(capsys, turned, *words), "rack": []} == {**read(capsys, RACK, *words), "rack": []}


def test_lines_name_the_hands_the_tiles_and_the_passes(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ask", RACK, "--card", "first-evening", "--top", "2"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= 80
    text = "\n".join(lines)
    named = [told for told in tell(first_evening_card()) if told.name in text]
    assert len(named) >= 2
    rack = typed(RACK)
    assert any(told.nearest(rack).picture.text() in text for told in named)
    assert "to go: " in text
    assert not any(hand.id in text for hand in first_evening_card().hands)
    assert "Worth of a tile" in text


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["1b 2b"], "A rack has 13 tiles, or 14 for the dealer; these are 2 of 13. Type the others too."),
        ([f"{RACK} 1c 2c"], "these are 15 of 14. Take some away."),
        ([RACK.replace("9d", "9x")], "At 22: 9x is no tile: x is no suit. Write 9b, 9c or 9d."),
        (
            ["1b 1b 1b 1b 1b 2b 3b 4b 5b 6b 7b 8b 9b"],
            "At 13: There are 5 of 1 bam, but the set holds 4. Take one away.",
        ),
        ([RACK, "--step", "second right"], "--step is 'second right'; it must be one of first right,"),
        ([RACK, "--step", "go on", "--passed", "1c 1c 2c 2c 3c 3c 4c 4c 5c 5c"], "Before go on at most 9 tiles"),
        ([RACK, "--passed", "1c J"], "A joker is never passed"),
        ([RACK, "--passed", "9d 10c"], "--passed: At 4: 10c has no such rank. Ranks go from 1 to 9; write 0 alone"),
        ([RACK, "--step", "first right", "--passed", "1c"], "Before first right at most 0 tiles"),
        ([RACK, "--step", "first left", "--passed", "1c 1c 2c 2c 3c 3c 4c"], "at most 6 tiles"),
        ([RACK, "--draws", "0"], "--draws is '0'"),
        ([RACK, "--draws", "100"], "it must be from 1 to 99"),
        ([RACK, "--top", "many"], "--top is 'many'"),
        ([RACK, "--card", "nowhere.toml"], "nowhere.toml: There is no such file"),
        ([], "The full screen needs a terminal"),
    ],
)
def test_what_cannot_be_is_one_sentence(words: list[str], sentence: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ask", *words]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert sentence in said.err
    assert len(said.err.splitlines()) == 1


def test_the_answer_comes_before_what_it_rests_on(capsys: pytest.CaptureFixture[str]) -> None:
    asked = {"first right": "Pass ", "go on": ("Go on", "Stop"), "courtesy offer": "Offer "}
    for step, begins in asked.items():
        assert main(["ask", RACK, "--step", step, "--card", "first-evening"]) == 0
        lines = capsys.readouterr().out.splitlines()
        assert lines[0].endswith(f"at {step}")
        assert lines[2].startswith(begins)
    assert main(["ask", f"{RACK} 2d", "--card", "first-evening"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[2].startswith("Discard ")
    groups = [line[8:].split() for line in lines if line.startswith(("keep ", "maybe ", "let go "))]
    assert sorted(tile for group in groups for tile in group) == sorted(f"{RACK} 2d".split())


def test_its_name_and_option_of_the_version_before_still_work(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["read", RACK, "--looks", "12", "--card", "first-evening", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == read(capsys, RACK, "--draws", "12")
