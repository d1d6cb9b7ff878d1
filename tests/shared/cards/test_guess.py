"""What an example may stand for: every proposal allows it, and the true hand is nearly always among the first."""

import time
from collections import Counter
from itertools import islice

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.cards.expand import counts_of, expand_groups
from shared.cards.guess import MOST, Proposal, guess
from shared.cards.picture import examples
from shared.rules.typed_tiles import read_tiles
from tests.bench.guessing import INVENTED, among, load, measure, years_in
from tests.shared.cards.random_hands import YEAR, hands


def guesses(line: str) -> tuple[Proposal, ...]:
    read = read_tiles(line, YEAR, check_copies=False)
    assert not read.faults
    return guess(read.groups, YEAR, read.years)


def told(line: str) -> list[str]:
    return [str(proposal) for proposal in guesses(line)]


def test_the_likeliest_reading_comes_first_and_exactly_these_tiles_is_always_there() -> None:
    run = told("FFFF 111b 2222b 333b")
    assert run[:2] == ["any three ranks in a row, one suit: 21 ways", "only 1, 2 and 3; one suit: 3 ways"]
    assert "exactly these tiles: 1 way" in run
    assert "any three ranks in a row, bams only: 7 ways" in run


@pytest.mark.parametrize(
    ("line", "among_first"),
    [
        ("FF 3333b 3333c 3333d", "any one rank, three suits: 9 ways"),
        ("FF 222b 444b 666b 888b", "only 2, 4, 6 and 8; one suit: 3 ways"),
        ("FF 2026b 4444c 4444d", "the year 2026, any one rank, three suits: 27 ways"),
        ("FFF 444b 5555b GGGG", "any two ranks in a row, one suit, with its dragon: 24 ways"),
        ("FFFFFF 4444c OOOO", "any one rank, one suit, the dragon of another suit: 54 ways"),
        ("FFFFFF NNNN EEEE", "any two different winds: 6 ways"),
        ("FFFFFF 1111b 9999c", "any two ranks that add up to 10, also 5 and 5; two suits: 27 ways"),
        ("FF 2222b 3333c 5555d", "any two different ranks and their sum, three suits: 96 ways"),
    ],
)
def test_what_a_player_means_is_among_the_first_four(line: str, among_first: str) -> None:
    assert among_first in told(line)[:4], told(line)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32), st.booleans())
def test_every_proposal_allows_the_example_and_counts_its_ways(seed: int, jokers: bool) -> None:
    example = examples(next(hands(seed)), YEAR)[0]
    sizes = tuple(group.count for group in example.groups)
    typed = list(zip(example.tiles, sizes, strict=True))
    wanted = counts_of(example.tiles, sizes, jokers)
    proposals = guess(typed, YEAR, years_in(example.groups), jokers)
    assert len(proposals) <= MOST
    seen = set()
    for proposal in proposals:
        pattern = proposal.pattern
        variants = expand_groups(pattern.rows[0], pattern.n, YEAR, pattern.m, jokers)
        assert wanted in variants
        assert len(variants) == proposal.ways
        seen.add(frozenset(variants))
    assert len(seen) == len(proposals)
    assert not proposals or any(proposal.ways == 1 for proposal in proposals)


def test_the_words_speak_of_the_ranks_that_were_typed() -> None:
    assert "2-3-5 move together, three suits: 36 ways" in told("FF 2222b 3333c 5555d")


def test_tiles_that_the_set_does_not_hold_have_no_proposal() -> None:
    assert guesses("55b 55b 5b NNNNNNNNN") == ()


def test_the_hands_that_had_no_part_in_the_order_are_found_among_the_first_four() -> None:
    card = load(INVENTED)
    found = measure(card, examples=6, seed=5)
    plain = sum(len(section.hands) for section in card.sections[:8])
    assert among(sum(found[:plain], Counter()), 4) >= 0.95
    assert among(sum(found, Counter()), 4) >= 0.9


def test_guesses_come_while_one_types() -> None:
    lines = [
        " ".join(tile[0] * count + tile[1:] for tile, count in zip(example.tiles, sizes, strict=True))
        for example in (examples(hand, YEAR)[0] for hand in islice(hands(3), 40))
        for sizes in [[group.count for group in example.groups]]
    ]
    began = time.process_time()
    for line in lines:
        read = read_tiles(line, YEAR, check_copies=False)
        guess(read.groups, YEAR, read.years)
    assert (time.process_time() - began) / len(lines) < 0.5
