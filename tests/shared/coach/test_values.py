"""A coach that plays for the hands' values weighs what can be won, not only how often."""

from dataclasses import replace

import numpy as np

from shared.cards import Card, expand, read_card
from shared.coach.distance import Patterns, counts_of
from shared.coach.engine import Engine
from shared.coach.lived import position_in
from shared.coach.passes import Position, position_at
from shared.coach.ranking import Effort
from shared.coach.targets import likeliest_first
from shared.rules.settings import Settings
from shared.rules.typed_tiles import typed

QUICK = Effort(((20, 24),))
RACK = typed("1b 1b 1b 5b 5b 2c 2c 2c 6c 6c N E S")


def card(bams: int, craks: int) -> Card:
    """Return a card of two hands of one shape in two suits, with these values."""
    text = f"""
        [card]
        title = "Two suits"
        year = 2026
        share = true
        [[section]]
        name = "Suits"
        [[section.hand]]
        id = "bams"
        groups = "1.b^4 5.b^4 9.b^4 F^2"
        value = {bams}
        [[section.hand]]
        id = "craks"
        groups = "2.c^4 6.c^4 8.c^4 F^2"
        value = {craks}
    """
    found = read_card(text.encode())
    assert isinstance(found, Card), found
    return found


def position(valued: bool) -> Position:
    return replace(position_at("last right", RACK, ()), valued=valued)


def test_where_all_hands_count_the_same_values_change_nothing() -> None:
    engine = Engine.of_card(card(30, 30))
    won, valued = (engine.rank(position(each), 1, QUICK) for each in (False, True))
    assert [(one.tiles, one.points, one.se, one.gift) for one in won.passes] == [
        (one.tiles, one.points, one.se, one.gift) for one in valued.passes
    ]


def test_the_dearer_of_two_equal_hands_is_kept_and_comes_first() -> None:
    for bams, craks, kept in ((50, 25, "b"), (25, 50, "c")):
        made = card(bams, craks)
        engine = Engine.of_card(made)
        best = engine.rank(position(True), 1, QUICK).best
        assert not any(tile.endswith(kept) for tile in best.tiles)
        first = likeliest_first(engine.hands(position(True)))[0]
        assert made.hands[first.hand].id == {"b": "bams", "c": "craks"}[kept]


def test_points_are_shares_of_the_dearest_value() -> None:
    dear, cheap = Engine.of_card(card(50, 50)), Engine.of_card(card(50, 25))
    rack = replace(position(True), rack=typed("2c 2c 2c 2c 6c 6c 6c 8c 8c N E S W"))
    as_it_is = [engine.as_it_is(rack) for engine in (dear, cheap)]
    assert 0 < as_it_is[1] < 0.6 * as_it_is[0]
    assert cheap.as_it_is(replace(rack, valued=False)) == dear.as_it_is(replace(rack, valued=False))


def test_a_reading_tells_the_chance_of_winning_and_what_it_counts() -> None:
    engine = Engine.of_card(card(50, 20))
    for reading, plain in zip(engine.hands(position(True)), engine.hands(position(False)), strict=True):
        assert reading.win == plain.win == plain.counts
        assert reading.counts == reading.win * engine.patterns.value[reading.variant]


def test_each_row_of_a_hand_has_its_own_value() -> None:
    found = read_card(
        b"""
        [card]
        title = "Rows"
        year = 2026
        [[section]]
        name = "Rows"
        [[section.hand]]
        groups = "1.b^4 2.b^4 3.b^4 F^2 or 1.c^4 2.c^4 3.c^4 F^2"
        value = [30, 45]
        """
    )
    assert isinstance(found, Card), found
    values = {variant.groups: variant.value for variant in expand(found)}
    bams = tuple(counts_of(typed("1b 1b 1b 1b 2b 2b 2b 2b 3b 3b 3b 3b")).tolist())
    assert sorted(values.values()) == [30, 45]
    assert values[bams] == 30
    assert np.array_equal(np.sort(Patterns.of_card(found).value), [30 / 45, 1.0])


def test_the_table_says_whether_values_count() -> None:
    for play_for, valued in (("winning", False), ("values", True)):
        settings = Settings(play_for=play_for)
        found = position_in(settings, "first right", RACK, (), 0, 0)
        assert found is not None
        assert found.valued is valued
