"""What the coach says is built from its numbers."""

from shared.cards import Card, Hand, Section
from shared.coach.engine import Engine
from shared.coach.passes import Position, position_at
from shared.coach.ranking import Effort, RankedPass
from shared.coach.words import explain, listed_pass, listed_tiles, targets_after
from shared.rules.tiles import Rack, parse_tiles

CARD = Card(
    "Two hands",
    2026,
    "Invented for tests.",
    (
        Section(
            "All",
            "Two hands far apart.",
            (
                Hand("steps", "All", "2.p^3 3.p^4 4.p^4 5.p^3", False, 30),
                Hand("winds", "All", "N^4 E^3 W^3 S^4", False, 30),
            ),
        ),
    ),
)
ENGINE = Engine.of_card(CARD)
RACK = parse_tiles("2b 2b 3b 3b 5b 5b 7d 8d 9d 9d N R G F")


def said(position: Position, tiles: str, gift: float | None = None) -> str:
    ranked = RankedPass(parse_tiles(tiles), 0, 10.0, 0.5, gift)
    return " ".join(explain(ENGINE, CARD, position, ranked))


def here(rack: Rack = RACK) -> Position:
    return position_at("last right", rack, ())


def test_the_target_that_stays_is_told_with_its_distance_and_its_points() -> None:
    targets = targets_after(ENGINE, CARD, here(), parse_tiles("N R G"))
    assert targets[0].hand == "steps"
    assert targets[0].away == 8
    assert f"It keeps {targets[0].name} (8 away, {targets[0].points:.1f} points)" in said(here(), "N R G")


def test_tiles_that_serve_no_target_are_named() -> None:
    assert "7 dot, 8 dot, two 9 dot and flower serve no hand that it keeps." in said(here(), "N R G")
    only = parse_tiles("2b 2b 3b 3b 4b 4b 5b 5b J J F")
    assert "Flower serves no hand that it keeps." in said(here(only), "")


def test_a_broken_pair_and_a_broken_run_are_named() -> None:
    assert "It breaks the pair of 9 dot." in said(here(), "9d N R")
    assert "It takes 7 dot out of the run 7-8-9 dot." in said(here(), "7d N R")
    assert "breaks" not in said(here(), "N R G")
    assert "pair" not in said(here(), "9d 9d N")


def test_the_tile_that_a_gap_waits_for_is_named_with_how_many_are_unseen() -> None:
    assert "The gap waits for 4 bam: four of 4 unseen." in said(here(), "N R G")
    seen = Position(RACK, parse_tiles("4b 4b 4b"), 0)
    assert "The gap waits for 4 bam: one of 4 unseen." in said(seen, "N R G")
    filled = parse_tiles("2b 2b 3b 3b 4b 5b 7d 8d 9d 9d N R G F")
    assert "gap" not in said(here(filled), "N R G")


def test_the_gift_is_told_where_it_was_worked_out() -> None:
    assert "the tiles are worth 1.3 points on average" in said(here(), "N R G", gift=1.26)
    assert "the tile is worth 1.3 points on average" in said(here(), "N", gift=1.26)
    assert "worth" not in said(here(), "N R G")
    real = ENGINE.rank(here(), 1, Effort(((3, 8),), gifts=True)).best
    assert real.gift is not None
    assert f"{real.gift:.1f} points on average" in " ".join(explain(ENGINE, CARD, here(), real))


def test_tiles_are_listed_as_a_person_says_them() -> None:
    assert listed_tiles(parse_tiles("9d N 9d")) == "two 9 dot and north"
    assert listed_tiles(()) == "no tile"


def test_a_pass_that_forwards_tiles_says_how_many_go_blind() -> None:
    own, none = parse_tiles("9d"), parse_tiles("")
    assert listed_pass(RankedPass(own, 2, 0.0, 0.0)) == "9 dot and two blind"
    assert listed_pass(RankedPass(none, 3, 0.0, 0.0)) == "three blind"
    assert listed_pass(RankedPass(own, 0, 0.0, 0.0)) == "9 dot"
