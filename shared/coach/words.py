"""What the coach says about a pass, from its numbers and in the trade's words.

Must never say what we did not compute: no stock phrases. Of unseen tiles it may only count how many of a kind are out.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from shared.cards import Card
from shared.cards.picture import AgainstRack
from shared.cards.tell import tell
from shared.coach.distance import JOKER_INDEX, Counts, Patterns, counts_of
from shared.coach.engine import Engine
from shared.coach.ledger import LedgerEntry
from shared.coach.passes import Position, tiles_of
from shared.coach.ranking import RankedPass
from shared.coach.targets import SET, HandReading
from shared.rules.tiles import INDEX, KINDS, Rack, Tile, name, rank, suit, word

KEEPS = "It keeps "
"""How the sentence on the hands that stay alive begins; where they are drawn, it need not be printed."""
_MOST_TARGETS = 3
_ALIVE = 0.3
"""A pass keeps a hand alive if its chance is at least this share of the best hand's."""
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight")
_GROUPS = {2: "pair", 3: "pung", 4: "kong", 5: "quint"}


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
        """Return it as sentences name it: "run 3-4-3, one suit (8 away, 27.9 points)"."""
        return f"{self.name} ({self.away} away, {self.points:.1f} points)"


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
    best = sorted(readings, key=lambda reading: (-reading.win, reading.away, reading.hand))[:_MOST_TARGETS]
    alive = [reading for reading in best if reading.win > 0 and reading.win >= _ALIVE * best[0].win]
    return tuple(target_of(engine.patterns, card, reading, rack) for reading in alive)


def target_of(patterns: Patterns, card: Card, reading: HandReading, rack: Counts) -> Target:
    """Return a hand that was read, with its name and drawn against the rack."""
    name, drawn = told_against(patterns, card, reading, tiles_of(rack))
    hand = card.hands[reading.hand].id
    return Target(hand, drawn.away, 100 * reading.win, reading.variant, name, drawn)


def told_against(patterns: Patterns, card: Card, reading: HandReading, rack: Rack) -> tuple[str, AgainstRack]:
    """Return the name of a hand that was read, and its likeliest pattern drawn against a rack."""
    told = tell(card)[reading.hand]
    wanted = tuple(patterns.pairs[reading.variant].tolist()), tuple(patterns.groups[reading.variant].tolist())
    return told.name, told.as_variant(wanted, rack)


def explain(engine: Engine, card: Card, position: Position, ranked: RankedPass) -> tuple[str, ...]:
    """Return sentences about one pass: what it keeps, leaves idle, breaks, waits for and gives."""
    targets = targets_after(engine, card, position, ranked.tiles)
    after = position.counts() - counts_of(ranked.tiles)
    patterns = engine.patterns
    wanted = [patterns.pairs[target.variant] + patterns.groups[target.variant] for target in targets]
    said = (
        _keeps(targets),
        _idle(after, wanted),
        *_broken(position.counts(), ranked.tiles),
        *(_waits(after, wanted[0], position.unseen()) if wanted else ()),
        _gift(ranked),
    )
    return tuple(sentence for sentence in said if sentence)


def _keeps(targets: tuple[Target, ...]) -> str:
    if not targets:
        return "It keeps no hand of the card within reach."
    return f"{KEEPS}{listed([str(target) for target in targets])}."


def _idle(after: Counts, wanted: list[Counts]) -> str:
    """Name the tiles that none of the targets asks for."""
    if not wanted:
        return ""
    idle = [kind for kind in np.flatnonzero(after[:JOKER_INDEX]) if not any(want[kind] for want in wanted)]
    if not idle:
        return "Every tile that stays serves a hand that it keeps."
    verb = "serves" if len(idle) == 1 and after[idle[0]] == 1 else "serve"
    return (
        f"{listed([_some(KINDS[kind], int(after[kind])) for kind in idle]).capitalize()} {verb} no hand that it keeps."
    )


