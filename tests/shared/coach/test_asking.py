"""Each question about a typed rack is answered by the coach's own function, in a headline that its numbers bear out."""

from collections import Counter
from math import sqrt

import pytest

from shared.cards import practice_card
from shared.cards.said import called
from shared.chances import in_hundred
from shared.coach.asking import answer, question_at
from shared.coach.coach import Coach
from shared.coach.engine import Engine
from shared.coach.passes import Position, tiles_of
from shared.coach.playing_on import play_on
from shared.coach.reading import position_read
from shared.coach.sentences import count_word, pass_said
from shared.rules.steps import StepName
from shared.rules.tiles import Rack
from shared.rules.typed_tiles import typed
from tests.shared.coach.racks import racks

COACH = Coach(practice_card(), Engine.of_card(practice_card()))
RACK = typed("1b 1b 2b 3b 5c 6c 7c 9d N E F F J")


def position(rack: Rack, step: StepName | None) -> Position:
    found = position_read(rack, step, ())
    assert isinstance(found, Position)
    return found


def test_a_step_and_the_number_of_tiles_say_what_is_asked() -> None:
    assert [question_at(step, 13) for step in ("first right", "go on", "courtesy offer", None)] == [
        "pass",
        "vote",
        "offer",
        "hand",
    ]
    assert question_at(None, 14) == "discard"


def test_the_pass_named_is_the_best_one_and_every_tile_is_kept_maybe_or_free() -> None:
    found = answer(COACH, "pass", position(RACK, "first right"), "first right")
    assert found.headline == f"Pass {pass_said(found.reading.passes[0])}."
    assert Counter(tile for tile, _ in found.uses) == Counter(RACK)


@pytest.mark.parametrize("rack", [RACK, typed("2b 2b 4b 6b 9b 1c 5c 2d N R O F J")])
def test_the_safest_pass_helps_less_than_the_best_and_cannot_be_told_from_it(rack: Rack) -> None:
    reading = answer(COACH, "pass", position(rack, "last right"), "last right").reading
    ranking = COACH.engine.rank(reading.position, 1)
    assert ranking.passes
    if reading.safest is not None:
        best = reading.passes[0]
        assert best.gift is not None
        assert reading.safest.gift is not None
        assert best.gift - reading.safest.gift >= 1
        assert best.net - reading.safest.net <= 2 * (best.se + reading.safest.se)


def test_some_pass_has_a_safer_one_beside_it_and_it_is_told() -> None:
    dealt = [tiles_of(counts) for counts in racks(5, 8, 13)]
    found = [answer(COACH, "pass", position(rack, "first left"), "first left") for rack in dealt]
    told = [one for one in found if one.reading.safest is not None]
    assert told
    for one in told:
        assert one.reading.safest is not None
        assert any(pass_said(one.reading.safest) in sentence for sentence in one.said)


def test_a_blind_pass_is_weighed_against_one_with_open_tiles() -> None:
    found = answer(COACH, "blind", position(RACK, "first left"), "first left")
    best = found.reading.passes[0]
    other = next(one for one in found.reading.passes if bool(one.blind) != bool(best.blind))
    assert f"({pass_said(other)}) would cost {best.net - other.net:.1f} points." in found.said[-1]


def test_a_vote_an_offer_and_a_discard_say_what_the_numbers_say() -> None:
    votes = answer(COACH, "vote", position(RACK, "go on"), "go on")
    gap = votes.reading.votes.gap if votes.reading.votes else None
    assert gap is not None
    close = abs(gap.points) < 2 * gap.se
    assert votes.headline == ("Go on or stop: too close to call." if close else "Go on." if gap.points > 0 else "Stop.")
    offer = answer(COACH, "offer", position(RACK, "courtesy offer"), "courtesy offer")
    best = offer.reading.passes[0]
    assert offer.headline == f"Offer {count_word(len(best.tiles))}: {pass_said(best)}."
    first = answer(COACH, "discard", position((*RACK, "2d"), None), None)
    names = [called(each.tile) for each in first.reading.discards[:3]]
    assert first.headline == f"Discard {names[0]}, {names[1]} and {names[2]}, in this order."
    hand = answer(COACH, "hand", position(RACK, None), None)
    assert hand.headline.startswith(hand.reading.hands[0].name)


def test_a_rack_played_on_says_how_often_it_wins_as_what_and_how_two_other_hands_would_do() -> None:
    found = answer(COACH, "fill", position(typed("1b 1b 3b 5c 5c 5c 6c 6c 7c F F F J"), None), None)
    played = play_on(COACH.engine, found.reading.position, 1)
    give = round(2 * 100 * sqrt(played.share / 100 * (1 - played.share / 100) / played.games))
    assert found.headline == f"Played on 1,000 times, this rack wins {in_hundred(played.share)}, give or take {give}."
    free, held = ([bar for bar in found.bars if bar.is_held is each] for each in (False, True))
    assert [bar.share for bar in free] == [100 * count / 1000 for _, count in played.hands[:3]]
    assert len(held) == 2
    assert not {bar.name for bar in free} & {bar.name for bar in held}
    waited = called(played.waits[0][0])
    assert any(sentence.startswith(f"With one or two to go it waits longest for {waited}, ") for sentence in found.said)
