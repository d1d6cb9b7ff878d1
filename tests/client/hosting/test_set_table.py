"""The table of a set to take home: begun once, left and gone on with, tried again; and what is handed in replays."""

from collections.abc import Callable

import pytest

from client.connection.link import Heard
from client.hosting.alone import waiting_set
from client.hosting.set_table import open_set, where_it_stands, where_it_waits
from client.storage.heat_files import heats_folder, keep
from client.storage.sets import kept_set, result_of
from shared.cards.play import shipped_text
from shared.rules.intents import Offer, Pass, Ready, Resume, Vote
from shared.rules.set_result import Handed, SetResult, packed_result, read_result
from shared.rules.steps import STEPS
from shared.wire.messages import HeatFile, OwnHeat
from shared.wire.views import View
from tests.client.relay import in_virtual_time
from tests.take_home import SETTINGS, made, of_practice

TAKEN = made(SETTINGS.model_copy(update={"heats": 2}), seed=23)


def play_until(ends: Callable[[View], bool], again: bool = False) -> list[View]:
    """Play the set, or go on with it, until a view is the last; then leave without giving the seat up."""

    async def scene() -> list[View]:
        views = list[View]()
        async with open_set(TAKEN, "Ann", shipped_text(), "Tuesday", again) as opened:

            def hear(what: Heard) -> None:
                if isinstance(what, HeatFile | OwnHeat):
                    assert not isinstance(keep(what, heats_folder()), str)
                if not isinstance(what, View):
                    return
                views.append(what)
                heat, number = what.heat, what.heat_number
                if ends(what):
                    opened.line.close()
                elif heat is None:
                    opened.line.ask(Ready(), 0)
                elif heat.paused:
                    opened.line.ask(Resume(), number)
                elif heat.owes and heat.step:
                    tiles = tuple(tile for tile in heat.rack if tile != "J")[: heat.give]
                    asks = STEPS[heat.step].ask
                    answer = Vote(go_on=True) if asks == "vote" else Offer(count=1) if asks == "offer" else None
                    opened.line.ask(answer or Pass(step=heat.step, tiles=tiles), number)

            await opened.line.run(hear)
        return views

    return in_virtual_time(scene())


def at_step(step: str) -> Callable[[View], bool]:
    return lambda view: view.heat is not None and view.heat.step == step and not view.heat.paused


def is_over(view: View) -> bool:
    return view.phase == "over"


def handed_in(number: int = 1) -> SetResult:
    kept = kept_set(TAKEN.line)
    assert kept
    result = result_of(kept, "Ann", number)
    assert isinstance(result, SetResult), result
    return result


def test_a_set_that_is_left_waits_by_itself_and_is_marked_as_left() -> None:
    left = play_until(at_step("first across"))[-1]
    assert where_it_waits(TAKEN) == "heat 1 of 2"
    assert waiting_set() is None, "practice and sets do not meet"
    back = play_until(at_step("first across"))[-1]
    assert left.heat
    assert back.heat
    assert back.heat.rack == left.heat.rack
    assert back.heat.clock.left_ms <= left.heat.clock.left_ms
    play_until(is_over)
    kept = kept_set(TAKEN.line)
    assert kept
    assert where_it_stands(kept) == "played"
    handed = read_result(packed_result(handed_in()), of_practice)
    assert isinstance(handed, Handed), handed
    assert [heat.number for heat in handed.heats] == [1, 2]
    assert "left and gone on with 2 times" in handed.notes


def test_a_set_that_is_over_is_begun_again_only_as_another_try() -> None:
    play_until(is_over)
    with pytest.raises(ValueError, match="You have played this set"):
        play_until(is_over)
    play_until(is_over, again=True)
    kept = kept_set(TAKEN.line)
    assert kept
    assert len(kept.tries) == 2
    first, second = handed_in(1), handed_in(2)
    assert (first.number, second.number, first.tries, second.tries) == (1, 2, 2, 2)
    assert first.player == second.player
    for result in (first, second):
        assert isinstance(read_result(packed_result(result), of_practice), Handed)


def test_a_set_that_was_only_opened_is_not_begun() -> None:
    play_until(lambda view: view.phase == "seating")
    kept = kept_set(TAKEN.line)
    assert kept
    assert kept.tries == ()
    assert where_it_stands(kept) == "not begun"
    assert (kept.called, kept.maker) == ("Tuesday", False)
