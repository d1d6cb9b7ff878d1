"""What the coach says is built from its numbers."""

from shared.cards import Card, Hand, Section
from shared.cards.said import listed_tiles
from shared.coach.engine import Engine
from shared.coach.estimate import Estimate
from shared.coach.passes import Position, position_at
from shared.coach.ranking import Effort, RankedPass
from shared.coach.sentences import pass_said, tell_pass
from shared.coach.words import targets_after, verdict_of
from shared.rules.tiles import Rack
from shared.rules.typed_tiles import typed

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
RACK = typed("2b 2b 3b 3b 5b 5b 7d 8d 9d 9d N R G F")


def here(rack: Rack = RACK) -> Position:
    return position_at("last right", rack, ())


def own(tiles: str, gift: float | None = None) -> RankedPass:
    return RankedPass(typed(tiles), 0, 10.0, 0.5, gift, given=(gift or 0.0) / 10)


def kept(position: Position, tiles: str) -> str:
    """Return what is said of a pass that is the best."""
    return tell_pass(ENGINE, CARD, position, own(tiles), own(tiles), Estimate(0.0, 0.0), 1).plain[0]


def costly(tiles: str, best: str, position: Position | None = None, gift: float = 0.0) -> str:
    """Return what is said of a pass that costs five points."""
    told = tell_pass(ENGINE, CARD, position or here(), own(tiles, gift), own(best, 0.0), Estimate(5.0, 0.5), 1)
    assert told.verdict == "Cost 5.0 points."
    return " ".join(told.plain)


def test_the_target_that_stays_is_told_with_how_far_it_is() -> None:
    targets = targets_after(ENGINE, CARD, here(), typed("N R G"))
    assert targets[0].hand == "steps"
    assert targets[0].away == 8
    assert f"It keeps {targets[0].name} (8 to go)" in kept(here(), "N R G")
    told = tell_pass(ENGINE, CARD, here(), own("N R G"), own("N R G"), Estimate(0.0, 0.0), 1)
    assert f"(8 to go; alone it wins {targets[0].points:.0f} in 100)" in told.numbers[0]


def test_tiles_that_serve_no_hand_are_named() -> None:
    assert "You kept red dragon and green dragon, which fit no hand within reach." in costly("N 2b 3b", "N R G")
    assert "You kept flower, which fits no hand within reach." in costly("2b R G", "F R G")


def test_a_broken_pair_and_a_pair_given_whole_are_told_apart() -> None:
    assert "You let go one of two 2 bam, which the likeliest hand needs" in costly("2b R G", "F R G")
    assert "You let go both 2 bam, which the likeliest hand needs" in costly("2b 2b G", "F R G")
    assert "2 bam" not in costly("3b R G", "F R G")


def test_a_tile_out_of_a_run_is_told_with_the_run() -> None:
    rack = typed("2b 3b 4b 5b 5b 5b 7d 9d N R G F O")
    assert "You let go 2 bam out of the run 2-3-4-5 bam, and the likeliest hand needs it" in costly(
        "2b R G", "F R G", here(rack)
    )


def test_the_tile_that_a_gap_waits_for_is_named_with_how_many_are_unseen() -> None:
    assert "its gap waits for 4 bam, of which four are unseen." in kept(here(), "N R G")
    seen = Position(RACK, typed("4b 4b 4b"), 0, (3,))
    assert "its gap waits for 4 bam, of which one is unseen." in kept(seen, "N R G")
    filled = typed("2b 2b 3b 3b 4b 5b 7d 8d 9d 9d N R G F")
    assert "gap" not in kept(here(filled), "N R G")
    assert "You let go 4 bam, and it fills the gap in the likeliest hand" in costly("4b R G", "N R G", here(filled))


def test_the_gift_is_told_where_it_matters_and_the_best_gives_less() -> None:
    assert "The risk: two 9 dot go together, and your pass helps" in costly("9d 9d N", "N R G", gift=12.6)
    assert "helps the player on your right more than the better one." in costly("9d 9d N", "N R G", gift=12.6)
    alone = costly("8d 9d N", "N R G", gift=12.6)
    assert "The risk: your pass helps the player on your right more than the better one." in alone
    assert "risk" not in costly("9d 9d N", "N R G", gift=0.9)
    decided = tell_pass(
        ENGINE,
        CARD,
        here(),
        RankedPass(typed("7d R G"), 0, 10.2, 0.5, 9.0, 0.9),
        RankedPass(typed("8d R G"), 0, 10.0, 0.5, 2.0, 0.2),
        Estimate(0.5, 0.5),
        1,
    )
    assert decided.verdict == "As good as the best."
    assert decided.plain == (
        "The coach would pass 8 dot, red dragon and green dragon; the gift decides, for it helps the player on your "
        "right less than 7 dot, red dragon and green dragon.",
    )
    assert decided.numbers[0].endswith(" (gifts of 9.0 and 2.0 points; a tenth counts).")
    real = ENGINE.rank(here(), 1, Effort(((3, 8),), gifts=True)).best
    assert real.gift is not None


def test_a_pass_by_the_clock_is_not_called_yours() -> None:
    told = tell_pass(ENGINE, CARD, here(), own("2b R G"), own("F R G"), Estimate(5.0, 0.5), 1, "The clock")
    assert told.plain[0].startswith("The clock let go one of two 2 bam")
    assert not any("You " in sentence for sentence in told.plain)


def test_a_cost_is_told_as_far_as_it_can_be_known() -> None:
    assert verdict_of(Estimate(0.0, 0.0), True) == "Best."
    assert verdict_of(Estimate(0.3, 0.2), False) == "As good as the best."
    assert verdict_of(Estimate(1.0, 0.2), False) == "Cost 1.0 point."
    assert verdict_of(Estimate(9.94, 0.2), False) == "Cost 9.9 points."
    assert verdict_of(Estimate(13.7, 0.2), False) == "Cost 14 points."


def test_tiles_are_listed_as_a_person_says_them() -> None:
    assert listed_tiles(typed("9d N 9d")) == "two 9 dot and north"
    assert listed_tiles(()) == "no tile"


def test_a_pass_that_forwards_tiles_says_how_many_go_blind() -> None:
    own, none = typed("9d"), typed("")
    assert pass_said(RankedPass(own, 2, 0.0, 0.0)) == "9 dot and two blind"
    assert pass_said(RankedPass(none, 3, 0.0, 0.0)) == "three blind"
    assert pass_said(RankedPass(own, 0, 0.0, 0.0)) == "9 dot"
