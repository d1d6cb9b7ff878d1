"""Whole sets over real sockets in virtual time: one server, four clients, exact times."""

import asyncio
from collections.abc import Callable

from shared.rules.intents import Ready, SeatBot
from shared.rules.settings import Settings
from shared.wire.views import View
from tests.server.players import Player, four_players, open_house, play_heat


async def test_four_people_play_a_set_and_are_charged_what_they_took() -> None:
    settings = Settings(seed=7, heats=3)
    async with open_house(settings) as house, four_players(house.listener.port) as players:
        for number in (1, 2, 3):
            await asyncio.gather(*(play_heat(player, number, _steady(chair)) for chair, player in enumerate(players)))
        views = [await player.until(lambda view: view.phase == "over") for player in players]
    assert [result.number for result in views[0].results] == [1, 2, 3]
    steps = 0
    for view in views:
        assert view.results == views[0].results
    for result in views[0].results:
        for seat in result.seats:
            assert seat.total_ms == sum(spent.spent_ms for spent in seat.spent)
            for spent in seat.spent:
                assert spent.by == "person"
                assert spent.spent_ms == 500 + 700 * seat.chair
                steps += 1
    assert steps >= 3 * 4 * 8


async def test_the_deal_moves_one_chair_to_the_right_after_each_heat() -> None:
    settings = Settings(seed=7, heats=3)
    easts = []
    async with open_house(settings) as house, four_players(house.listener.port) as players:
        for number in (1, 2, 3):
            easts.append(players[0].view and players[0].view.east)
            await asyncio.gather(*(play_heat(player, number, lambda view: 100) for player in players))
    assert easts == [0, 1, 2]


async def test_one_person_and_three_birds_play_a_set() -> None:
    async with open_house(Settings(seed=3, heats=2)) as house:
        ann = Player(house.listener.port)
        await ann.come()
        for number in (1, 2):
            await play_heat(ann, number, lambda view: 1_000)
        view = await ann.until(lambda view: view.phase == "over")
        assert [chair.sitter for chair in view.chairs] == ["person", "bot", "bot", "bot"]
        by = {spent.by for result in view.results for seat in result.seats for spent in seat.spent if seat.chair}
        assert by == {"bot"}
        await ann.go()


async def test_a_seat_changes_between_person_and_bird_in_the_middle_of_a_heat() -> None:
    async with open_house(Settings(seed=3, heats=1)) as house, four_players(house.listener.port) as players:
        ann, bo = players[0], players[1]
        for player in players:
            await player.send(Ready())
        await ann.until(lambda view: view.phase == "heat")
        assert (await ann.ask(SeatBot(chair=1))).kind == "done"
        view = await bo.until(lambda view: view.chairs[1].sitter == "bot")
        assert view.chairs[1].connected
        await asyncio.gather(*(play_heat(player, 1, lambda view: 200) for player in (ann, *players[2:])))
        result = (await bo.until(lambda view: view.phase == "over")).results[0]
        assert {spent.by for seat in result.seats if seat.chair == 1 for spent in seat.spent} == {"bot"}


def _steady(chair: int) -> Callable[[View], int]:
    return lambda view: 500 + 700 * chair
