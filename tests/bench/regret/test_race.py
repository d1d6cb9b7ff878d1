"""Positions, futures and races: what came before is kept, nothing is lost, and bad rankings are found out."""

import json
import os
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from tests.bench.first_release import charlestons, targets
from tests.bench.first_release.distance import JOKER_INDEX
from tests.bench.first_release.flow import SIX_PASSES
from tests.bench.first_release.passes import LOOKS, PASS, Position, legal_passes
from tests.bench.first_release.targets import SET
from tests.bench.game import compiled
from tests.bench.regret import __main__ as command
from tests.bench.regret import futures as module
from tests.bench.regret.deck import KIND_COUNT, STEPS, deck_of, paper_for
from tests.bench.regret.futures import Others, futures_of, play_outs
from tests.bench.regret.positions import SEATS, Case, cases
from tests.bench.regret.race import Race, race, verdict
from tests.bench.regret.small import engine

DECK = deck_of(engine().patterns)
PAPER = paper_for(DECK)


def case_at(step: int, seat: int = 2) -> Case:
    return cases(engine(), "softened", step, (4, 0))[seat]


def tiny() -> list[list[float]]:
    """Return the points of a small race from the first pass on: softened others, then coached ones."""
    case = case_at(0)
    passes = legal_passes(case.position.counts(), PASS)[::40]
    points = []
    for others in ("softened", "coached"):
        run = race(DECK, PAPER, case, passes, [0], others, (5,), (2, 4))
        points += [run.left.tolist(), *run.points.tolist()]
    return points


def test_compiled_and_plain_python_run_the_same_race() -> None:
    pytest.importorskip("numba")
    came = []
    for plain in ("0", "1"):
        code = "import json; from tests.bench.regret.test_race import tiny; print(json.dumps(tiny()))"
        env = {**os.environ, "NUMBA_DISABLE_JIT": plain}
        told = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, check=True, text=True)
        came.append(json.loads(told.stdout))
    assert came[0] == came[1]


def test_what_was_compiled_is_thrown_away_when_any_source_of_it_changes() -> None:
    for name in ("choices", "futures", "deck"):
        assert f"../regret/{name}" in compiled.SOURCES


@pytest.mark.parametrize("table", ["softened", "coached"])
def test_positions_have_lived_the_passes_before(table: Others) -> None:
    at_first, at_third = cases(engine(), table, 0, (4, 1)), cases(engine(), table, 2, (4, 1))
    for seat, (first, third) in enumerate(zip(at_first, at_third, strict=True)):
        assert (first.position.later, third.position.later) == (5, 3)
        assert first.position.passed == ()
        assert len(first.position.rack) == first.sizes[0] == (13 if seat else 14)
        assert third.gave.shape == (2, PASS)
        assert sorted(third.gave.ravel()) == np.repeat(np.arange(KIND_COUNT), counts(third.position.passed)).tolist()
        assert JOKER_INDEX not in third.gave
        kept = counts(first.position.rack) - np.minimum(counts(first.position.rack), counts(third.position.passed))
        assert np.maximum(kept - counts(third.position.rack), 0).sum() == 0


def counts(tiles: tuple[str, ...]) -> np.ndarray:
    return Position(tiles, (), 0).counts().astype(np.int64)


@pytest.mark.parametrize("others", ["softened", "coached"])
def test_futures_hold_no_tile_twice_and_know_what_the_seat_gave(others: Others) -> None:
    case = case_at(3)
    futures = futures_of(DECK, PAPER, case, others, 6, (1,))
    rack = case.position.counts()
    for racks, passed, given in zip(futures.racks, futures.passed, futures.given, strict=True):
        assert racks.sum(axis=1).tolist() == list(case.sizes)
        assert racks[0].tolist() == rack.tolist()
        assert passed[0].tolist() == counts(case.position.passed).tolist()
        assert passed.sum(axis=1).tolist() == [3 * PASS] * SEATS
        assert racks.min() >= 0
        assert (racks.sum(axis=0) <= SET).all()
        assert given[1:].sum(axis=1).tolist() == [PASS] * 3
        assert (given[1:] <= racks[1:]).all()
        assert not given[1:, JOKER_INDEX].any()
    again = futures_of(DECK, PAPER, case, others, 6, (1,))
    assert np.array_equal(again.racks, futures.racks)
    other = futures_of(DECK, PAPER, case, others, 6, (2,))
    assert not np.array_equal(other.racks, futures.racks)


