"""Hands, tiles, verdicts and votes in the trade's words; what is said about a pass stands in sentences.py.

Must never say what we did not compute: no stock phrases.
"""

from dataclasses import dataclass
from functools import lru_cache

from shared.cards import Card
from shared.cards.picture import AgainstRack
from shared.cards.tell import tell
from shared.coach.distance import Counts, Patterns, counts_of
from shared.coach.engine import Engine
from shared.coach.estimate import Estimate
from shared.coach.ledger import LedgerEntry
from shared.coach.passes import Position, tiles_of
from shared.coach.targets import HandReading, within_reach
from shared.rules.tiles import INDEX, KINDS, Rack, Tile, rank, word

_MOST_TARGETS = 3
_WHOLE = 9.95
"""Points from which a cost is told without decimals."""


@dataclass(frozen=True)
class Target:
    """A hand that a pass keeps alive.

    Attributes:
        hand: its id, for files only.
        away: how many tiles its likeliest pattern lacks.
        points: the chance of winning with it and no other hand, in percent.
        variant: its likeliest pattern.
        name: its name on the card.
        drawn: that pattern against the rack.
    """

    hand: str
    away: int
    points: float
    variant: int
    name: str = ""
    drawn: AgainstRack | None = None

    def __str__(self) -> str:
        """Return it as sentences name it: "run 3-4-3, one suit (8 to go)"."""
        return f"{self.name} ({self.away} to go)"


@lru_cache(maxsize=64)
def targets_after(engine: Engine, card: Card, position: Position, tiles: Rack) -> tuple[Target, ...]:
    """Return the hands that passing these tiles keeps alive, the likeliest first.

    Cached, because callers ask about one position's passes several times in a row.
    """
    rack = position.counts() - counts_of(tiles)
    return _alive(engine, card, engine.hands_after(position, tiles), rack)


def targets_before(engine: Engine, card: Card, position: Position) -> tuple[Target, ...]:
    """Return the hands that the rack has alive before the pass, the likeliest first."""
    return _alive(engine, card, engine.hands(position), position.counts())


def _alive(engine: Engine, card: Card, readings: tuple[HandReading, ...], rack: Counts) -> tuple[Target, ...]:
    alive = within_reach(readings)[:_MOST_TARGETS]
    return tuple(target_of(engine.patterns, card, reading, rack) for reading in alive)


def target_of(patterns: Patterns, card: Card, reading: HandReading, rack: Counts) -> Target:
    """Return a hand that was read, with its name and drawn against the rack."""
    name, drawn = told_against(patterns, card, reading.variant, tiles_of(rack))
    hand = card.hands[reading.hand].id
    return Target(hand, drawn.away, 100 * reading.win, reading.variant, name, drawn)


def told_against(patterns: Patterns, card: Card, variant: int, rack: Rack) -> tuple[str, AgainstRack]:
    """Return the name of a pattern's hand, and the pattern drawn against a rack."""
    told = tell(card)[int(patterns.hand[variant])]
    wanted = tuple(patterns.pairs[variant].tolist()), tuple(patterns.groups[variant].tolist())
    return told.name, told.as_variant(wanted, rack)


def run_around(after: Counts, tile: Tile) -> str | None:
    """Return the run of neighbours that a tile was part of, if it had three ranks or more."""
    own = rank(tile)
    if own is None:
        return None
    low = high = own
    while low > 1 and after[INDEX[KINDS[INDEX[tile] - (own - low) - 1]]]:
        low -= 1
    while high < 9 and after[INDEX[KINDS[INDEX[tile] + (high - own) + 1]]]:
        high += 1
    ranks = "-".join(str(number) for number in range(low, high + 1))
    return f"{ranks} {word(tile)}" if high - low >= 2 else None


def verdict_of(loss: Estimate, is_best: bool) -> str:
    """Return the verdict on an answer that is worth so much less than the best: what it cost, if that can be told."""
    if is_best:
        return "Best."
    if loss.too_close:
        return "As good as the best."
    cost = f"{loss.points:.1f}" if loss.points < _WHOLE else f"{loss.points:.0f}"
    return f"Cost {cost} point{'' if cost == '1.0' else 's'}."


def judged(entry: LedgerEntry, best: str = "") -> str:
    """Return the ledger's sentence about one decision; best names the best answer if it is not a pass."""
    if entry.forced:
        return f"{entry.step.capitalize()}: nothing to choose."
    who = {"person": "", "timeout": " by the clock", "bot": " by a bot", "other": " by somebody else"}[entry.by]
    verdict = verdict_of(Estimate(entry.loss, entry.se), entry.chosen == entry.best)
    better = f"; better: {best}." if best and entry.chosen != entry.best and not entry.too_close else "."
    return f"{entry.step.capitalize()}{who}: {verdict[:1].lower()}{verdict[1:-1]}{better}"
