"""The frozen coach gives the numbers that the first release's coach gave on the day it was copied.

`figures.json` was written by `shared.coach` of that day, not by the copy: see README.md in this folder.
"""

import ast
import json
from pathlib import Path
from typing import Any, get_args

import numpy as np
import pytest

from shared.rules.typed_tiles import typed
from tests.bench.first_release import charlestons
from tests.bench.first_release.engine import PLAY, THOROUGH, Effort
from tests.bench.first_release.passes import PASSES, Position
from tests.bench.first_release.policies import Strength, choose
from tests.bench.first_release.release import card, engine, goes_on

HERE = Path(__file__).parent
FIGURES: dict[str, Any] = json.loads((HERE / "figures.json").read_text())


def position_of(figure: dict[str, Any]) -> Position:
    gives = tuple(figure["gives"])
    return Position(
        typed(figure["rack"]),
        tuple(typed(figure["passed"])),
        figure["later"],
        gives,
        blind=figure["blind"],
        courtesy=figure["courtesy"],
        made=figure["made"],
    )


@pytest.mark.parametrize("figure", FIGURES["rankings"], ids=lambda figure: f"{figure['step']}-{figure['seed']}")
def test_rankings_are_those_of_the_first_release(figure: dict[str, Any]) -> None:
    position = position_of(figure)
    efforts = {"play": PLAY, "thorough": Effort(THOROUGH.leaders, 32, True)}
    for name, told in figure["efforts"].items():
        ranking = engine().rank(position, figure["seed"], efforts[name])
        leading = ranking.passes[: len(told)]
        assert [[" ".join(each.tiles), each.blind] for each in leading] == [each[:2] for each in told]
        assert [each.points for each in leading] == pytest.approx([each[2] for each in told], abs=1e-5)
        if name == "thorough":
            assert [each.gift for each in leading] == pytest.approx([each[3] for each in told], abs=1e-4)
    assert engine().committed(position) == pytest.approx(figure["committed"], abs=1e-5)


@pytest.mark.parametrize("figure", FIGURES["bots"], ids=lambda figure: f"{figure['step']}-{figure['seed']}")
def test_bots_pass_what_those_of_the_first_release_passed(figure: dict[str, Any]) -> None:
    position = position_of(figure)
    assert set(figure["passes"]) == set(get_args(Strength))
    for strength, told in figure["passes"].items():
        choice = choose(engine(), position, strength, np.random.Generator(np.random.PCG64(figure["seed"])))
        assert [" ".join(choice.tiles), choice.blind] == told, strength


def test_bots_vote_as_those_of_the_first_release_did() -> None:
    votes = [goes_on(engine(), position_of(figure), figure["seed"]) for figure in FIGURES["votes"]]
    assert votes == [figure["goes on"] for figure in FIGURES["votes"]]
    assert set(votes) == {True, False}


def test_the_flow_and_the_softened_greedy_seats_are_those_of_the_first_release() -> None:
    assert engine().flow.shape == (PASSES, 35)
    np.testing.assert_allclose(engine().flow, FIGURES["flow"], rtol=1e-9)
    played = charlestons.play(engine().patterns, np.random.Generator(np.random.PCG64(11)), 8)
    assert played.racks.tolist() == FIGURES["charlestons"]


def test_the_card_is_the_practice_card_of_that_day() -> None:
    assert (len(card().hands), len(engine().patterns)) == (FIGURES["hands"], FIGURES["variants"])


_GROUND = ("shared.cards", "shared.rules.tiles", "shared.rules.typed_tiles", "tests.bench.first_release")


@pytest.mark.parametrize("path", sorted(HERE.glob("*.py")), ids=lambda path: path.stem)
def test_the_frozen_coach_stands_on_cards_and_tiles_alone(path: Path) -> None:
    tree = ast.parse(path.read_text())
    names = [node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    names += [alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names]
    ours = {name for name in names if name.split(".")[0] in ("shared", "server", "client", "tests")}
    assert all(name.startswith(_GROUND) for name in ours)
