"""A terminal that is small, or made small during a heat: the whole rack, the clock and the keys stay in sight."""

import re

import pytest

from client.models.rack import PLACES
from shared.rules.tiles import by_suit
from tests.client.frozen import text_of
from tests.client.player import Player, at

SIZES = [(60, 20), (60, 23), (60, 24), (60, 36), (72, 20), (74, 20), (80, 20), (80, 24)]

_NO_BRACKETS = str.maketrans("[]", "  ")


def _check_all_in_sight(player: Player, size: tuple[int, int]) -> None:
    rows = text_of(player.app).splitlines()
    letters = [row for row in rows if "   b   " in row or "   i   " in row]
    # A card's words may stand beside the rack, so that a row is read up to its first word of several letters.
    named = [letter for row in letters for letter in re.split(r"  \w\w", row)[0].translate(_NO_BRACKETS).split()]
    assert named == list(PLACES[: len(player.model.rack.tiles)]), size
    assert any("███" in row or "0:4" in row for row in rows), size
    assert "First right: lift 3 more" in text_of(player.app)
    assert "q leave" in rows[-1]
    tiles = [row for row in rows if "Jokr" in row or "Wind" in row or "Bam" in row]
    assert sum(row.count(word) for row in tiles for word in ("Bam", "Crak", "Dot", "Wind", "Red", "Grn")) >= 5


@pytest.mark.parametrize("size", SIZES)
async def test_a_small_terminal_shows_every_tile(size: tuple[int, int]) -> None:
    async with at(size) as player:
        await player.press("enter")
        _check_all_in_sight(player, size)


async def test_a_terminal_made_smaller_and_larger_shows_every_tile_again() -> None:
    async with at((120, 40)) as player:
        await player.press("enter")
        for size in (*SIZES, (120, 40)):
            await player.pilot.resize_terminal(*size)
            await player.until(lambda width=size[0]: max(map(len, text_of(player.app).splitlines())) <= width)  # type: ignore[misc]
            _check_all_in_sight(player, size)


async def test_lifted_tiles_are_told_from_the_others_where_nothing_can_rise() -> None:
    async with at((60, 20)) as player:
        await player.press("enter")
        await player.press(*player.free()[:3])
        assert text_of(player.app).count("╔") == 3
        assert "ready for" in text_of(player.app)


async def test_on_a_tall_and_narrow_screen_the_clock_stands_in_nobodys_name() -> None:
    async with at((65, 70)) as player:
        await player.press("enter")
        _check_all_in_sight(player, (65, 70))
        (beside,) = [row for row in text_of(player.app).splitlines() if "north, left" in row]
        assert re.fullmatch(r"  north, left  +█.*█  +south, right *", beside)


@pytest.mark.parametrize("size", [(60, 20), (72, 20), (78, 22)])
async def test_after_a_heat_a_small_terminal_shows_all_four_with_their_seconds_and_racks(size: tuple[int, int]) -> None:
    async with at(size) as player:
        await player.press("enter")
        await player.play_to("the end")
        await player.settle()
        await player.press("t")
        rows = text_of(player.app).splitlines()
        assert player.model.view
        (result,) = player.model.view.results
        names = ["you", "Wren", "Plover", "Avocet"]
        assert any(row.split()[-4:] == names for row in rows)
        (whole,) = [row for row in rows if row.startswith(" whole heat")]
        assert len(re.findall(r"\d+\.\d", whole)) >= 4
        await player.press("h")
        rows = text_of(player.app).splitlines()
        for name, seat in zip(names, result.seats, strict=True):
            (rack,) = [row for row in rows if row.startswith(f" {name} ")]
            assert rack.split()[-len(seat.final) :] == list(by_suit(seat.final))


@pytest.mark.parametrize("size", [(49, 30), (40, 12), (100, 19)])
async def test_without_room_for_tiles_the_table_says_so_and_tells_clock_and_rack(
    size: tuple[int, int],
) -> None:
    async with at(size) as player:
        await player.press("enter")
        await player.press(player.free()[0])
        assert "Make it 60x20 or larger." in " ".join(text_of(player.app).split())
        shown = " ".join(text_of(player.app).split())
        assert re.search(r"First right 0:4\d", shown)
        rack = player.model.rack
        for at_place, tile in enumerate(rack.tiles):
            lifted = "*" if at_place in rack.lifted else ""
            assert f"{PLACES[at_place]}:{tile}{lifted} " in f"{shown} "
        assert shown.count("*") == 1
        assert f"Too small: {size[0]}x{size[1]}." in shown
        await player.press("u")
        await player.pilot.resize_terminal(80, 24)
        await player.until(lambda: "Too small" not in text_of(player.app))
        _check_all_in_sight(player, (80, 24))


async def test_without_room_for_tiles_each_question_names_its_keys() -> None:
    async with at((54, 18)) as player:
        await player.press("enter")
        for step, keys in (("go on", "1 goes on, 0 stops"), ("courtesy offer", "0 to 3 tiles")):
            await player.play_to(step)
            await player.settle()
            assert keys in text_of(player.app), step


async def test_at_the_seats_nothing_is_cut_without_a_mark() -> None:
    async with at((54, 24)) as player:
        shown = text_of(player.app)
        assert "at  192.0.2.20:15214  or  198.51.100.7:…\n" in shown
        assert " ".join(shown.split()).count("The first pass has 43 s.") == 1
