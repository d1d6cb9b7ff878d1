"""A set of four bots, told so that anybody can check it from the text alone."""

import json
from collections import Counter
from hashlib import sha256
from typing import Any

import pytest

from client.hosting.table import play_bots
from client.reports.bot_set import set_as_json, set_as_text
from shared.cards import Card
from shared.cards.play import card_of, shipped_text
from shared.cards.tell import tell
from shared.rules.settings import Settings
from shared.rules.tiles import COPIES

WINDS = ("east", "south", "west", "north")


def told(**settings: Any) -> dict[str, Any]:
    chosen = Settings(**settings)
    parsed: dict[str, Any] = json.loads(set_as_json(chosen, play_bots(chosen)))
    return parsed


@pytest.fixture(scope="module")
def whole() -> dict[str, Any]:
    return told(seed=7)


def test_the_same_seed_is_the_same_text_and_another_seed_another() -> None:
    texts = [set_as_json(Settings(seed=seed), play_bots(Settings(seed=seed))) for seed in (7, 7, 8)]
    assert texts[0] == texts[1] != texts[2]


def test_without_a_seed_every_set_is_another() -> None:
    first, second = told(heats=1), told(heats=1)
    assert first["seed"] is None
    assert first["heats"][0]["secret"] != second["heats"][0]["secret"]


def test_a_set_has_its_heats_and_the_deal_moves_on(whole: dict[str, Any]) -> None:
    assert [heat["number"] for heat in whole["heats"]] == [1, 2, 3]
    assert [heat["east_chair"] for heat in whole["heats"]] == [0, 1, 2]
    assert whole["settings"]["heats"] == 3


def test_every_commitment_is_that_of_the_secret(whole: dict[str, Any]) -> None:
    for heat in whole["heats"]:
        secret = bytes.fromhex(heat["secret"])
        assert sha256(b"racktempo wall\0" + secret).hexdigest() == heat["commitment"]


def test_the_final_racks_follow_from_the_deal_and_the_packets_alone(whole: dict[str, Any]) -> None:
    for heat in whole["heats"]:
        racks = {wind: Counter(rack) for wind, rack in heat["dealt"].items()}
        assert [racks[wind].total() for wind in WINDS] == [14, 13, 13, 13]
        for step in heat["steps"]:
            for packet in step.get("packets", ()):
                assert "J" not in packet["tiles"]
                racks[packet["to"]].update(packet["tiles"])
                racks[packet["from"]].subtract(packet["tiles"])
            assert [racks[wind].total() for wind in WINDS] == [14, 13, 13, 13]
            assert all(count >= 0 for rack in racks.values() for count in rack.values())
        assert {wind: +rack for wind, rack in racks.items()} == {
            wind: Counter(rack) for wind, rack in heat["final"].items()
        }
        everything = sum(racks.values(), Counter[str]())
        assert all(count <= COPIES[tile] for tile, count in everything.items())  # type: ignore[index]


def test_packets_travel_the_way_that_the_step_says(whole: dict[str, Any]) -> None:
    by = {"right": 1, "across": 2, "left": 3}
    for step in whole["heats"][0]["steps"]:
        for packet in step.get("packets", ()):
            assert WINDS.index(packet["to"]) == (WINDS.index(packet["from"]) + by[step["direction"]]) % 4


def test_votes_and_courtesy_numbers_are_told(whole: dict[str, Any]) -> None:
    steps = {step["step"]: step for step in whole["heats"][0]["steps"]}
    assert [vote["seat"] for vote in steps["go on"]["votes"]] == list(WINDS)
    counts = [offer["count"] for offer in steps["courtesy offer"]["offers"]]
    agreed = [steps["courtesy offer"]["agreed"][wind] for wind in WINDS]
    assert agreed == [min(counts[seat], counts[(seat + 2) % 4]) for seat in range(4)]
    for packet in steps["courtesy give"]["packets"]:
        assert len(packet["tiles"]) == agreed[WINDS.index(packet["from"])]


def test_nobody_takes_longer_than_the_clock_allows(whole: dict[str, Any]) -> None:
    for heat in whole["heats"]:
        for wind in WINDS:
            spent = [
                answer["seconds"]
                for step in heat["steps"]
                for answer in (*step.get("packets", ()), *step.get("votes", ()), *step.get("offers", ()))
                if wind in (answer.get("from"), answer.get("seat"))
            ]
            assert 0 < sum(spent) <= 180


def test_where_passes_come_from_the_wall_nothing_is_passed_to_a_neighbour() -> None:
    heat = told(seed=7, incoming="wall", heats=1)["heats"][0]
    packets = [packet for step in heat["steps"] for packet in step.get("packets", ())]
    assert {packet["to"] for packet in packets} == {"wall"}
    came = heat["steps"][0]["came"]
    assert all(len(tiles) == 3 for tiles in came.values())


def test_the_readable_text_names_everybody_and_every_step() -> None:
    settings = Settings(seed=7, heats=1, plan=True)
    text = set_as_text(settings, play_bots(settings))
    for word in ("Heron", "Wren", "Plover", "Avocet", "First right:", "Go on:", "Courtesy offer:", "Plan:", "Seed 7"):
        assert word in text


def test_a_planned_hand_is_named_as_the_card_shows_it_and_keeps_its_id_in_the_json() -> None:
    settings = Settings(seed=5, heats=1, plan=True, bot_skill="coach, at a glance", bot_pace="quick")
    text = shipped_text("first-evening")
    heats, card = play_bots(settings, card=text), card_of(text)
    assert isinstance(card, Card)
    names = {told.hand.id: told.name for told in tell(card)}
    plans = [
        plan for step in json.loads(set_as_json(settings, heats))["heats"][0]["steps"] for plan in step.get("plans", ())
    ]
    assert {plan["hand"] for plan in plans} <= set(names)
    assert [plan["name"] for plan in plans] == [names[plan["hand"]] for plan in plans]
    lines = set_as_text(settings, heats)
    assert all(f": {plan['name']}, first discards" in lines for plan in plans)
    assert not any(hand in lines for hand in names)
