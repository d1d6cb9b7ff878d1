"""Habits in invented decisions: each is named where it stands out and costs, and nothing is named where none does."""

from collections.abc import Iterator
from random import Random

import pytest
from scipy.stats import binom, norm, spearmanr

from shared.measures.habits import CHANCE, KINDS, USUAL, Decision, Kind, habit_of, habits, tail
from shared.rules.steps import PASSES, StepName
from shared.rules.typed_tiles import typed

RACK = "1b 1b 2b 3b 5b 9c 4c 7d 7d N G F J"
SHOWS: dict[Kind, tuple[str, str]] = {
    "dragons early": ("9c N G", "9c N 4c"),
    "breaks pairs": ("1b 9c N", "4c 9c N"),
    "keeps lone winds": ("9c 4c 5b", "9c 4c N"),
    "hoards a suit": ("9c 4c N", "5b 4c N"),
    "gives flowers": ("9c F N", "9c 4c N"),
    "pairs to the right": ("7d 7d N", "9c 4c N"),
}
"""For each habit of tiles, a pass that shows it and no other where the coach would make the other pass."""


def decision(heat: int, step: StepName, given: str = "9c 4c N", best: str = "9c 4c N", **more: object) -> Decision:
    values: dict[str, object] = {"loss": 0.0, "error": 0.1, "spent_ms": 5_000, **more}
    tiles = typed(RACK), typed(given), typed(best)
    return Decision(heat, step, *tiles, **values)  # type: ignore[arg-type]


def by_the_coach(heats: int = 12) -> Iterator[Decision]:
    return (decision(heat, step) for heat in range(heats) for step in PASSES)


def planted(kind: Kind, loss: float = 2.0, heats: int = 12) -> list[Decision]:
    """Return heats by the coach in which one habit is shown at every step where it can be."""
    found = []
    for one in by_the_coach(heats):
        made = one
        if kind in SHOWS and (kind != "pairs to the right" or one.step.endswith("right")):
            made = decision(one.heat, one.step, *SHOWS[kind], loss=loss)
        elif kind == "first plan" and one.step != "first right":
            made = decision(one.heat, one.step, "9c 5b N", loss=loss, first_plan=0.5)
        elif kind == "changes plan" and one.step != "first right":
            made = decision(one.heat, one.step, "9c 5b N", loss=loss, last_plan=3.0)
        elif kind == "long at easy steps":
            hard = (one.heat + PASSES.index(one.step)) % 2
            made = decision(
                one.heat, one.step, "9c 5b N", loss=loss * hard, stake=hard, spent_ms=30_000 - 25_000 * hard
            )
        elif kind == "always goes on" and one.step == "last right":
            found.append(decision(one.heat, "go on", "", "", loss=loss, went_on=True))
        found.append(made)
    return found


@pytest.mark.parametrize("kind", KINDS)
def test_a_planted_habit_is_named(kind: Kind) -> None:
    found = habit_of(planted(kind))
    assert found
    assert found.kind == kind
    assert found.cost == pytest.approx(sum(one.loss for one in found.shown))
    assert found.heats == 12


@pytest.mark.parametrize("kind", KINDS)
def test_what_costs_nothing_is_no_habit(kind: Kind) -> None:
    assert habit_of(planted(kind, loss=0.0)) is None


def test_who_plays_by_the_coach_has_no_habit() -> None:
    assert habit_of(by_the_coach()) is None
    assert habit_of(()) is None


def test_one_bad_pass_is_no_habit() -> None:
    dear = decision(0, "first across", *SHOWS["breaks pairs"], loss=30.0)
    assert habit_of([dear, *by_the_coach()]) is None


@pytest.mark.parametrize("kind", SHOWS)
def test_what_a_coached_player_does_as_often_is_no_habit(kind: Kind) -> None:
    shown = [one for one in planted(kind) if one.loss]
    usual = round(USUAL[kind] * len(shown))
    rest = [one for one in by_the_coach() if (one.heat, one.step) not in {(it.heat, it.step) for it in shown[:usual]}]
    assert habit_of([*shown[:usual], *rest]) is None
    assert habit_of(shown)


def test_a_cost_within_its_error_is_not_told() -> None:
    sure = planted("breaks pairs", loss=0.2)
    vague = [decision(one.heat, one.step, *SHOWS["breaks pairs"], loss=0.2, error=2.0) for one in sure]
    assert habit_of(sure)
    assert habit_of(vague) is None


def test_of_two_habits_the_one_that_cost_more_is_named() -> None:
    pairs, flowers = planted("breaks pairs", loss=1.0), planted("gives flowers", loss=3.0)
    found = habit_of(
        [*pairs, *(decision(one.heat + 12, one.step, *SHOWS["gives flowers"], loss=3.0) for one in flowers)]
    )
    assert found
    assert found.kind == "gives flowers"


def test_random_times_are_no_habit_more_often_than_chance_allows() -> None:
    dice, named = Random(3), 0
    for _ in range(400):
        played = [
            decision(heat, step, "9c 5b N", loss=0.5, spent_ms=dice.randint(1_000, 30_000), stake=dice.random())
            for heat in range(12)
            for step in PASSES
        ]
        told = next(habit for habit in habits(played) if habit.kind == "long at easy steps")
        named += told.is_told
    assert named <= binom.ppf(0.999, 400, CHANCE / len(KINDS))


def test_the_chance_of_a_count_is_scipys() -> None:
    for count, of, share in ((0, 5, 0.1), (3, 20, 0.05), (36, 72, 0.12), (12, 12, 0.5)):
        assert tail(count, of, share) == pytest.approx(binom.sf(count - 1, of, share))


def test_times_at_one_step_are_told_from_chance_by_spearmans_correlation() -> None:
    dice = Random(8)
    played = [
        decision(heat, "first right", spent_ms=dice.randint(1, 40), stake=float(dice.randint(0, 9)))
        for heat in range(60)
    ]
    expected = spearmanr([one.spent_ms for one in played], [one.stake for one in played]).statistic
    found = next(habit for habit in habits(played) if habit.kind == "long at easy steps")
    assert found.chance == pytest.approx(norm.cdf(expected * 59**0.5))