def test_the_others_hold_more_of_what_the_seat_gave() -> None:
    case = case_at(3)
    kind = int(np.bincount(case.gave.ravel()).argmax())
    futures = futures_of(DECK, PAPER, case, "softened", 60, (1,))
    sent = (case.gave == kind).sum()
    share = case.position.unseen()[kind] * 39 / case.position.unseen().sum()
    assert futures.racks[:, 1:, kind].sum(axis=1).mean() > share + sent / 2


def test_another_tile_stands_for_one_that_has_come_back() -> None:
    case = case_at(2)
    kind = int(case.gave[0, 0])
    excess, wall = np.zeros(KIND_COUNT, dtype=np.int64), np.array([[JOKER_INDEX, 3, 4], [5, JOKER_INDEX, 6]])
    assert module._fed(case, excess, wall).tolist() == [case.gave.tolist()] * 2
    excess[kind] = 1
    fed = module._fed(case, excess, wall)
    assert fed[:, 0, 0].tolist() == [3, 5], "never a joker"
    fed[:, 0, 0] = kind
    assert fed.tolist() == [case.gave.tolist()] * 2


def test_a_play_out_moves_tiles_round_the_table_and_loses_none() -> None:
    case = case_at(0)
    futures = futures_of(DECK, PAPER, case, "softened", 1, (3,))
    passes = legal_passes(case.position.counts(), PASS)
    play_outs(DECK, PAPER, futures, passes[7:8])
    assert PAPER.racks.sum(axis=0).tolist() == futures.racks[0].sum(axis=0).tolist()
    assert PAPER.racks.sum(axis=1).tolist() == list(case.sizes)
    assert PAPER.passed.sum(axis=1).tolist() == [STEPS * PASS] * SEATS
    assert (PAPER.passed[0] >= passes[7]).all()


def test_what_the_seat_gives_changes_what_the_others_pass_on() -> None:
    case = case_at(2)
    futures = futures_of(DECK, PAPER, case, "softened", 12, (3,))
    passes = legal_passes(case.position.counts(), PASS)
    ends = []
    for row in (passes[:1], passes[-1:]):
        for future in range(12):
            one = replace(futures, **{name: getattr(futures, name)[future : future + 1] for name in ARRAYS})
            play_outs(DECK, PAPER, one, row)
            ends.append((PAPER.passed[1:].copy(), PAPER.given[3].copy()))
    changed = [not np.array_equal(ends[i][0], ends[i + 12][0]) for i in range(12)]
    assert sum(changed) > 3


ARRAYS = ("racks", "passed", "given", "lots")


def test_the_last_pass_is_judged_by_the_first_releases_value() -> None:
    case = case_at(5)
    futures = futures_of(DECK, PAPER, case, "softened", 5, (2,))
    passes = legal_passes(case.position.counts(), PASS)[:3]
    points = play_outs(DECK, PAPER, futures, passes)
    giver = next(seat for seat in range(SEATS) if (seat + DECK.travel[5]) % SEATS == 0)
    racks = (futures.racks[None, :, 0] - passes[:, None] + futures.given[None, :, giver]).reshape(-1, KIND_COUNT)
    passed = (futures.passed[None, :, 0] + passes[:, None]).reshape(-1, KIND_COUNT)
    unseen = (SET - np.minimum(racks + passed, SET)).astype(np.uint8)
    theirs = 100 * targets.committed(engine().patterns, racks.astype(np.uint8), unseen, LOOKS, 0)
    assert points.ravel() == pytest.approx(theirs, abs=2e-3)


