"""The practice card is the one that was measured, and its measure is good.

`python -m tests.card_design.balance --record --settle` wrote the table beside the program from 3,000 deals. Here the
table is compared line by line with the shipped file, with its limits, and with a smaller measurement on other deals, so
that neither the card nor the table can change alone.
"""

import csv
from itertools import combinations

import numpy as np
import pytest

from shared.cards import Card, Hand, Section, practice_card
from shared.cards.notation import parse_groups
from shared.coach.distance import Patterns, away, counts_of
from shared.rules.tiles import COPIES, KINDS
from shared.rules.typed_tiles import typed
from tests.bench.charlestons import Policy, deal, play
from tests.card_design.balance import RECORD, balance_of, by_section, coachs_aim, hand_chances, measure, value_of
from tests.card_design.grammar import IDEAS, offers

DEALS = 200
RACKS_ON_RECORD = 12_000


@pytest.fixture(scope="module")
def recorded() -> list[dict[str, str]]:
    with RECORD.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def shares(recorded: list[dict[str, str]]) -> np.ndarray:
    return np.array([float(row["share"]) for row in recorded]) / 100


def test_the_table_lists_the_hands_of_the_shipped_card_as_they_are(recorded: list[dict[str, str]]) -> None:
    card = practice_card()
    variants = np.bincount(Patterns.of_card(card).hand)
    assert [(row["hand"], row["groups"], int(row["variants"]), int(row["value"])) for row in recorded] == [
        (hand.id, hand.groups, count, hand.value) for hand, count in zip(card.hands, variants, strict=True)
    ]


def test_values_follow_from_the_measured_difficulty_in_steps_of_five(recorded: list[dict[str, str]]) -> None:
    for row in recorded:
        assert int(row["value"]) == value_of(float(row["share"]) / 100, float(row["chance"]) / 100)
        assert int(row["value"]) % 5 == 0
    assert value_of(0.02, 0.25) == value_of(0.01, 0.5) == 40
    assert value_of(0.01, 0.25) == 45  # half as often: five points more


def test_no_hand_and_no_section_comes_too_often_or_too_seldom(recorded: list[dict[str, str]]) -> None:
    measured = shares(recorded)
    assert measured.sum() == pytest.approx(1, abs=1e-3)
    assert measured.min() >= 0.001
    assert measured.max() <= 0.08
    sections = by_section(practice_card(), measured)
    assert sections.min() >= 0.05
    assert sections.max() <= 0.25


def test_the_card_has_eight_sections_and_hands_and_variants_enough() -> None:
    card = practice_card()
    assert len(card.sections) == 8
    assert len(card.hands) >= 56
    assert len(Patterns.of_card(card)) >= 1000


def test_a_smaller_measurement_of_other_deals_agrees_with_the_table(recorded: list[dict[str, str]]) -> None:
    card = practice_card()
    found, told = measure(card, seed=2, deals=DEALS), shares(recorded)
    for now, then in ((found.share, told), (by_section(card, found.share), by_section(card, told))):
        # Both counts are binomial but for ties: five standard errors of their difference, and a rack for rounding.
        error = np.sqrt(np.maximum(then, 1 / found.racks) * (1 / found.racks + 1 / RACKS_ON_RECORD))
        assert (np.abs(now - then) <= 5 * error + 1 / found.racks).all()


def test_every_hand_is_made_from_the_grammar_of_its_section() -> None:
    for section, idea in zip(practice_card().sections, IDEAS, strict=True):
        offered = [offer.as_hand("", idea.name) for outline in idea.outlines for offer in offers(idea, outline)]
        kinds = {(hand.groups, hand.n, hand.concealed) for hand in offered}
        assert (section.name, section.about) == (idea.name, idea.about)
        assert {(hand.groups, hand.n, hand.concealed) for hand in section.hands} <= kinds


def test_every_kind_of_thinking_has_a_hand() -> None:
    card = practice_card()
    parsed = {hand.id: parse_groups(hand.groups)[0] for hand in card.hands}
    pairs_only = [name for name, groups in parsed.items() if all(group.count == 2 for group in groups)]
    assert len(pairs_only) >= 4
    assert any(hand.concealed and hand.id not in pairs_only for hand in card.hands)
    assert sum(any(group.count >= 5 for group in groups) for groups in parsed.values()) >= 5
    for face in ("F^", "X^", "N^", "D(p)^", "R^", "Y1.p^", "n+1.q^", "n+2.p^"):
        assert any(face in hand.groups for hand in card.hands), face


# The program itself.


SMALL = Card(
    "Small",
    2026,
    "",
    (
        Section(
            "One",
            "Invented for a test.",
            tuple(
                Hand(f"h{index}", "One", groups, False, 25)
                for index, groups in enumerate(
                    ("F^2 n.p^4 n+1.p^4 n+2.p^4", "1.p^2 2.p^3 3.p^4 4.p^5", "N^2 E^2 W^2 S^2 n.p^2 n.q^2 n.r^2")
                )
            ),
        ),
    ),
)


def test_deals_take_tiles_from_one_set_and_the_dealer_has_one_more() -> None:
    racks = deal(np.random.default_rng(3), 50)
    assert (racks.sum(axis=2) == [14, 13, 13, 13]).all()
    assert (racks.sum(axis=1) <= [COPIES[kind] for kind in KINDS]).all()


def test_passing_moves_tiles_and_never_a_joker() -> None:
    patterns = Patterns.of_card(SMALL)
    before = deal(np.random.default_rng(4), 50)
    played = play(patterns, np.random.default_rng(4), 50)
    assert (played.racks.sum(axis=1) == before.sum(axis=1)).all()
    assert (played.racks[..., -1] == before[..., -1]).all()
    assert (played.passed.sum(axis=2) == 18).all()


def test_the_policy_keeps_the_tiles_with_the_greatest_sum() -> None:
    patterns = Patterns.of_card(SMALL)
    racks = deal(np.random.default_rng(5), 10).reshape(-1, len(KINDS))
    # More jokers than the groups of the first hand lack: a spare one stands in for a tile given away.
    spare = counts_of(typed("1b 1b 1b 1b 2b 2b 2b 3b 3b 3b J J J F"))
    racks = np.concatenate([racks, spare[None]])
    given = Policy.of(patterns).choose(racks, np.random.default_rng(6))
    assert (given.sum(axis=1) == 3).all()
    for rack, chosen in zip(racks, given, strict=True):
        tiles = np.repeat(np.arange(len(KINDS) - 1), rack[:-1])
        kept = np.array([rack - counts_of(KINDS[kind] for kind in three) for three in set(combinations(tiles, 3))])
        best = np.exp(-1.5 * away(patterns, kept).astype(float)).sum(axis=1).max()
        assert np.exp(-1.5 * away(patterns, (rack - chosen)[None]).astype(float)).sum() == pytest.approx(best, rel=1e-5)


def test_hands_that_tie_share_the_rack() -> None:
    balance = balance_of(np.array([[0.2, 0.2, 0.1], [0.3, 0.0, 0.1]]))
    assert balance.share == pytest.approx([0.75, 0.25, 0])
    assert balance.chance[:2] == pytest.approx([(0.5 * 0.2 + 0.3) / 1.5, 0.2])


def test_variants_far_behind_the_nearest_are_never_the_likeliest() -> None:
    patterns = Patterns.of_card(practice_card())
    played = play(patterns, np.random.default_rng(7), 60)
    aim = coachs_aim(patterns)
    near, far = hand_chances(patterns, aim, played), hand_chances(patterns, aim, played, near=5)
    assert np.mean(near.argmax(axis=1) != far.argmax(axis=1)) <= 0.02
