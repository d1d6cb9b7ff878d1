"""Walls checked by a program of its own (verify_wall.py), written from the text in DEVELOPERS.md alone."""

import ast
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from typing import Any

import pytest

from shared.rules.heat import HEAT, SavedHeat
from shared.rules.wall_round import SILENCE_MS
from tests.tables import QUICK, Evening

PROGRAM = Path(__file__).with_name("verify_wall.py")


def faults(heat: SavedHeat) -> list[str]:
    spec = spec_from_file_location("verify_wall", PROGRAM)
    assert spec
    assert spec.loader
    module: Any = module_from_spec(spec)
    spec.loader.exec_module(module)
    found: list[str] = module.faults(HEAT.pack(heat))
    return found


def heat(people: int = 3, jokers: int = 8) -> SavedHeat:
    return Evening(QUICK.model_copy(update={"jokers": jokers}), people=people).play_heat()


def test_it_imports_nothing_of_the_project() -> None:
    nodes = list(ast.walk(ast.parse(PROGRAM.read_text())))
    plain = {name.name for node in nodes if isinstance(node, ast.Import) for name in node.names}
    parts = {node.module for node in nodes if isinstance(node, ast.ImportFrom)}
    assert plain | parts == {"hashlib", "sys", "msgpack", "typing"}


@pytest.mark.parametrize("jokers", [8, 0])
@pytest.mark.parametrize("people", [1, 2, 3, 4])
def test_every_wall_of_ours_is_right_by_the_written_protocol(people: int, jokers: int) -> None:
    assert faults(heat(people, jokers)) == []


def test_a_wall_of_the_second_attempt_is_right_too() -> None:
    evening = Evening(QUICK, people=3)
    evening.silent = {1}
    evening.ready()
    evening.wait(SILENCE_MS)
    played = evening.play_heat()
    assert len(played.attempts) == 2
    assert faults(played) == []


def test_it_finds_another_secret_another_value_and_another_hash() -> None:
    played = heat()
    (attempt,) = played.attempts
    swapped = (attempt.values[1], attempt.values[0], *attempt.values[2:])
    for changes in (
        {"secret": bytes(32)},
        {"contributions": swapped},
        {"contributions": swapped, "attempts": (attempt.model_copy(update={"values": swapped}),)},
        {"attempts": (attempt.model_copy(update={"hashes": (bytes(32), *attempt.hashes[1:])}),)},
        {"table_id": "another"},
    ):
        assert faults(played.model_copy(update=changes))
