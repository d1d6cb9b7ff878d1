"""A rack that is played on: sentences and bars say what was counted, and one game adds up draw by draw."""

from collections import Counter

from shared.cards import practice_card
from shared.cards.said import called
from shared.cards.tell import tell
from shared.chances import in_hundred
from shared.coach.coach import Coach
from shared.coach.discards import discards, first_discards
from shared.coach.engine import Engine
from shared.coach.filling import filling, one_game
from shared.coach.passes import Position
from shared.coach.playing_on import GAMES, play_on
from shared.rules.typed_tiles import typed

COACH = Coach(practice_card(), Engine.of_card(practice_card()))
NAMES = [told.name for told in tell(COACH.card)]
POSITION = Position(typed("1b 1b 3b 5c 5c 5c 6c 6c 7c F F F J 9d"), (), 0, (), courtesy=True, made=6)


def test_the_sentences_and_the_bars_say_what_was_counted() -> None:
    *before, whole = filling(COACH, POSITION, 4)
    played = play_on(COACH.engine, POSITION, 4)
    assert f"Played on {GAMES:,} times, this rack wins {in_hundred(played.share)}" in whole.headline
    assert f"Half of its wins come within {played.draws} draws" in whole.said[0]
    assert called(played.waits[0][0]) in whole.said[1]
    became = {bar.name: bar.share for bar in whole.bars if not bar.is_held}
    assert became.items() <= {NAMES[hand]: 100 * count / GAMES for hand, count in played.hands}.items()
    held = [bar for bar in whole.bars if bar.is_held]
    assert len(held) == 2
    assert not {bar.name for bar in held} & became.keys()
    for bar in held:
        assert play_on(COACH.engine, POSITION, 4, 500, NAMES.index(bar.name)).share == bar.share
    assert [each.done for each in before] == sorted(each.done for each in before)
    assert whole.done == 1


def test_a_rack_that_cannot_win_is_said_to_win_never() -> None:
    gone = Position(typed("1b 4b 8b 2c 5c 9c 3d 6d N E S R O"), (), 0, (), courtesy=True, made=6)
    *_, whole = filling(COACH, gone, 1)
    assert whole.headline
    assert "First to go" in whole.said[-1]


def test_the_first_three_to_go_are_each_the_least_missed_of_what_is_left() -> None:
    first = first_discards(COACH.engine, POSITION, 1)
    assert len(first) == 3
    assert first[0] == discards(COACH.engine, POSITION, 1)[0].tile
    assert Counter(first) <= Counter(POSITION.rack)


def test_one_game_goes_from_rack_to_rack() -> None:
    for seed in range(4):
        turns = one_game(COACH, POSITION, seed)
        for turn in turns:
            is_over = turn.is_won or turn is turns[-1]
            assert len(turn.rack) + len(turn.shown) == 13 + turn.is_won
            assert turn.is_won == (turn.drawn.away == 0)
            assert bool(turn.said) or is_over
        assert turns[0].said.endswith("goes.")
        assert turns[-1].is_won or turns[-1].said.endswith("Then somebody else ends the hand.")
        assert turns == one_game(COACH, POSITION, seed)
