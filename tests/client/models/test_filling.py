"""A rack played on: the many games or the one, and what each key asks."""

from client.models.filling import FillModel
from shared.cards import practice_card
from shared.coach.coach import Coach
from shared.coach.engine import Engine
from shared.coach.filling import one_game
from shared.coach.passes import Position
from shared.rules.typed_tiles import typed

RACK = typed("1b 1b 3b 5c 5c 5c 6c 6c 7c F F F J")
TURNS = one_game(Coach(practice_card(), Engine.of_card(practice_card())), Position(RACK, (), 0, (), made=6), 1)


def test_space_deals_one_game_and_then_draws_to_its_end() -> None:
    model = FillModel(RACK)
    assert model.press("space") == "deal"
    model.deal(TURNS)
    assert (model.shows, model.drawn) == ("one", 1)
    for _ in TURNS:
        assert model.press("space") == ""
    assert model.is_over
    assert model.drawn == len(TURNS) - 1
    model.press("left")
    assert model.drawn == len(TURNS) - 2
    assert not model.is_over


def test_enter_leads_back_to_the_many_games_and_space_to_the_same_one() -> None:
    model = FillModel(RACK)
    model.deal(TURNS)
    model.press("enter")
    assert model.shows == "many"
    assert model.press("space") == ""
    assert (model.shows, model.drawn) == ("one", 1)
    assert model.press("n") == "deal"


def test_x_stops_the_coach_and_lets_it_begin_again() -> None:
    model = FillModel(RACK, running=True)
    assert model.press("x") == "stop"
    model.running = False
    assert model.press("x") == "again"
    assert model.press("q") == "back"
