"""racktempo card, and the card that solo and host are told to play by."""

from pathlib import Path

import pytest

from client.cli import main
from client.hosting.table import play_bots
from client.storage.card_files import BadCard, card_names, cards_folder, find_card, table_card
from client.storage.heat_files import keep_heat
from client.storage.verify import read_heat
from shared.cards import first_evening_card, practice_card, tell
from shared.cards.play import MAX_TEXT_BYTES, shipped_text
from shared.rules.heat import SavedHeat, sealed
from shared.rules.settings import Settings

OWN = shipped_text("first-evening").replace("2026", "2031")
FAULTY = """
[card]
title = "Two faults"
year = 2026
[[section]]
name = "One"
about = "Both hands are wrong."
[[section.hand]]
id = "few"
groups = "F^4 N^4"
concealed = false
value = 25
[[section.hand]]
id = "face"
groups = "F^4 N^4 Q^6"
concealed = false
value = 25
"""


def own_card(name: str, text: str) -> Path:
    path = cards_folder() / f"{name}.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, "utf-8")
    return path


def test_a_card_in_order_is_counted(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["card", "check", "practice"]) == 0
    assert f"{len(practice_card().hands)} hands" in capsys.readouterr().out


def test_every_fault_of_a_card_is_told_with_its_place(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "faulty.toml"
    path.write_text(FAULTY, "utf-8")
    assert main(["card", "check", str(path)]) == 1
    lines = capsys.readouterr().out.splitlines()
    assert [("hand few" in line, "hand face" in line) for line in lines] == [(True, False), (False, True)]
    assert all(line.startswith(f"{path}: ") for line in lines)


@pytest.mark.parametrize("words", [["check", "nowhere.toml"], ["show", "nowhere.toml"]])
def test_a_card_that_is_not_there_is_one_sentence(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["card", *words]) == 1
    said = capsys.readouterr()
    where = f"no card of this name in your cards folder, {cards_folder()}."
    assert (said.out + said.err).strip() == f"nowhere.toml: There is no such file, and {where}"


def test_a_check_needs_a_card(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["card", "check"]) == 2
    assert "needs FILE" in capsys.readouterr().err


def test_show_prints_the_practice_card_unless_another_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["card", "show"]) == 0
    assert practice_card().title in capsys.readouterr().out
    assert main(["card", "show", "first-evening"]) == 0
    assert tell(first_evening_card())[0].name in capsys.readouterr().out


def test_a_players_own_card_goes_by_the_name_of_its_file() -> None:
    own_card("club night", OWN)
    assert card_names() == ("practice", "first-evening", "club night")
    assert find_card("club night").card.year == 2031
    assert table_card("club night") == OWN
    assert table_card(None) == ""


def test_a_mark_that_an_editor_puts_first_is_no_part_of_the_card(tmp_path: Path) -> None:
    path = tmp_path / "marked.toml"
    path.write_bytes(b"\xef\xbb\xbf" + OWN.encode())
    assert find_card(str(path)).text == OWN


def test_a_card_that_is_too_long_for_a_table_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "long.toml"
    path.write_text(OWN + "#" * MAX_TEXT_BYTES, "utf-8")
    find_card(str(path))
    with pytest.raises(BadCard, match="a table takes 64 KiB"):
        table_card(str(path))


@pytest.mark.parametrize("command", ["solo", "host"])
def test_a_table_is_not_opened_on_a_bad_card(command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "faulty.toml"
    path.write_text(FAULTY, "utf-8")
    assert main([command, "--card", str(path)]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 2


def test_a_set_is_played_by_the_named_card_and_its_heats_keep_it(tmp_path: Path) -> None:
    path = own_card("club night", OWN)
    words = ["solo", "--plain", "--autoplay", "--seed", "3", "--heats", "1", "--card", str(path)]
    assert main([*words, "--save", str(tmp_path / "heats")]) == 0
    heat = read_heat(next((tmp_path / "heats").glob("*.heat")))
    assert isinstance(heat, SavedHeat)
    assert heat.card == OWN


def test_a_heat_whose_card_cannot_be_read_is_not_all_well(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    heat = play_bots(Settings(seed=3, heats=1))[0]
    kept = keep_heat(sealed(heat.model_copy(update={"card": FAULTY})), tmp_path)
    assert not isinstance(kept, str)
    assert main(["verify", str(kept.path)]) == 1
    assert "card" in capsys.readouterr().out
