"""What kind of decision a pass was: what it did that the best pass did not do."""

import pytest

from shared.coach.distance import Patterns
from shared.coach.kinds import (
    BREAKING_A_PAIR,
    BREAKING_A_RUN,
    FROM_THE_TARGETS_SUIT,
    GIVING_UP_A_FLOWER,
    HOLDING_ON,
    LATE_CHANGE,
    PASSING_A_PAIR,
    PASSING_UNSEEN,
    WHAT_THE_TARGET_NEEDS,
    Ways,
    kinds_of,
)
from shared.coach.passes import Position
from shared.coach.ranking import RankedPass
from shared.coach.words import Target
from shared.rules.typed_tiles import typed
from tests.shared.coach.synthetic import pattern

BAMS = pattern(0, [("2b", 3), ("3b", 4), ("4b", 3), ("F", 4)])
PATTERNS = Patterns.of_variants([BAMS])
TARGET = Target("bams", 6, 10.0, 0)
RACK = "2b 2b 3b 4b 7b 7b F F 1c 5d 6d 7d N E"


def ranked(text: str, blind: int = 0) -> RankedPass:
    return RankedPass(typed(text), blind, 10.0, 0.1)


def kinds(own: str, best: str = "1c N E", blind: int = 0, **more: object) -> set[str]:
    position = Position(typed(RACK), (), int(str(more.get("later", 5))), (3,))
    targets = {name: more.get(name, (TARGET,)) for name in ("after_own", "after_best", "earlier")}
    ways = Ways(position, ranked(own, blind), ranked(best), TARGET, **targets)  # type: ignore[arg-type]
    return set(kinds_of(PATTERNS, ways))


@pytest.mark.parametrize(
    ("own", "found"),
    [
        ("1c N E", set()),
        ("1c N", set()),
        ("1c N 6d", {BREAKING_A_RUN}),
        ("1c N 7b", {BREAKING_A_PAIR, FROM_THE_TARGETS_SUIT}),
        ("N 7b 7b", {PASSING_A_PAIR, FROM_THE_TARGETS_SUIT}),
        ("1c N 2b", {BREAKING_A_PAIR, FROM_THE_TARGETS_SUIT, WHAT_THE_TARGET_NEEDS}),
        ("1c N F", {BREAKING_A_PAIR, GIVING_UP_A_FLOWER, WHAT_THE_TARGET_NEEDS}),
        ("1c N 3b", {BREAKING_A_RUN, FROM_THE_TARGETS_SUIT, WHAT_THE_TARGET_NEEDS}),
    ],
)
def test_a_kind_names_what_goes(own: str, found: set[str]) -> None:
    assert kinds(own) == found


def test_what_the_best_pass_does_too_was_no_decision() -> None:
    assert kinds("7b 1c N", best="7b 1c E") == set()
    assert kinds("7b 1c N", best="2b 1c E") == {BREAKING_A_PAIR}


def test_passing_more_unseen_than_the_best_is_a_kind_of_its_own() -> None:
    assert kinds("1c N", best="1c N E", blind=1) == {PASSING_UNSEEN}


OTHER = Target("dots", 6, 10.0, 0)


def test_a_change_of_target_is_late_when_two_passes_or_fewer_are_to_come() -> None:
    assert kinds("1c N", later=2, after_own=(OTHER,)) == {LATE_CHANGE}
    assert kinds("1c N", later=3, after_own=(OTHER,)) == set()
    assert kinds("1c N", later=2, after_own=(OTHER,), after_best=(OTHER,)) == set()
    assert kinds("1c N", later=2, after_own=(OTHER,), earlier=(TARGET, OTHER)) == set()
    assert kinds("1c N", later=2, after_own=(OTHER,), earlier=()) == set()


def test_keeping_what_the_best_pass_leaves_late_is_holding_on() -> None:
    assert kinds("1c N", later=0, after_best=(OTHER,)) == {HOLDING_ON}
