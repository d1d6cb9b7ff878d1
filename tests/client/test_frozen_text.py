"""The comparison of screens with frozen ones: what counts as another layout, and what a failure prints."""

from pathlib import Path

import pytest

from tests.client.frozen import FOLDER, LARGE, SMALL, check_text, layout

MENU = " Home\n\n ▸ p  Practise alone\n   q  Quit, if you have\n      had enough\n ━━━╌╌╌\n"
WIDER = "   Home\n\n\n   ▸ p  Practise    alone\n\n     q  Quit, if you have had enough\n\n   ━━━━━╌╌╌╌╌╌╌\n\n\n"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.delenv("FREEZE", raising=False)
    (tmp_path / "menu-80x24.txt").write_text(MENU, "utf-8")
    return tmp_path


def test_the_same_words_and_signs_further_apart_are_the_same_layout(folder: Path) -> None:
    assert layout(MENU) == layout(WIDER)
    check_text(WIDER, "menu", LARGE, folder)


@pytest.mark.parametrize(
    "other",
    [
        WIDER.replace("Quit", "Leave"),
        WIDER.replace("Home", "Home   Card"),
        WIDER.replace("▸ p", "p"),
        WIDER.replace("━━━━━", ""),
        "\n".join(reversed(WIDER.splitlines())),
    ],
    ids=["a word", "a column more", "a mark", "a rule less", "the order"],
)
def test_a_large_screen_without_a_picture_fails_when_its_layout_differs(folder: Path, other: str) -> None:
    with pytest.raises(pytest.fail.Exception, match=r"menu-80x24\.txt"):
        check_text(other, "menu", LARGE, folder)


def test_a_small_screen_is_compared_character_for_character(folder: Path) -> None:
    check_text(MENU, "menu", SMALL, folder)
    with pytest.raises(pytest.fail.Exception):
        check_text(MENU.replace("  Practise", "   Practise"), "menu", SMALL, folder)


def test_a_large_picture_is_compared_character_for_character(folder: Path) -> None:
    picture = WIDER.replace("Home", "Home   Card")
    (folder / "menu-120x40.txt").write_text(picture, "utf-8")
    check_text(picture, "menu", LARGE, folder)
    with pytest.raises(pytest.fail.Exception):
        check_text(picture.replace("   Card", "  Card"), "menu", LARGE, folder)


def test_a_failure_prints_its_file_and_the_difference(folder: Path) -> None:
    with pytest.raises(pytest.fail.Exception) as failed:
        check_text(MENU.replace("Quit", "Leave"), "menu", SMALL, folder)
    message = str(failed.value)
    assert message.startswith("the screen is not the one in menu-80x24.txt:\n--- menu-80x24.txt\n")
    assert "\n-   q  Quit, if you have\n+   q  Leave, if you have\n" in message


def test_a_screen_that_was_never_frozen_fails(folder: Path) -> None:
    with pytest.raises(AssertionError, match=r"other-120x40\.txt was never frozen"):
        check_text(WIDER, "other", LARGE, folder)


def test_a_large_picture_that_is_not_needed_fails(folder: Path) -> None:
    (folder / "menu-120x40.txt").write_text(WIDER, "utf-8")
    with pytest.raises(AssertionError, match=r"delete menu-120x40\.txt"):
        check_text(WIDER, "menu", LARGE, folder)


def test_freezing_writes_what_is_needed_and_deletes_the_rest(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FREEZE", "1")
    large = folder / "menu-120x40.txt"
    check_text(WIDER.replace("Quit", "Leave"), "menu", LARGE, folder)
    assert large.read_text("utf-8") == WIDER.replace("Quit", "Leave")
    check_text(WIDER, "menu", LARGE, folder)
    assert not large.exists()


def test_every_large_picture_has_another_layout_than_its_small_one() -> None:
    large = sorted(FOLDER.glob(f"*-{LARGE}.txt"))
    assert large
    for path in large:
        small = path.with_name(path.name.replace(LARGE, SMALL))
        assert layout(path.read_text("utf-8")) != layout(small.read_text("utf-8")), path.name
