"""The small standing at a set's end: by people, whatever chairs they had, and nobody gets what a bot played."""

from types import SimpleNamespace
from typing import cast

from client.models.played import Standing, standing, standing_words
from shared.rules.players import Player
from shared.wire.views import View

ANN, BO, CY, BIRD = (
    Player(name=name, person=person) for name, person in (("Ann", 1), ("Bo", 2), ("Cy", 3), ("Wren", 0))
)
STAND_IN = Player(name="", person=0, since="first left")


def view(*heats: dict[tuple[Player, ...], int], person: int = 2) -> View:
    results = [
        SimpleNamespace(seats=[SimpleNamespace(players=players, total_ms=ms) for players, ms in heat.items()])
        for heat in heats
    ]
    return cast("View", SimpleNamespace(results=results, person=person))


def test_people_are_ranked_by_their_time_in_all_heats_whatever_chairs_they_had() -> None:
    seen = view({(ANN,): 60_000, (BO,): 50_000, (BIRD,): 1_000}, {(BO,): 80_000, (ANN,): 65_000})
    assert standing(seen) == (Standing("Ann", 2, 125_000, 1), Standing("you", 2, 130_000, 2))
    assert standing_words(seen) == "Time in all: 1 Ann 2:05, 2 you 2:10."


def test_equal_times_share_a_place() -> None:
    seen = view({(ANN,): 60_000, (BO,): 60_000, (CY,): 70_000})
    assert [one.place for one in standing(seen)] == [1, 1, 3]


def test_what_a_bot_played_in_part_counts_for_nobody_and_who_has_fewer_heats_stands_below() -> None:
    seen = view({(ANN,): 60_000, (BO,): 90_000}, {(ANN, STAND_IN): 10_000, (BO,): 90_000, (CY,): 5_000})
    assert [(one.name, one.place) for one in standing(seen)] == [("you", 1), ("Cy", None), ("Ann", None)]
    assert standing_words(seen) == "Time in all: 1 you 3:00, Cy 0:05 (1 heat), Ann 1:00 (1 heat)."


def test_alone_there_is_no_standing() -> None:
    assert standing_words(view({(ANN,): 60_000, (BIRD,): 1_000})) == ""
    assert standing_words(view()) == ""
