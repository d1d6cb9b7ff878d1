"""Rankings as the race wants them: every legal pass once."""

import pytest

from tests.bench.first_release.engine import PLAY
from tests.bench.first_release.passes import PASS, legal_passes, tiles_of
from tests.bench.first_release.release import card, engine
from tests.bench.regret.positions import cases
from tests.bench.regret.rankers import COACHES, Coach, Effort, ranker


@pytest.mark.parametrize(
    ("coach", "effort"), [*((coach, "hint") for coach in COACHES), ("shared", "glance"), ("shared", "think")]
)
def test_a_ranking_holds_every_legal_pass_once(coach: Coach, effort: Effort) -> None:
    position = cases(engine(), "softened", 3, (2, 0))[1].position
    ranked = ranker(coach, effort, card())(position, 5)
    legal = legal_passes(position.counts(), PASS)
    assert sorted(row.tobytes() for row in ranked) == sorted(row.tobytes() for row in legal)
    best = engine().rank(position, 5, PLAY).passes[:5]
    assert tiles_of(ranked[0]) in [one.tiles for one in best], "they differ, but not by much"


def test_the_first_releases_hint_is_its_own_ranking() -> None:
    position = cases(engine(), "softened", 0, (2, 0))[0].position
    ranked = ranker("first", "hint", card())(position, 5)
    assert [tiles_of(row) for row in ranked] == [one.tiles for one in engine().rank(position, 5, PLAY).passes]
