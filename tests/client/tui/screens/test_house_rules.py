"""The screens of a table that plays every house rule there is: nothing is lost below the last row."""

from client.tui.ports import AtHost
from shared.rules.settings import Settings
from tests.client.frozen import check_frozen, sized, text_of
from tests.client.player import at

HOUSE = Settings(
    seed=7,
    jokers=10,
    silence="stop",
    stop_unseen=True,
    blind_most=1,
    blind_at="last right",
    side_courtesy=True,
    east_complete="wins",
)


@sized
async def test_the_seats(size: tuple[int, int]) -> None:
    async with at(size, AtHost(), settings=HOUSE) as player:
        await player.press("f5")
        check_frozen(player.app, "seats-house")
        assert "wall " in text_of(player.app)


async def test_where_not_all_rules_fit_that_is_said_and_the_wall_stays() -> None:
    async with at((60, 20), AtHost(), settings=HOUSE) as player:
        await player.press("f5")
        assert "? shows the other rules" in text_of(player.app)
        assert "wall " in text_of(player.app)


@sized
async def test_the_table(size: tuple[int, int]) -> None:
    async with at(size, settings=HOUSE) as player:
        await player.press("enter")
        check_frozen(player.app, "house-dealt")
        await player.play_to("go on")
        await player.settle()
        check_frozen(player.app, "house-vote")
        await player.play_to("last right")
        await player.settle()
        check_frozen(player.app, "house-last-right")
        await player.play_to("side offer")
        await player.settle()
        check_frozen(player.app, "house-side-offer")


@sized
async def test_the_rules(size: tuple[int, int]) -> None:
    async with at(size, settings=HOUSE) as player:
        await player.press("enter", "question_mark", "r")
        check_frozen(player.app, "rules-house")
        await player.press("pagedown")
        check_frozen(player.app, "rules-house-below")
