"""A few hands of the first release's card: with so few, play-outs are quick even as plain Python."""

from dataclasses import replace
from functools import cache

from shared.cards import expand
from tests.bench.first_release.distance import Patterns
from tests.bench.first_release.engine import Engine
from tests.bench.first_release.release import card

HANDS = (12, 13, 25, 28, 65)


@cache
def engine() -> Engine:
    """Return the first release's engine for these hands alone."""
    few = [variant for variant in expand(card()) if variant.hand in HANDS]
    return Engine(Patterns.of_variants([replace(variant, hand=HANDS.index(variant.hand)) for variant in few]))
