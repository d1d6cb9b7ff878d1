"""A cut line costs nothing: whoever comes back sees and plays exactly what a twin does that was never cut."""

import asyncio
from collections.abc import Awaitable, Callable

import pytest

from shared.rules.intents import Intent, Ready
from shared.rules.settings import Settings
from shared.wire.messages import Done, HeatFile, OwnHeat, Refused
from shared.wire.views import View
from tests.server.players import Player, answer_to, four_players, open_house, owes, play_heat

SETTINGS = Settings(seed=11, heats=2)
Before = Callable[[Player], Awaitable[None]]
Say = Callable[[Player, Intent], Awaitable[None]]


async def whole_set(before: Before, say: Say) -> tuple[dict[str, View], View]:
    """Play a set in which the first person does something before each answer and has a way of saying it.

    Returns what that person saw at each step, and at the end.
    """
    seen: dict[str, View] = {}
    async with open_house(SETTINGS) as house, four_players(house.listener.port) as players:
        for number in (1, 2):
            others = (play_heat(player, number, lambda view: 900) for player in players[1:])
            await asyncio.gather(_play(players[0], number, seen, before, say), *others)
        return seen, await players[0].until(lambda view: view.phase == "over")


async def _play(player: Player, number: int, seen: dict[str, View], before: Before, say: Say) -> None:
    await say(player, Ready())
    while True:
        await player.until(lambda view: owes(view) or len(view.results) >= number)
        await before(player)
        view = await player.until(lambda view: True)
        seen[f"{number} {view.heat and view.heat.step}"] = view
        if len(view.results) >= number:
            return
        await asyncio.sleep(0.4)
        await say(player, answer_to(view))


async def _stay(player: Player) -> None:
    pass


async def _cut(player: Player) -> None:
    await player.cut()
    await player.come()


async def _once(player: Player, intent: Intent) -> None:
    assert isinstance(await player.ask(intent), Done)


async def _twice(player: Player, intent: Intent) -> None:
    number = await player.send(intent)
    assert isinstance(await player.ask(intent, number), Done)


async def _cut_and_again(player: Player, intent: Intent) -> None:
    """Send, lose the line before the reply is heard, come back, and send the same command again."""
    number = await player.send(intent)
    await _cut(player)
    assert isinstance(await player.ask(intent, number), Done)


async def _cut_unheard_and_again(player: Player, intent: Intent) -> None:
    """Lose the line with the command still in one's hand, come back, and send it."""
    await _cut(player)
    await _once(player, intent)


def _same(view: View) -> dict[str, object]:
    """A view without its number, which counts what one line was told."""
    return view.model_dump(exclude={"revision"})


@pytest.mark.parametrize(
    ("before", "say"),
    [(_stay, _twice), (_cut, _once), (_stay, _cut_and_again), (_stay, _cut_unheard_and_again), (_cut, _cut_and_again)],
    ids=["sent twice", "cut at every step", "cut after every send", "cut before every send", "cut all the time"],
)
async def test_cuts_and_repeats_at_every_step_change_nothing(before: Before, say: Say) -> None:
    twin_saw, twin_end = await whole_set(_stay, _once)
    saw, end = await whole_set(before, say)
    assert list(saw) == list(twin_saw)
    assert len(saw) >= 16
    for moment, view in saw.items():
        assert _same(view) == _same(twin_saw[moment]), moment
    assert _same(end) == _same(twin_end)


async def test_a_seat_whose_line_is_away_keeps_its_person_and_its_clock_runs_on() -> None:
    async with open_house(SETTINGS) as house:
        ann = Player(house.listener.port)
        await ann.come()
        await ann.send(Ready())
        view = await ann.until(lambda view: view.heat is not None)
        assert view.heat
        left_ms = view.heat.clock.left_ms
        await ann.cut()
        await asyncio.sleep(7)
        await ann.come()
        assert ann.view
        assert ann.view.heat
        assert ann.view.chairs[0].sitter == "person"
        assert ann.view.heat.clock.left_ms == left_ms - 7_000


async def test_the_others_see_who_is_away() -> None:
    async with open_house(SETTINGS) as house, four_players(house.listener.port) as players:
        await players[2].cut()
        view = await players[0].until(lambda view: not view.chairs[2].connected)
        assert view.chairs[2].sitter == "person"
        await players[2].come()
        await players[0].until(lambda view: view.chairs[2].connected)


async def test_heats_that_ended_while_one_was_away_are_sent_on_return() -> None:
    async with open_house(Settings(seed=11, heats=1)) as house, four_players(house.listener.port) as players:
        for player in players:
            await player.send(Ready())
        await players[0].until(lambda view: view.heat is not None)
        await players[0].cut()
        players[0].heard.clear()
        await asyncio.gather(*(play_heat(player, 1, lambda view: 300) for player in players[1:]))
        await players[0].come()
        kinds = {type(message) for message in players[0].heard}
        assert {HeatFile, OwnHeat} <= kinds


async def test_an_old_frame_replayed_later_changes_nothing() -> None:
    async with open_house(SETTINGS) as house, four_players(house.listener.port) as players:
        for player in players:
            await player.send(Ready())
        for player in players:
            view = await player.until(owes)
            await player.ask(answer_to(view))
        view = await players[0].until(lambda view: view.heat is not None and view.heat.step == "first across")
        assert view.heat
        reply = await players[0].ask(answer_to(view), number=2)
        assert isinstance(reply, Done | Refused)
        assert players[0].view
        assert players[0].view.heat
        assert not players[0].view.heat.answered
