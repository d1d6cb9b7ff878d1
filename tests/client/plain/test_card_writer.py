"""Writing a card line by line, as a screen reader reads it."""

import io
from pathlib import Path
from random import Random

import pytest

from client.cli import main
from client.plain.card_writer import PlainWriter, write_plainly
from client.storage.card_files import WrittenFile, cards_folder
from shared.cards import Card, read_card
from shared.cards.draft import Draft
from shared.cards.writer import Writer

LINE = "FFFF 111b 2222b 333b"


def fresh() -> PlainWriter:
    return PlainWriter(Writer(Draft("Pier", 2026)), Random(3).randrange)


def hear(writer: PlainWriter, *lines: str) -> list[str]:
    """Say lines and return the answer to the last."""
    told: list[str] = []
    for line in lines:
        told = writer.hear(line)
    return told


def test_tiles_then_a_number_are_a_hand() -> None:
    writer = fresh()
    told = hear(writer, LINE)
    assert told[:2] == [
        "Hand 1, 14 of 14. What is free about it? Type a number.",
        "1: any three ranks in a row, one suit: 21 ways",
    ]
    assert hear(writer, "1") == ["Hand 1: any three ranks in a row, one suit, 21 ways."]
    assert hear(writer, "FFFFFF NNNN EEEE")[0].startswith("Hand 2, 14 of 14.")


def test_a_line_that_cannot_be_read_says_where_and_how_to_mend_it() -> None:
    writer = fresh()
    assert hear(writer, "FFFF 111b 2222b 33") == [
        "Hand 1, 11 of 14.",
        "At 17: 33 has no suit. Write 33b, 33c or 33d.",
        "There are 11 of 14 tiles. Type the others.",
    ]
    assert hear(writer, "1") == ["There is nothing to choose. " + " ".join(writer.writer.open)]
    assert hear(writer, LINE)[0].startswith("Hand 1, "), "an open line is typed anew"
    assert hear(writer, "9") == ["Type a number from 1 to 8."]


def test_groups_are_told_and_turned_by_number_or_tiles() -> None:
    writer = fresh()
    assert hear(writer, LINE, "1", "groups")[1] == (
        "Group 2, 111b. Rank: moves with 2222b and 333b; suit: the same as 2222b and 333b."
    )
    assert hear(writer, "suit 333b") == [
        "Hand 1: any three ranks in a row, bams only, 7 ways.",
        "Group 4, 333b. Rank: moves with 111b and 2222b; suit: bams only.",
    ]
    assert hear(writer, "rank 1") == ["Group 1 has no rank to turn."]
    assert hear(writer, "wind 7") == ["Name a group by its number, 1 to 4, such as rank 2; groups tells them all."]
    hear(writer, "suit 4", "suit 4")
    assert hear(writer, "ranks 2 15") == [f"Hand 1: {writer.writer.words}, {writer.writer.ways} ways."]
    assert writer.writer.here is not None
    assert writer.writer.here.n == (1, 5)


def test_a_hand_is_told_for_the_ear() -> None:
    writer = fresh()
    told = hear(writer, LINE, "1", "value 30", "concealed", "note from the pier", "tell")
    assert told[0] == "Hand 1: four flowers, three 1 bam, four 2 bam, three 3 bam."
    assert told[1] == "any three ranks in a row, one suit, 21 ways."
    assert [line[:3] for line in told[2:4]] == ["Or ", "Or "]
    assert told[4:] == ["Jokers may stand in every group.", "It counts 30, concealed.", "from the pier"]


def test_headings_ways_undo_and_moves() -> None:
    writer = fresh()
    hear(
        writer, "heading Waves", LINE, "1", "or", "FFFF 777b 8888b 999c", "1", "heading Winds", "FFFFFF NNNN EEEE", "1"
    )
    assert hear(writer, "list") == [
        "Waves, 1 hand.",
        "1: FFFF 111b 2222b 333b; any three ranks in a row, one suit; counts 25",
        "or: FFFF 777b 8888b 999c; any three ranks in a row, two suits; counts 25",
        "Winds, 1 hand.",
        f"2: FFFFFF NNNN EEEE; {writer.writer.words}; counts 25",
    ]
    assert hear(writer, "delete") == ["Deleted; undo brings it back."]
    assert hear(writer, "undo") == ["Taken back."]
    assert len(writer.writer.draft.lines) == 2
    assert hear(writer, "open") == ["All hands are finished."]
    assert hear(writer, "hand 1")[0].startswith("Hand 1: four flowers")
    assert len(hear(writer, "try")) == 1
    assert hear(writer, "help")[0].startswith("Type an example")


def test_a_hand_that_is_there_already_is_told() -> None:
    told = hear(fresh(), LINE, "1", "FFFF 777c 8888c 999c", "1")
    assert told[1] == "This is the same hand as hand 1."


def test_the_command_writes_a_card_from_lines(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = ["heading Waves", LINE, "1", "year 2026", "value 30", "quit", "never read"]
    monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(lines)))
    assert main(["card", "write", "pier", "--plain"]) == 0
    out = capsys.readouterr().out
    assert "Pier, " in out
    card = read_card((cards_folder() / "pier.toml").read_bytes())
    assert isinstance(card, Card)
    assert [(hand.section, hand.groups, hand.value) for hand in card.hands] == [
        ("Waves", "F^4 n.p^3 n+1.p^4 n+2.p^3", 30)
    ]


def test_a_card_that_comes_with_racktempo_is_not_written_over(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["card", "write", "practice", "--plain"]) == 1
    assert "comes with racktempo and stays as it is" in capsys.readouterr().err


def test_a_file_that_is_edited_meanwhile_is_read_again_or_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "pier.toml"
    bad: list[str] = []

    def lines() -> list[str]:
        return [LINE, "1", "<break>", "value 40", "<mend>", "value 35"]

    script = iter(lines())

    def ask(_question: str) -> str:
        line = next(script, None)
        if line is None:
            raise EOFError
        if line == "<break>":
            bad.append(path.read_text("utf-8"))
            path.write_text(bad[0].replace("F^4", "F^5"), "utf-8")
            return "\n"
        if line == "<mend>":
            path.write_text(bad[0].replace('title = "Pier"', 'title = "Boathouse"'), "utf-8")
            return "\n"
        return line

    monkeypatch.setattr("client.plain.card_writer.ask", ask)
    assert write_plainly(WrittenFile(path), 2026, Random(1).randrange) == 0
    out = capsys.readouterr().out
    assert "cannot be read. Mend it there; nothing is saved before." in out
    assert "section Hands, hand #1" in out
    assert "has been read again" in out
    text = path.read_text("utf-8")
    assert ("Boathouse" in text, "value = 35" in text, "value = 40" in text) == (True, True, False)
