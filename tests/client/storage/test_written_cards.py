"""The file of a card that is being written: whole or not at all, and never over what somebody else has changed."""

import os
from pathlib import Path

import pytest

from client.storage.card_files import (
    BadCard,
    WrittenFile,
    begin_card,
    card_names,
    cards_folder,
    file_to_write,
    fresh_name,
)
from shared.cards.draft import Draft, DraftLine, DraftRow, DraftSection, text_of

LINE = "FFFF 111b 2222b 333"
HALF = text_of(Draft("Pier", 2026, sections=(DraftSection("Waves", lines=(DraftLine((DraftRow(LINE),)),)),)))


def test_a_half_written_card_is_kept_and_comes_back(tmp_path: Path) -> None:
    file = WrittenFile(tmp_path / "pier.toml")
    assert file.write(HALF)
    draft = begin_card(WrittenFile(tmp_path / "pier.toml"), 2031)
    assert [line.rows[0].typed for line in draft.sections[0].lines] == [LINE]
    assert draft.year == 2026


def test_a_card_that_is_new_is_called_as_its_file(tmp_path: Path) -> None:
    draft = begin_card(WrittenFile(tmp_path / "club night.toml"), 2031)
    assert (draft.title, draft.year, draft.share, draft.lines) == ("Club night", 2031, False, ())


def test_what_somebody_else_has_changed_is_told_once_and_not_written_over(tmp_path: Path) -> None:
    file = WrittenFile(tmp_path / "pier.toml")
    assert file.write(HALF)
    assert file.changed() is None
    file.path.write_text(HALF.replace("Pier", "Boathouse"), "utf-8")
    assert not file.write(HALF)
    assert not file.write(HALF), "being refused once is no leave to write"
    assert b"Boathouse" in (file.changed() or b"")
    assert file.changed() is None
    assert file.write(HALF)
    assert file.path.read_text("utf-8") == HALF


def test_a_file_that_was_only_touched_has_not_changed(tmp_path: Path) -> None:
    file = WrittenFile(tmp_path / "pier.toml")
    file.write(HALF)
    os.utime(file.path, (1, 1))
    assert file.changed() is None
    assert file.write(HALF + "\n")


def test_writing_over_is_possible_when_it_is_asked_for(tmp_path: Path) -> None:
    file = WrittenFile(tmp_path / "pier.toml")
    file.write(HALF)
    file.path.write_text("broken", "utf-8")
    assert file.write(HALF, over=True)
    assert file.path.read_text("utf-8") == HALF


def test_a_write_that_fails_leaves_the_old_file_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = WrittenFile(tmp_path / "pier.toml")
    file.write(HALF)

    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("client.storage.files.os.fsync", full)
    with pytest.raises(BadCard, match="could not be saved"):
        file.write(HALF.replace("Pier", "Boathouse"))
    assert file.path.read_text("utf-8") == HALF
    assert [path.name for path in tmp_path.iterdir()] == ["pier.toml"]


def test_a_file_with_faults_is_not_begun(tmp_path: Path) -> None:
    path = tmp_path / "pier.toml"
    path.write_text(HALF.replace("year = 2026", ""), "utf-8")
    with pytest.raises(BadCard, match="year is missing"):
        begin_card(WrittenFile(path), 2026)


def test_names_and_paths_lead_to_files(tmp_path: Path) -> None:
    assert file_to_write("pier").path == cards_folder() / "pier.toml"
    assert file_to_write(str(tmp_path / "x.toml")).path == tmp_path / "x.toml"
    assert file_to_write().path == cards_folder() / "my card.toml"
    for number, name in enumerate(("one", "two", "three")):
        file_to_write(name).write(HALF)
        os.utime(cards_folder() / f"{name}.toml", (number, number))
    assert file_to_write().path.stem == "three"
    file_to_write("my card").write(HALF)
    assert fresh_name() == "my card 2"
    assert "my card" in card_names()


@pytest.mark.parametrize("name", ["practice", "first-evening", "", " ", ".hidden", "a\x1b", "x" * 300])
def test_some_names_cannot_be_those_of_a_card_of_ones_own(name: str) -> None:
    with pytest.raises(BadCard):
        file_to_write(name)
