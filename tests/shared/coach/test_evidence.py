"""What a pass says of its player's habits, from two readings of the card."""

from functools import cache

import pytest

from shared.cards.play import shipped_text
from shared.coach.coach import Coach, coach_of
from shared.coach.evidence import Plans, evidence
from shared.coach.passes import Position, position_at
from shared.coach.ranking import Effort, Ranking
from shared.rules.typed_tiles import typed

RACK = typed("1b 1b 3b 5b 9c 4c 7c 2d 7d N W G F J")


def coach() -> Coach:
    found = coach_of(shipped_text())
    assert isinstance(found, Coach)
    return found


@cache
def ranked() -> tuple[Position, Ranking]:
    position = position_at("first across", RACK, typed("8d 9d S"), blind=False)
    return position, coach().engine.rank(position, 1, Effort(((12, 16),)))


def wins(tiles: str | None = None) -> list[float]:
    position, ranking = ranked()
    given = typed(tiles) if tiles else ranking.best.tiles
    return [reading.win for reading in coach().engine.hands_after(position, given)]


def test_the_coachs_own_pass_changes_no_plan() -> None:
    position, ranking = ranked()
    said, after = evidence(coach().engine, position, ranking, ranking.best.tiles, Plans(0, 1))
    assert (said.best, said.last_plan) == (ranking.best.tiles, 0.0)
    assert said.first_plan in (None, 0.0)
    assert after == Plans(0, wins().index(max(wins())))


def test_a_heats_first_pass_makes_both_plans() -> None:
    position, ranking = ranked()
    said, after = evidence(coach().engine, position, ranking, typed("1b 1b N"), Plans())
    likeliest = wins("1b 1b N").index(max(wins("1b 1b N")))
    assert (said.first_plan, said.last_plan, after) == (None, 0.0, Plans(likeliest, likeliest))


def test_what_a_pass_does_to_plans_is_the_difference_of_their_chances() -> None:
    position, ranking = ranked()
    own, best = wins("1b 1b N"), wins()
    first, last = own.index(max(own)), best.index(max(best))
    said, _ = evidence(coach().engine, position, ranking, typed("1b 1b N"), Plans(first, last))
    assert said.first_plan == pytest.approx(100 * (own[first] - best[first]))
    assert said.last_plan == pytest.approx(100 * (best[last] - own[last]))


def test_the_stake_is_the_mean_gap_of_the_next_nine_passes() -> None:
    position, ranking = ranked()
    said, _ = evidence(coach().engine, position, ranking, ranking.best.tiles, Plans())
    assert said.stake == pytest.approx(sum(ranking.gap(place).points for place in range(1, 10)) / 9)
    assert said.stake > 0
