"""A rack played on after the Charleston by one seat, many times: how often it finishes, as what, what it waits for.

The seat draws, calls and discards by a simple policy: it weighs its nearest targets by how likely their missing tiles
are to come, lets go of what these need least, and calls what its best target needs. The three others are no players: by
turns they discard tiles, and one of them ends the hand as early or as late as on this card (`others.py`). So it shows
what a rack becomes; how far its level is from whole games is measured in tests/bench/game.

Must never see another rack: all that comes is drawn from what the position has not seen.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from shared.coach.aims import Aim
from shared.coach.chance import Floats, Indices
from shared.coach.distance import JOKER_INDEX, Counts, Patterns, shortages
from shared.coach.engine import Engine
from shared.coach.passes import Position
from shared.rules.tiles import KINDS, Tile

GAMES = 1000
_HELD = 13
_TARGETS = 6
_FAR = np.uint8(255)
_NONE = -1
_LEAST = 1e-9
_CLOSE = 2
_POWER = 3.0
_GROUP = 3
_FETCHED = 0.9 / 4 / 13.5
"""How often a tile drawn is exchanged for a joker that somebody shows: 0.9 a game of four seats, so many draws each,
as the simulator of whole hands counted (tests/README.md)."""

Mask = NDArray[np.bool_]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class PlayedOn:
    """What came of a rack.

    Attributes:
        games: how often it was played.
        won: how often it finished first.
        hands: index of the card's hand and how often it was finished, the most frequent first.
        draws: own draws of the games that it won, in the median; 0 if there were none.
        waits: kinds that were waited for with two tiles to go or fewer, and for how many turns a game, the longest
            first.
    """

    games: int
    won: int
    hands: tuple[tuple[int, int], ...]
    draws: int
    waits: tuple[tuple[Tile, float], ...]

    @property
    def share(self) -> float:
        """How often it wins, in percent."""
        return 100 * self.won / self.games


def playing(
    engine: Engine, position: Position, seed: int, games: int = GAMES, hand: int | None = None
) -> Iterator[tuple[PlayedOn, float]]:
    """Play a rack on, all games side by side; yield after each draw what came so far, with the share done.

    Args:
        engine: the card's engine.
        position: what the seat knows after the last pass; with 14 tiles it discards first.
        seed: fixes all that comes.
        games: how often to play it.
        hand: the only hand to play for; None for any.
    """
    table = Table(engine.patterns, engine.aim_at(position), position, games, hand, seed)
    for turn in range(table.turns):
        table.turn(turn)
        yield table.found(), (turn + 1) / table.turns
    if not table.turns:
        yield table.found(), 1.0


def play_on(engine: Engine, position: Position, seed: int, games: int = GAMES, hand: int | None = None) -> PlayedOn:
    """Return what came of a rack that was played on; see playing."""
    *_, (found, _) = playing(engine, position, seed, games, hand)
    return found


What = Literal["draw", "call", "discard", "finish"]


class Table:
    """All games side by side.

    Attributes:
        story: what happened in the only game, kinds in the order of time; kept where one game is played.
    """

    def __init__(
        self, patterns: Patterns, aim: Aim, position: Position, games: int, hand: int | None, seed: int
    ) -> None:
        self.patterns, self.play = patterns, aim.play
        self.dice = np.random.Generator(np.random.PCG64(np.random.SeedSequence((seed, 3))))
        self.racks = np.tile(position.counts(), (games, 1)).astype(np.int16)
        self.unseen = np.tile(position.unseen(), (games, 1)).astype(np.int16)
        self.shown = np.zeros_like(self.racks)
        allowed = np.ones(len(patterns), dtype=bool) if hand is None else patterns.hand == hand
        self.allowed: Mask = np.tile(allowed, (games, 1))
        weights = np.array(self.play.draws, dtype=float)
        self.ends: Ints = self.dice.choice(len(weights), size=games, p=weights / weights.sum())
        self.finished: Ints = np.full(games, _NONE)
        self.finished_at: Ints = np.zeros(games, dtype=np.int64)
        self.waited = np.zeros(len(KINDS))
        self.story: list[tuple[What, int]] = []
        if len(position.rack) > _HELD:  # the dealer discards before anything comes
            self._finish_or_discard(np.arange(games), 0)

    @property
    def turns(self) -> int:
        """How many own draws the longest game has."""
        return int(self.ends.max(initial=0))

    def turn(self, turn: int) -> None:
        """Play one own draw and the others' discards after it, in the games that go on."""
        games = np.flatnonzero((self.finished == _NONE) & (self.ends > turn))
        if not len(games):
            return
        kinds = self._some(self.unseen[games])
        fetches = (self.dice.random(len(kinds)) < _FETCHED) & (self.unseen[games, JOKER_INDEX] > 0)
        kinds[fetches] = JOKER_INDEX
        self.racks[games, kinds] += 1
        self.unseen[games, kinds] -= 1
        self._tell("draw", kinds)
        aims = self._finish_or_discard(games, turn + 1)
        for _ in range(self.play.discards):
            aims = self._called(aims, turn + 1)

    def found(self) -> PlayedOn:
        """Return what came of all games."""
        won = self.finished != _NONE
        hands, counts = np.unique(self.patterns.hand[self.finished[won]], return_counts=True)
        order = np.argsort(-counts, kind="stable")
        draws = int(np.median(self.finished_at[won])) if won.any() else 0
        kinds = [int(kind) for kind in np.argsort(-self.waited, kind="stable") if self.waited[kind]]
        waits = tuple((KINDS[kind], float(self.waited[kind]) / len(won)) for kind in kinds)
        pairs = tuple((int(hands[place]), int(counts[place])) for place in order)
        return PlayedOn(len(won), int(won.sum()), pairs, draws, waits)

    def nearest(self) -> tuple[int, int]:
        """Return the target that the only game is nearest to, and how many tiles are missing."""
        near, away = self._nearest(np.zeros(1, dtype=np.int64))
        return int(near[0, 0]), int(away[0, 0])

    # ---- one turn

    def _tell(self, what: What, kinds: Ints) -> None:
        if len(self.racks) == 1:
            self.story += [(what, int(kind)) for kind in kinds]

    def _finish_or_discard(self, games: Ints, draws: int) -> "_Aims":
        """End the games whose rack is complete; let go of one tile in the others, and return what these aim at."""
        near, away = self._nearest(games)
        done = away[:, 0] == 0
        self.finished[games[done]], self.finished_at[games[done]] = near[done, 0], draws
        self._tell("finish", np.full(int(done.sum()), _NONE))
        games, near = games[~done], near[~done]
        aims = _Aims(self, games, near, max(1.0, float((self.ends[games] - draws + 1).mean()) if len(games) else 1.0))
        self._discard(aims)
        self.waited += aims.waited()
        return aims.of(np.arange(len(games)))  # without the tile that went

    def _some(self, weights: NDArray[np.int16]) -> Ints:
        """Return one kind for each row, by weight."""
        sums = weights.cumsum(axis=1, dtype=float)
        reached = self.dice.random(len(weights))[:, None] * sums[:, -1:]
        kinds: Ints = (sums <= reached).sum(axis=1).clip(0, len(KINDS) - 1)
        return kinds

    def _nearest(self, games: Ints) -> tuple[Indices, Ints]:
        """Return the nearest allowed targets of games, and how far they are; shape (games, targets)."""
        racks: Counts = self.racks[games].astype(np.uint8)
        in_pairs, in_groups = shortages(self.patterns, racks)
        jokers = racks[:, JOKER_INDEX:]
        by_groups = np.maximum(in_groups, jokers) - jokers
        key = np.where(self.allowed[games], 5 * in_pairs + 4 * by_groups, _FAR)
        near = np.argsort(key, axis=1, kind="stable")[:, :_TARGETS]
        away = np.take_along_axis(in_pairs, near, axis=1) + np.take_along_axis(by_groups, near, axis=1)
        allowed = np.take_along_axis(self.allowed[games], near, axis=1)
        return near, np.where(allowed, away, _FAR).astype(np.int64)

    def _discard(self, aims: "_Aims") -> None:
        """Let go of the tile that the targets need least; jokers and shown tiles stay."""
        games = aims.games
        free = self.racks[games] - self.shown[games]
        need = np.where(free > 0, aims.need(), np.inf)
        need[:, JOKER_INDEX] = np.inf
        kinds = need.argmin(axis=1)
        holds = np.isfinite(need[np.arange(len(games)), kinds])
        self.racks[games[holds], kinds[holds]] -= 1
        self._tell("discard", kinds[holds])

    def _called(self, aims: "_Aims", draws: int) -> "_Aims":
        """Let the others discard; call what completes a hand, or a group of the best target.

        Returns the aims of the games that have called nothing yet.
        """
        games = aims.games
        if not len(games):
            return aims
        naturals = self.unseen[games]
        naturals[:, JOKER_INDEX] = 0
        kinds = self._some(naturals)
        copies = self.unseen[games, kinds]
        comes = (copies > 0) & (self.dice.random(len(kinds)) < np.array(self.play.offered)[copies])
        self.unseen[games[comes], kinds[comes]] -= 1
        ends = aims.finished_by(kinds)
        done = comes & (ends != _NONE)
        self.finished[games[done]], self.finished_at[games[done]] = ends[done], draws
        self.racks[games[done], kinds[done]] += 1
        self._tell("finish", kinds[done])
        size, jokers = aims.group_for(kinds)
        calls = comes & ~done & (size > 0)
        self._tell("call", kinds[calls])
        for row in np.flatnonzero(calls).tolist():
            self._show(int(games[row]), int(kinds[row]), int(size[row]), int(jokers[row]))
        if calls.any():
            self._finish_or_discard(games[calls], draws)
        return aims.of(np.flatnonzero(~done & ~calls))

    def _show(self, game: int, kind: int, size: int, jokers: int) -> None:
        """Show a group: from now on only targets with this group, and not concealed, are allowed."""
        self.racks[game, kind] += 1 + jokers
        self.racks[game, JOKER_INDEX] -= jokers
        self.shown[game, kind] += size
        patterns = self.patterns
        self.allowed[game] &= (patterns.groups[:, kind] == size) & ~patterns.concealed


