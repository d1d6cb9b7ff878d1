"""The compiled choices and chances are those of the first release."""

import numpy as np
import pytest

from shared.cards import expand
from tests.bench.first_release import charlestons, flow, playout, release, targets
from tests.bench.first_release.chance import QUICK, finish_chance, odds_for, outlook_of
from tests.bench.first_release.distance import JOKER_INDEX, Counts, Patterns
from tests.bench.first_release.futures import Prospects
from tests.bench.first_release.passes import LOOKS, PASS
from tests.bench.first_release.targets import SET
from tests.bench.regret.choices import chance, committed, find_near, least_missed, look, measure, softened
from tests.bench.regret.deck import KIND_COUNT, STEPS, deck_of, paper_for

PATTERNS = release.engine().patterns
DECK = deck_of(PATTERNS)
PAPER = paper_for(DECK)


def tables(deals: int, seed: int, passes: int) -> tuple[Counts, Counts]:
    """Return racks after so many passes and what each has passed, each of shape (4 * deals, 36)."""
    rng = np.random.Generator(np.random.PCG64(seed))
    racks = charlestons.deal(rng, deals)
    passed, policy = np.zeros_like(racks), charlestons.Policy.of(PATTERNS)
    for direction in flow.SIX_PASSES[:passes]:
        given = policy.choose(racks.reshape(-1, KIND_COUNT), rng).reshape(racks.shape)
        racks = racks - given + np.roll(given, direction, axis=1)
        passed = passed + given
    return racks.reshape(-1, KIND_COUNT), passed.reshape(-1, KIND_COUNT)


@pytest.mark.parametrize("passes", [0, 3, STEPS])
def test_chances_are_the_exact_ones(passes: int) -> None:
    racks, passed = tables(3, 1 + passes, passes)
    dice = np.random.Generator(np.random.PCG64(passes))
    told = []
    for rack, gone in zip(racks.astype(np.int64), passed.astype(np.int64), strict=True):
        later = STEPS - passes
        outlook = look(DECK, PAPER, rack, gone, later)
        measure(DECK, PAPER, rack)
        unseen = SET - np.minimum(rack + gone, SET).astype(np.uint8)
        assert PAPER.unseen.tolist() == unseen.tolist()
        near = PAPER.near[: find_near(PAPER, 50)][[0, 1, 4, 11, 30, 49]]
        for variant in near:
            wanted = PATTERNS.pairs[variant], PATTERNS.groups[variant]
            for without in (-1, int(dice.choice(np.flatnonzero(rack[:JOKER_INDEX])))):
                left = rack.copy()
                left[without] -= without >= 0
                exact = float(finish_chance(*wanted, left.astype(np.uint8), unseen, LOOKS, PASS * later))
                told.append(exact)
                assert chance(DECK, PAPER, outlook, variant, rack, without) == pytest.approx(exact, abs=3e-5)
    assert max(told) > 0.3
    assert np.mean(np.array(told) > 0.01) > 0.3


def test_the_value_at_the_end_is_the_first_releases() -> None:
    racks, passed = tables(5, 7, STEPS)
    theirs = 100 * targets.committed(PATTERNS, racks, SET - np.minimum(racks + passed, SET), LOOKS, 0)
    pairs = zip(racks.astype(np.int64), passed.astype(np.int64), strict=True)
    ours = [committed(DECK, PAPER, rack, gone, 0) for rack, gone in pairs]
    assert ours == pytest.approx(theirs, abs=2e-3)


def test_softened_seats_give_what_they_miss_least() -> None:
    racks = np.concatenate([tables(3, 3, passes)[0] for passes in (0, 4)])
    theirs = flow.softened_greedy(PATTERNS, racks, (1,))
    lots, given = np.arange(KIND_COUNT), np.zeros(KIND_COUNT, dtype=np.int64)
    alike = 0
    for rack, gives in zip(racks.astype(np.int64), theirs, strict=True):
        softened(DECK, PAPER, rack, lots, given)
        assert given.sum() == PASS
        assert (given <= rack).all()
        assert given[-1] == 0, "no joker is ever passed"
        assert (PAPER.missed * given).sum() == (PAPER.missed * gives).sum(), "but for tiles that are missed alike"
        alike += given.tolist() == gives.tolist()
    assert alike > len(racks) / 2


def test_tiles_that_are_missed_alike_go_by_lot() -> None:
    deck = deck_of(Patterns.of_variants([variant for variant in expand(release.card()) if variant.hand == 0]))
    paper, lots, given = paper_for(deck), np.arange(KIND_COUNT), np.zeros((2, KIND_COUNT), dtype=np.int64)
    for rack in tables(6, 5, 0)[0].astype(np.int64):
        softened(deck, paper, rack, lots, given[0])
        useless = (rack > 0) & (paper.missed == 0) & (lots < JOKER_INDEX)
        if rack[useless].sum() > PASS:
            break
    else:
        pytest.fail("none of the racks has enough useless tiles")
    softened(deck, paper, rack, lots[::-1].copy(), given[1])
    assert given.sum(axis=1).tolist() == [PASS, PASS]
    assert not given[:, ~useless].any()
    assert np.flatnonzero(given[0])[0] == np.flatnonzero(useless)[0]
    assert np.flatnonzero(given[1])[-1] == np.flatnonzero(useless)[-1]


@pytest.mark.parametrize("passes", [0, 2, 5])
def test_the_seat_passes_on_by_the_first_releases_quick_policy(passes: int) -> None:
    racks, passed = tables(4, 11 + passes, passes)
    later, given, alike = STEPS - passes, np.zeros(KIND_COUNT, dtype=np.int64), 0
    for rack, gone in zip(racks, passed, strict=True):
        before = rack.astype(np.int64)
        least_missed(DECK, PAPER, before, gone.astype(np.int64), later, given)
        assert before.tolist() == rack.tolist()
        unseen = (SET - np.minimum(rack + gone, SET))[None]
        gives = playout.least_missed(PATTERNS, rack[None], unseen, LOOKS, PASS * later)[0]
        alike += given.tolist() == gives.tolist()
        prospects = Prospects.of(PATTERNS, rack[None], unseen, LOOKS, PASS * later, keep=24, close=12)
        left = (prospects.changed(-np.array([given, gives], dtype=np.int8))[:, 0] ** 12.0).sum(axis=1)
        assert left[0] == pytest.approx(left[1], rel=1e-3), "equally good for the targets that the policy looks at"
    assert alike >= 0.9 * len(racks)


def test_odds_are_those_of_the_outlook() -> None:
    racks, passed = tables(2, 5, 2)
    for rack, gone in zip(racks.astype(np.int64), passed.astype(np.int64), strict=True):
        outlook = look(DECK, PAPER, rack, gone, 4)
        theirs = odds_for(PATTERNS, outlook_of(PAPER.unseen.astype(np.uint8), LOOKS, PASS * 4), QUICK)
        ours = DECK.tail.reshape(-1, 10, 8)[outlook][: len(theirs.tail)]
        assert ours == pytest.approx(theirs.tail, abs=1e-5)