def _broken(rack: Counts, tiles: Rack) -> list[str]:
    """Name the pairs, larger groups and runs of three that lose some but not all of their tiles."""
    given = counts_of(tiles)
    broken = [
        f"It breaks the {_GROUPS.get(int(rack[kind]), 'group')} of {name(KINDS[kind])}."
        for kind in np.flatnonzero(given)
        if rack[kind] >= 2 and given[kind] < rack[kind]
    ]
    for tile in dict.fromkeys(tiles):
        run = run_around(rack - given, tile) if given[INDEX[tile]] == rack[INDEX[tile]] else None
        if run:
            broken.append(f"It takes {name(tile)} out of the run {run}.")
    return broken


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


def _waits(after: Counts, want: Counts, unseen: Counts) -> list[str]:
    """Name the kind that the first target misses between two of its ranks, and how many of it are unseen."""
    said = []
    for kind in np.flatnonzero(want[:JOKER_INDEX]):
        number = rank(KINDS[kind])
        if after[kind] or number in (None, 1, 9):
            continue
        below, above = _held_beside(after, want, int(kind), -1), _held_beside(after, want, int(kind), 1)
        if below and above:
            left = int(unseen[kind])
            count = _NUMBERS[left] if left < len(_NUMBERS) else str(left)
            said.append(f"The gap waits for {name(KINDS[kind])}: {count} of {SET[kind]} unseen.")
    return said[:1]


def _held_beside(after: Counts, want: Counts, kind: int, step: int) -> bool:
    """Whether the rack holds the next rank that the target wants in this suit and direction; it may skip one rank."""
    for distance in (1, 2):
        other = kind + step * distance
        if 0 <= other < JOKER_INDEX and suit(KINDS[other]) == suit(KINDS[kind]) and want[other]:
            return bool(after[other])
    return False


def _gift(ranked: RankedPass) -> str:
    if ranked.gift is None or not ranked.tiles:
        return ""
    what = "it, the tile is" if len(ranked.tiles) == 1 else "them, the tiles are"
    return f"To the seat that gets {what} worth {ranked.gift:.1f} points on average."


def vote_words(voted: bool, go_on: float, stop: float) -> str:
    """Return what a vote was worth beside the other, and why; both in points."""
    said = f"Going on is worth {go_on:.0f} points, stopping {stop:.0f}: "
    if stop > go_on:
        return said + "your rack is ahead, and a second Charleston helps the others more."
    return said + ("your rack needs" if voted else "your rack needed") + " what a second Charleston brings."


def judged(entry: LedgerEntry, best: str = "") -> str:
    """Return the ledger's sentence about one decision; best names the best answer if it is not a pass."""
    if entry.forced:
        return f"{entry.step.capitalize()}: nothing to choose."
    who = {"person": "", "timeout": " by the clock", "bot": " by a bot"}[entry.by]
    if entry.chosen == entry.best:
        return f"{entry.step.capitalize()}{who}: the best {'answer' if best else 'pass'}."
    if entry.too_close:
        return f"{entry.step.capitalize()}{who}: too close to call."
    return f"{entry.step.capitalize()}{who}: {entry.loss:.1f} points less than {best or listed_pass(entry.best)}."


def listed_tiles(tiles: Rack) -> str:
    """Return tiles by name, equal ones counted, such as "two 9 dot and north"."""
    kinds = dict.fromkeys(tiles)
    return listed([_some(tile, tiles.count(tile)) for tile in kinds]) or "no tile"


def listed_pass(ranked: RankedPass) -> str:
    """Return a pass by the names of its tiles and its number of blind ones, such as "9 dot and two blind"."""
    blind = f"{_NUMBERS[ranked.blind]} blind"
    if not ranked.tiles and ranked.blind:
        return blind
    return listed_tiles(ranked.tiles) + (f" and {blind}" if ranked.blind else "")


def _some(tile: Tile, count: int) -> str:
    return name(tile) if count == 1 else f"{_NUMBERS[count]} {name(tile)}"


def listed(items: list[str]) -> str:
    """Return items as a list in a sentence."""
    return " and ".join([", ".join(items[:-1]), items[-1]] if len(items) > 1 else items)
