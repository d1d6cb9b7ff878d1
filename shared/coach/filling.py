"""Does a rack fill? It is played on many times, and a sentence and bars say how often it wins, and as what.

Every number is counted by playing_on.py or is the coach's own; how exact the counting is stands beside it.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import sqrt

from shared.cards.freedom import listed
from shared.cards.picture import AgainstRack
from shared.cards.said import called
from shared.cards.tell import tell
from shared.chances import in_hundred
from shared.coach.coach import Coach
from shared.coach.discards import first_discards
from shared.coach.passes import Position, tiles_of
from shared.coach.playing_on import PlayedOn, Table, play_on, playing
from shared.coach.targets import likeliest_first
from shared.coach.words import told_against
from shared.rules.tiles import KINDS, Rack

_HANDS, _OTHERS = 3, 2
_OTHER_GAMES = 500
_WAITS = 3
_MANY = 0.8
"""The share of the work that the first games are."""


@dataclass(frozen=True)
class Bar:
    """A hand, how often of a hundred games a rack finishes it, and whether it was held to this hand."""

    name: str
    share: float
    is_held: bool = False


@dataclass(frozen=True)
class Filled:
    """What came of a rack that was played on, so far.

    Attributes:
        done: the share of the work done, 0 to 1.
        headline: how often it wins.
        said: when, what it waits for, and what goes first, in sentences.
        bars: hands that it became when it was free to choose, the most frequent first; then others that it was held to.
    """

    done: float
    headline: str
    said: tuple[str, ...] = ()
    bars: tuple[Bar, ...] = ()


def filling(coach: Coach, position: Position, seed: int) -> Iterator[Filled]:
    """Play a rack on a thousand times, then some more for each of two other hands; yield what came so far.

    Args:
        coach: the card and its engine.
        position: what the seat knows after the last pass; with 14 tiles it discards first.
        seed: fixes all that comes.
    """
    names = [told.name for told in tell(coach.card)]
    found = Filled(0.0, "")
    for played, done in playing(coach.engine, position, seed):
        bars = tuple(Bar(names[hand], 100 * count / played.games) for hand, count in played.hands[:_HANDS])
        found = Filled(_MANY * done, _headline(played, done), bars=bars)
        yield found
    found = replace(found, said=_said(coach, position, played, seed))
    became = {bar.name for bar in found.bars}
    order = [each.hand for each in likeliest_first(coach.engine.hands(position)) if names[each.hand] not in became]
    held: list[Bar] = []
    for hand in order[:_OTHERS]:
        alone = play_on(coach.engine, position, seed, _OTHER_GAMES, hand)
        held = sorted((*held, Bar(names[hand], alone.share, is_held=True)), key=lambda bar: -bar.share)
        yield replace(found, bars=(*found.bars, *held), done=_MANY + (1 - _MANY) * len(held) / _OTHERS)
    yield replace(found, bars=(*found.bars, *held), done=1.0)


def _headline(played: PlayedOn, done: float = 1.0) -> str:
    games = f"{played.games:,}"
    if done < 1:
        return f"Playing it on {games} times: {played.won:,} won so far."
    if not played.won:
        return f"Played on {games} times, this rack never wins."
    return f"Played on {games} times, this rack wins {in_hundred(played.share)}, give or take {_error(played)}."


def _error(played: PlayedOn) -> int:
    """Return two standard errors of a share in percent, at least one."""
    share = played.won / played.games
    return max(1, round(200 * sqrt(share * (1 - share) / played.games)))


def _said(coach: Coach, position: Position, played: PlayedOn, seed: int) -> tuple[str, ...]:
    said = []
    if played.won:
        draws = f"{played.draws} draw{'' if played.draws == 1 else 's'}"
        said.append(f"Half of its wins come within {draws} of its own.")
    if played.waits:
        (tile, turns), *others = played.waits[:_WAITS]
        more = f", then for {listed([called(each) for each, _ in others])}" if others else ""
        said.append(f"With one or two to go it waits longest for {called(tile)}, {turns:.1f} turns a game{more}.")
    first = first_discards(coach.engine, position, seed)
    if first:
        said.append(f"First to go: {listed([called(tile) for tile in first])}, in this order.")
    return tuple(said)


# ---- one game, draw by draw


@dataclass(frozen=True)
class Turn:
    """What one own draw brought, and the others' discards after it.

    Attributes:
        said: what came and what went, in a sentence.
        rack: the tiles that nobody sees.
        shown: the groups that were called, jokers in them as the tile they stand for.
        name: the hand that the rack is nearest to.
        drawn: this hand against all its tiles.
        is_won: whether it is complete.
    """

    said: str
    rack: Rack
    shown: Rack
    name: str
    drawn: AgainstRack
    is_won: bool = False


def one_game(coach: Coach, position: Position, seed: int) -> tuple[Turn, ...]:
    """Play a rack on once; return every turn, the first one before anything was drawn."""
    patterns = coach.engine.patterns
    table = Table(patterns, coach.engine.aim_at(position), position, 1, None, seed)
    turns = [_turn(coach, table)]
    for number in range(table.turns):
        if turns[-1].is_won:
            break
        table.story.clear()
        table.turn(number)
        turns.append(_turn(coach, table))
    if not turns[-1].is_won:
        turns[-1] = replace(turns[-1], said=f"{turns[-1].said} Then somebody else ends the hand.".strip())
    return tuple(turns)


_WORDS = {"draw": "{} comes", "call": "you call {}", "discard": "{} goes", "finish": "{} completes it"}


def _turn(coach: Coach, table: Table) -> Turn:
    shown = table.shown[0]
    variant, away = table.nearest()
    name, drawn = told_against(coach.engine.patterns, coach.card, variant, tiles_of(table.racks[0]))
    said = listed([_WORDS[what].format(_tile(kind)) for what, kind in table.story])
    return Turn(
        f"{said[:1].upper()}{said[1:]}." if said else "",
        tiles_of(table.racks[0] - shown),
        tiles_of(shown),
        name,
        drawn,
        is_won=not away,
    )


def _tile(kind: int) -> str:
    return called(KINDS[kind]) if kind >= 0 else "that"
