import pytest
from rich.cells import cell_len

from client.tui.widgets.faces import face, figures, label, title
from shared.rules.tiles import KINDS, Tile, rank, word


@pytest.mark.parametrize("tile", KINDS)
@pytest.mark.parametrize(("tall", "rows"), [(False, 3), (True, 5)])
@pytest.mark.parametrize("plain", [False, True])
def test_every_face_has_its_exact_size_and_no_tile_glyph(tile: Tile, tall: bool, rows: int, plain: bool) -> None:
    drawn = face(tile, plain, tall)
    assert [cell_len(row) for row in drawn] == [3] * rows
    assert not any(0x1F000 <= ord(character) <= 0x1F02F for row in drawn for character in row)
    assert not plain or "".join(drawn).isascii()


@pytest.mark.parametrize("tall", [False, True])
@pytest.mark.parametrize("plain", [False, True])
def test_face_and_word_together_tell_every_kind_from_every_other(plain: bool, tall: bool) -> None:
    assert len({(face(tile, plain, tall), label(tile)) for tile in KINDS}) == 36


@pytest.mark.parametrize("tile", KINDS)
def test_the_word_of_every_tile_leaves_a_border_free(tile: Tile) -> None:
    assert 0 < cell_len(label(tile)) <= 4, "a word of five would run into its neighbour's"


@pytest.mark.parametrize("tile", KINDS)
def test_the_tray_says_rank_and_word(tile: Tile) -> None:
    assert cell_len(title(tile)) <= 8
    assert title(tile).startswith(str(rank(tile) or word(tile).capitalize()))


def test_ranks_differ_in_large_figures_too() -> None:
    assert len({figures(digit) for digit in "0123456789"}) == 10
    assert {len(figures(digit, large=True)) for digit in "0123456789"} == {10}


def test_figures_are_straight_columns() -> None:
    for large in (False, True):
        assert len({cell_len(row) for row in figures("0:48", large=large)}) == 1
