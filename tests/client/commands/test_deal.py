"""racktempo deal: a sheet that prints well, the same for everybody who names its number."""

from pathlib import Path

import pytest

from client.cli import main
from client.reports.deal_sheet import NEXT_SHEET, WIDTH, sheets
from shared.rules.laid_out import of_seed

ROWS = 60
"""Lines on a sheet of paper, at six to the inch with margins."""


def printed(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["deal", *words]) == 0
    return capsys.readouterr().out


def refused(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["deal", *words]) != 0
    return capsys.readouterr().err


def test_a_sheet_tells_what_to_take_and_below_the_fold_what_to_lay(capsys: pytest.CaptureFixture[str]) -> None:
    told = printed(capsys, "--seed", "7", "--real")
    above, below = told.split("fold here")
    assert "Take these 14 tiles, and you are East:" in above
    assert "  craks    5 6 9\n" in above
    assert "  1  first right      5d   6d   G\n" in below
    assert "5d   6d" not in above
    assert told == sheets(of_seed(7))


@pytest.mark.parametrize("seed", range(20))
def test_a_sheet_fits_on_paper_in_any_letters(seed: int) -> None:
    for sheet in sheets(of_seed(seed), 2).split(NEXT_SHEET):
        assert sheet.isascii()
        assert len(sheet.splitlines()) <= ROWS
        assert max(map(len, sheet.splitlines())) <= WIDTH


def test_two_people_get_a_sheet_each_of_the_same_deal(capsys: pytest.CaptureFixture[str]) -> None:
    first, second = printed(capsys, "--seed", "7", "--real", "--people", "2").split(NEXT_SHEET)
    assert first.replace("sheet 1 of 2", "sheet 2 of 2") == second


def test_thirteen_tiles_are_another_rack_of_the_same_deal(capsys: pytest.CaptureFixture[str]) -> None:
    assert "Take these 13 tiles:" in printed(capsys, "--seed", "7", "--tiles", "13")


def test_a_drill_is_laid_out_too(capsys: pytest.CaptureFixture[str]) -> None:
    told = printed(capsys, "rival", "--seed", "7", "--real")
    assert told.startswith("Real tiles: the rival hand, deal 7")
    assert told == printed(capsys, "rival", "--seed", "7")


def test_without_a_seed_the_number_that_gives_it_again_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    told = printed(capsys, "--real")
    number = told.splitlines()[0].split()[-1]
    assert told == printed(capsys, "--real", "--seed", number)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--people", "3"), "--people is '3'; it must be 1 or 2."),
        (("--tiles", "12"), "--tiles is '12'; it must be 13 or 14."),
        (("--heat", "0"), "--heat is '0'; it must be 1 to 12."),
        (("--seed", "x"), "seed"),
        (("rival", "--tiles", "13"), "--tiles and --heat are for deals from a seed."),
    ],
)
def test_what_cannot_be_is_told(capsys: pytest.CaptureFixture[str], words: tuple[str, ...], said: str) -> None:
    assert said in refused(capsys, *words)


def test_a_file_that_is_none_is_told(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert "cannot be read" in refused(capsys, str(tmp_path / "none.heat"))