def test_tiles_go_the_way_of_the_step() -> None:
    racks = charlestons.deal(np.random.Generator(np.random.PCG64(9)), 1)[0].astype(np.int64)
    for step, direction in enumerate(SIX_PASSES):
        given = np.array([legal_passes(rack.astype(np.uint8), PASS)[9] for rack in racks], dtype=np.int64)
        moved, passed = racks.copy(), np.zeros_like(racks)
        module._move(DECK, step, moved, passed, given)
        assert moved.tolist() == (racks - given + np.roll(given, direction, axis=0)).tolist()
        assert passed.tolist() == given.tolist()


def test_the_worst_first_is_found_out_and_the_best_first_is_not() -> None:
    case = case_at(5)
    passes = legal_passes(case.position.counts(), PASS)[::4]
    run = race(DECK, PAPER, case, passes, [], "softened", (3,), (4, 16))
    best = int(run.left[run.points.mean(axis=1).argmax()])
    first = race(DECK, PAPER, case, passes, [], "softened", (3,), (4,))
    worst = int(first.points.mean(axis=1).argmin())
    kept = race(DECK, PAPER, case, passes, [worst, best], "softened", (3,), (4, 16))
    assert {worst, best} <= set(kept.left.tolist())
    gap = (kept.points[kept.left == best] - kept.points[kept.left == worst]).mean()
    assert gap > 1
    found = verdict(kept, [worst, worst, worst])
    assert found.regret == pytest.approx(gap, rel=0.2)
    assert not found.in_three
    assert not found.close
    assert verdict(kept, [best, worst, worst]).regret == pytest.approx(0, abs=0.2 * gap)
    three = verdict(kept, [worst, best, worst])
    assert three.regret == pytest.approx(gap, rel=0.2)
    assert three.three == pytest.approx(0, abs=0.2 * gap)
    assert three.in_three


def test_the_luck_of_the_best_is_no_regret() -> None:
    dice = np.random.Generator(np.random.PCG64(1))
    equal = [verdict(Race(np.arange(8), dice.normal(size=(8, 64)), 16), [0, 1, 2]) for _ in range(400)]
    regrets = np.array([one.regret for one in equal])
    assert abs(regrets.mean()) < 3 * regrets.std() / 20
    assert np.mean([one.in_three for one in equal]) == pytest.approx(3 / 8, abs=0.1)
    assert np.mean([one.close for one in equal]) > 0.9


def test_futures_that_let_passes_through_do_not_judge_them() -> None:
    points = np.zeros((3, 12))
    points[1, :4] = 100
    assert verdict(Race(np.arange(3), points, 4), [0, 2, 2]).regret == 0
    points[1, 4::2] = 8
    assert verdict(Race(np.arange(3), points, 4), [0, 2, 2]).regret == 4


def test_passes_clearly_behind_drop_out() -> None:
    case = case_at(5)
    passes = legal_passes(case.position.counts(), PASS)[::4]
    run = race(DECK, PAPER, case, passes, [], "softened", (3,), (8, 16))
    assert 0 < len(run.left) < len(passes) / 2
    assert run.points.shape == (len(run.left), 16)


def test_a_part_of_a_run_judges_every_ranking_by_the_same_races(monkeypatch: pytest.MonkeyPatch) -> None:
    two = cases(engine(), "softened", 5, (6, 0))[2:]
    monkeypatch.setattr(command, "cases", lambda *_: two)

    def sorted_by(sign: int) -> command.Ranker:
        def rank(position: Position, seed: int) -> np.ndarray:
            passes = legal_passes(position.counts(), PASS)
            value = targets.committed(
                engine().patterns, position.counts() - passes, np.tile(position.unseen(), (len(passes), 1)), LOOKS, PASS
            )
            return passes[np.argsort(-sign * value, kind="stable")]

        return rank

    rankers = {"best": sorted_by(1), "worst": sorted_by(-1)}
    part = command.judged(engine(), DECK, rankers, "softened", 5, (6, 0), (2, 4))
    assert {name: len(every) for name, every in part["verdicts"].items()} == {"best": 2, "worst": 2}
    told = command.lines([json.loads(json.dumps(part))])
    assert [line.split(":")[0] for line in told[:2]] == ["best", "worst"]
    mean = {name: np.mean([one["regret"] for one in every]) for name, every in part["verdicts"].items()}
    assert mean["worst"] > mean["best"] + 5
    assert told[2].startswith("2 racks;")
