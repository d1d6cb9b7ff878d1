"""The engine of one card: reads hands, ranks every legal pass, measures the worth of each tile.

Must never see more than the given position, and never read a clock or draw random numbers: the seed is an argument,
and the same position and seed give the same answer. To show progress or stop a long computation, a caller gives
`check`: we call it with the share done, and it may raise `Stopped`.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from shared.cards import Card
from shared.coach.aims import Aim, counted_tiles, drawn_passes, winning
from shared.coach.chance import Floats, Indices
from shared.coach.distance import JOKER_INDEX, Counts, Patterns, counts_of
from shared.coach.estimate import Estimate
from shared.coach.futures import Prospects, orders, several_passes, tally
from shared.coach.others import ACROSS, BOTH, Others, others
from shared.coach.passes import PASS, Changes, Choices, Position, single_tiles, tiles_of
from shared.coach.ranking import HINT, Effort, RankedPass, Ranking, exact, guessed, means, order_of
from shared.coach.targets import KEEP, HandReading, read_hands
from shared.rules.steps import FIRST
from shared.rules.tiles import KINDS, Rack, Tile

Check = Callable[[float], None]
"""Called with the share done, 0 to 1; raises Stopped to end the computation."""

_BLOCK = 64  # passes evaluated between two checks
_BANK = 20  # sampled racks on which we measure a gift
_RACK = 13
_OTHERS = 3 * _RACK
_WORTHS = 128
_UNDER = 64  # samples of tiles that lie face down


class Stopped(Exception):
    """The caller ended the computation."""


@dataclass(frozen=True, eq=False)
class Engine:
    """The engine of one card. Making one expands the card, which is slow; the rest is quick.

    Attributes:
        patterns: the card's variants as arrays.
        aim: what a worth is a chance of; None for winning at a table of four.
    """

    patterns: Patterns
    aim: Aim | None = None

    @cached_property
    def others(self) -> Others:
        """What to expect of the three others; computed at the first question."""
        return others(self.patterns)

    @classmethod
    def of_card(cls, card: Card, aim: Aim | None = None) -> "Engine":
        """Return the engine of a card."""
        return cls(Patterns.of_card(card), aim)

    def aim_at(self, position: Position) -> Aim:
        """Return what a worth is a chance of: the less the others have passed, the longer a hand lasts."""
        return self.aim or self._winning[2 * (position.passes >= BOTH) + position.courtesy]

    @cached_property
    def _winning(self) -> tuple[Aim, ...]:
        return tuple(
            winning(draws, both=bool(both), courtesy=courtesy)
            for both, draws in enumerate(self.others.draws)
            for courtesy in (False, True)
        )

    def hands(self, position: Position) -> tuple[HandReading, ...]:
        """Return the reading of every hand for the rack as it stands, with the pass at hand and later ones to come."""
        return self._read(position, position.counts(), counted_tiles(position.ahead) + position.face_down)

    def hands_after(self, position: Position, tiles: Rack) -> tuple[HandReading, ...]:
        """Return the reading of every hand once these tiles are passed and before as many come."""
        coming = len(tiles) + counted_tiles(position.later)
        return self._read(position, position.counts() - counts_of(tiles), coming)

    def _read(self, position: Position, rack: Counts, coming: int) -> tuple[HandReading, ...]:
        aim, unseen = self.aim_at(position), position.unseen()
        return read_hands(self.patterns, rack, unseen, aim, coming, position.ahead, valued=position.valued)

    def as_it_is(self, position: Position) -> float:
        """Return the points of the rack if no more tiles come by passes."""
        return exact(100 * float(self.changed_as_it_is(position, np.zeros((1, len(KINDS)), dtype=np.int8))[0]))

    def changed_as_it_is(self, position: Position, changes: Changes) -> Floats:
        """Return the worth of the rack after changes of shape (changes, 36) if no more tiles come by passes, 0 to 1.

        Of tiles that lie face down it counts on what may be there, on average.
        """
        aim, came = self.aim_at(position), self.under(position, _UNDER)
        racks, unseen = position.counts() + came, position.unseen() - came
        prospects = Prospects.of(self.patterns, racks, unseen, aim.play, 0, position.valued)
        found: Floats = aim.worth(prospects.changed(changes), 0).mean(axis=1)
        return found

    def under(self, position: Position, number: int) -> Counts:
        """Return what may lie face down, so many times, shape (number, 36); nothing, once, where no tile does."""
        if not position.face_down:
            return np.zeros((1, len(KINDS)), dtype=np.uint8)
        readiness = self.others.flow[len(FIRST) - 1 : len(FIRST)]
        return tally(several_passes(position.unseen(), position.face_down, number, (number,), readiness))

    def rank(
        self,
        position: Position,
        seed: int,
        effort: Effort = HINT,
        also: tuple[tuple[Rack, int], ...] = (),
        check: Check | None = None,
    ) -> Ranking:
        """Rank every legal pass of a position.

        Args:
            position: what the seat knows.
            seed: fixes the futures.
            effort: how much work it may cost.
            also: passes (own tiles, blind) to try in every round even if they seem bad.
            check: called with the share done; may raise Stopped.

        Raises:
            Stopped: by check.
        """
        choices, screened = self.screen(position)
        order = np.argsort(-screened, kind="stable")
        asked = np.array([choices.find(tiles, blind) for tiles, blind in also], dtype=np.intp)
        tried = np.concatenate([order[: effort.rounds[0][0]], asked])
        tried = tried[np.sort(np.unique(tried, return_index=True)[1])]
        gifts = self.gifts(position, choices.tiles[tried], seed)
        # Only gifts to the two neighbours count.
        share = self.aim_at(position).given * (position.is_pass and position.number not in ACROSS)
        given = np.array([exact(share * gift) for gift in gifts.tolist()])
        outcomes = self._race(position, choices, tried, given, asked, effort, seed, check)
        points, errors = means(outcomes, given)
        placed = order_of(outcomes, points - given)
        passes = [
            RankedPass(tiles, blind, points[place], errors[place], float(gifts[place]), float(given[place]))
            for place, (tiles, blind) in zip(placed, choices.told(tried[placed]), strict=True)
        ]
        rest = order[~np.isin(order, tried)]
        guess, doubt = guessed(screened, tried, points, rest)
        every = self.gifts(position, choices.tiles[rest], seed).tolist() if effort.gifts else [None] * len(rest)
        passes += [
            RankedPass(tiles, blind, worth, doubt, gift, evaluated=False)
            for (tiles, blind), worth, gift in zip(choices.told(rest), guess, every, strict=True)
        ]
        return Ranking(tuple(passes), outcomes[placed])

    def screen(self, position: Position) -> tuple[Choices, Floats]:
        """Return every pass with a quick measure in points: how good the rack's targets are without its tiles."""
        choices, aim = Choices.of(position), self.aim_at(position)
        rack, unseen = position.counts()[None], position.unseen()[None]
        result = np.empty(len(choices.tiles))
        for number in np.unique(choices.number).tolist():
            rows = np.flatnonzero(choices.number == number)
            coming = number + counted_tiles(position.later)
            prospects = Prospects.of(self.patterns, rack, unseen, aim.play, coming, position.valued, KEEP, KEEP)
            left = prospects.changed(choices.changes(rows))[:, 0, :]
            result[rows] = 100 * aim.worth(left, position.ahead)
        return choices, result

    def _race(
        self,
        position: Position,
        choices: Choices,
        tried: Indices,
        given: Floats,
        asked: Indices,
        effort: Effort,
        seed: int,
        check: Check | None,
    ) -> Floats:
        """Try passes in futures, round by round, the best of each in more of them.

        Returns their points in each future, shape (tried, futures), not a number where a pass was not tried any more.
        """
        futures = effort.rounds[-1][1]
        comes = self._comes(position, futures, seed)
        outcomes = np.full((len(tried), futures), np.nan)
        left, before, done = np.arange(len(tried)), 0, 0.0
        share = 1 / len(effort.rounds)
        for most, until in effort.rounds:
            if before:
                net = outcomes[left, :before].mean(axis=1) - given[left]
                best = left[np.argsort(-net, kind="stable")][:most]
                left = np.flatnonzero(np.isin(np.arange(len(tried)), best) | np.isin(tried, asked))
            part = comes[before:until]
            for start in range(0, len(left), _BLOCK):
                block = left[start : start + _BLOCK]
                outcomes[block, before:until] = self._outcomes(position, choices, tried[block], part)
                if check is not None:
                    check(done + share * min((start + _BLOCK) / len(left), 1.0))
            before, done = until, done + share
        return outcomes

    def _outcomes(self, position: Position, choices: Choices, chosen: Indices, comes: Indices) -> Floats:
        """Return the points of passes in futures, shape (chosen, futures); comes has the kinds that come in each."""
        result = np.empty((len(chosen), len(comes)))
        for number in sorted(set(choices.number[chosen])):
            rows = np.flatnonzero(choices.number[chosen] == number)
            result[rows] = self._changed(position, choices.changes(chosen[rows]), number, comes)
        return result

    def points_without(self, position: Position, gone: Counts, number: int, seed: int, futures: int) -> Floats:
        """Return the points without any tiles, as many as one likes, once so many came; shape (gone, futures).

        Of passes of that number they are the outcomes, in the first of the futures in which `rank` tries them.

        Args:
            position: what the seat knows.
            gone: tiles that the rack loses, shape (gone, 36).
            number: how many tiles come by the pass at hand.
            seed: fixes the futures.
            futures: how many futures.
        """
        return self._changed(position, -gone.astype(np.int8), number, self._comes(position, futures, seed))

    def _changed(self, position: Position, changes: Changes, number: int, comes: Indices) -> Floats:
        """Return the points of the rack after changes in futures, with so many tiles by the pass at hand."""
        rack, unseen, aim, later = position.counts(), position.unseen(), self.aim_at(position), position.later
        came = tally(np.concatenate([comes[:, :number], comes[:, PASS:]], axis=1))
        coming = counted_tiles(later, drawn_passes(later))
        prospects = Prospects.of(self.patterns, rack + came, unseen - came, aim.play, coming, position.valued)
        return 100 * aim.worth(prospects.changed(changes), position.ahead)

    def gifts(self, position: Position, tiles: Counts, seed: int) -> Floats:
        """Return how much tiles help the seat that receives them, in points, shape (passes,).

        It is the mean gain in worth over sampled racks of unseen tiles.
        """
        unseen, aim, later = position.unseen(), self.aim_at(position), position.later
        jokers = round(_RACK * int(unseen[JOKER_INDEX]) / int(unseen.sum(dtype=int)))
        pool = np.repeat(np.arange(JOKER_INDEX), unseen[:JOKER_INDEX])
        drawn = pool[orders(len(pool), _BANK, (seed, later, 1))[:, : _RACK - jokers]]
        bank = tally(drawn)
        bank[:, JOKER_INDEX] = jokers
        theirs = position.all_tiles() - bank
        prospects = Prospects.of(
            self.patterns, bank, theirs, aim.play, counted_tiles(later), position.valued, KEEP // 2, KEEP // 4
        )
        got = aim.worth(prospects.changed(tiles.astype(np.int8)), position.ahead)
        gains = 100 * (got - aim.worth(prospects.chance, position.ahead)).mean(axis=1)
        return np.array([exact(gain) for gain in gains.tolist()])

    def worths(self, position: Position, seed: int, futures: int = _WORTHS) -> dict[Tile, Estimate]:
        """Return for each kind in the rack how many points one tile of it adds."""
        aim, later = self.aim_at(position), position.later
        comes = tally(self._comes(position, futures, seed))
        racks, unseen, coming = position.counts() + comes, position.unseen() - comes, drawn_passes(later)
        prospects = Prospects.of(self.patterns, racks, unseen, aim.play, counted_tiles(later, coming), position.valued)
        singles = np.array(list(single_tiles(position.counts())))
        without = prospects.changed(-singles.astype(np.int8))
        lost = aim.worth(prospects.chance, position.ahead) - aim.worth(without, position.ahead)
        return {tiles_of(tile)[0]: Estimate.of(row) for tile, row in zip(singles, lost, strict=True)}

    def _comes(self, position: Position, futures: int, seed: int) -> Indices:
        """Return the kinds that come by this pass and the next ones drawn, shape (futures, tiles), three for each."""
        number, drawn = position.number, drawn_passes(position.later)
        readiness = self.others.flow[number : number + 1 + drawn]
        if position.courtesy:
            readiness = readiness * _come_back(position)
        return several_passes(position.unseen(), PASS, futures, (seed, position.later), readiness)


def _come_back(position: Position) -> Floats:
    """Return how much likelier each kind comes in a courtesy because the seat passed some of it, shape (35,).

    The tiles it passed are certainly in other racks; of the unseen tiles only a share is. Measured on 240 seats with
    the first release's coach: without this, courtesies brought 2.5 points less than forecast against coached bots, with
    it 0.8 (standard errors 0.3).
    """
    unseen = position.unseen()
    in_racks = max(_OTHERS - len(position.passed), 0) / unseen.sum()
    passed = counts_of(position.passed)[:JOKER_INDEX]
    back: Floats = 1 + passed / np.maximum(unseen[:JOKER_INDEX] * in_racks, 1e-9)
    return back