class _Aims:
    """What the nearest targets of games lack, by kind, and how likely that is to come in so many turns.

    near has shape (games, targets); pairs, groups and what they lack (games, targets, 36).
    """

    def __init__(self, table: Table, games: Ints, near: Indices, turns: float) -> None:
        self.table, self.games, self.near, self.turns = table, games, near, turns
        patterns, racks = table.patterns, table.racks[games]
        held = racks[:, None, :]
        self.pairs, self.groups = patterns.pairs[near].astype(np.int16), patterns.groups[near].astype(np.int16)
        in_pairs = np.minimum(held, self.pairs)
        self.in_groups = np.minimum(held - in_pairs, self.groups)
        self.lacks_pairs, self.lacks_groups = self.pairs - in_pairs, self.groups - self.in_groups
        self.held, self.jokers = held, racks[:, JOKER_INDEX]
        self.allowed: Mask = np.take_along_axis(table.allowed[games], near, axis=1)
        self.open_groups: Ints = self.lacks_groups.sum(axis=2, dtype=np.int64)
        self.to_go: Ints = self.lacks_pairs.sum(axis=2) + np.maximum(self.open_groups - self.jokers[:, None], 0)

    def of(self, rows: Indices) -> "_Aims":
        """Return the aims of some of the games."""
        return _Aims(self.table, self.games[rows], self.near[rows], self.turns)

    def need(self) -> Floats:
        """Return how much the targets need one tile of each kind that is held, shape (games, 36)."""
        used = (self.held <= self.pairs + self.groups) & (self.held > 0)
        need: Floats = (self._weights()[:, :, None] * used).sum(axis=1)
        return need

    def _weights(self) -> Floats:
        """Return how likely each target is to fill, the best one of a game being 1; shape (games, targets)."""
        table = self.table
        unseen = table.unseen[self.games].astype(float)
        share = (unseen / np.maximum(unseen.sum(axis=1, keepdims=True), 1.0))[:, None, :]
        drawn = np.log(1 - (1 - share) ** self.turns + _LEAST)
        called = np.log(1 - (1 - share) ** (self.turns * (1 + table.play.discards)) + _LEAST)
        ways = np.where(table.patterns.concealed[self.near][:, :, None], drawn, called)
        still = np.maximum(self.open_groups - self.jokers[:, None], 0) / np.maximum(self.open_groups, 1)
        likely = (self.lacks_pairs * drawn).sum(axis=2) + (self.lacks_groups * ways).sum(axis=2) * still
        likely = np.where(self.allowed, likely, -np.inf)
        best = likely.max(axis=1, keepdims=True, initial=-1e9)
        weights: Floats = np.exp(_POWER * (likely - best))
        return weights

    def waited(self) -> Floats:
        """Return in how many games each kind is waited for, with two tiles to go or fewer, shape (36,)."""
        close = self.allowed[:, 0] & (self.to_go[:, 0] <= _CLOSE)
        lacks: Floats = ((self.lacks_pairs + self.lacks_groups)[close, 0] > 0).sum(axis=0).astype(float)
        return lacks

    def finished_by(self, kinds: Ints) -> Ints:
        """Return the target that one more tile completes in each game, -1 where there is none; shape (games,)."""
        rows = np.arange(len(kinds))
        lacks = self.lacks_pairs[rows, :, kinds] + self.lacks_groups[rows, :, kinds]
        done = (self.to_go == 1) & (lacks > 0) & self.allowed
        ends: Ints = np.where(done.any(axis=1), self.near[rows, done.argmax(axis=1)], _NONE)
        return ends

    def group_for(self, kinds: Ints) -> tuple[Ints, Ints]:
        """Return the size of the group that one more tile completes for the best target, with the jokers it takes.

        Both have shape (games,); the size is 0 where the tile is not to be called.
        """
        rows, table = np.arange(len(kinds)), self.table
        size = self.groups[rows, 0, kinds].astype(np.int64)
        jokers = size - 1 - self.in_groups[rows, 0, kinds]
        able = (self.lacks_groups[rows, 0, kinds] > 0) & (jokers <= self.jokers) & self.allowed[:, 0]
        shown = table.shown[self.games, kinds] > 0
        calls = (size >= _GROUP) & ~shown & able & ~table.patterns.concealed[self.near[:, 0]]
        return np.where(calls, size, 0), np.where(calls, np.maximum(jokers, 0), 0).astype(np.int64)
