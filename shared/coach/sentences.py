"""What the coach says about one pass: the verdict, what was given up and kept idle, the better pass, the risk.

Must never say what reasons.py did not compute. There are two registers. The plain one names tiles and hands, and points
only as the cost; the other adds points, chances and gifts. At most two reasons are told: what was
given up, if anything was, and the dearest of the rest.
"""

from collections import Counter
from dataclasses import dataclass

from shared.cards import Card
from shared.cards.freedom import NUMBERS, listed
from shared.cards.said import called, many, some
from shared.chances import in_hundred
from shared.coach.engine import Engine
from shared.coach.estimate import Estimate
from shared.coach.passes import Position
from shared.coach.ranking import RankedPass
from shared.coach.reasons import Difference, Given, Kept, Outlook, Thread, difference, outlook
from shared.coach.words import Target, verdict_of
from shared.rules.steps import PASSES
from shared.rules.tiles import FLOWER, Rack, Tile

YOU, IT = "You", "It"
_SHARE = 0.25
"""A second reason is told if it costs at least this share of the first one."""
_MATTERS = 0.1
"""Points of a gift that matter."""
_EARLY = 3
"""Passes still to come from which giving a flower or a dragon is early."""
_BARE = 2
"""From how many tiles on it is said that jokers cannot fill them."""
_SUITS = {"b": "bams", "c": "craks", "d": "dots"}


@dataclass(frozen=True)
class Told:
    """What is said about a pass: the verdict, then the reasons, in two registers.

    Attributes:
        verdict: "Best.", "As good as the best." or what it cost.
        plain: sentences with hands and tiles.
        numbers: the same with points, chances and gifts.
    """

    verdict: str
    plain: tuple[str, ...]
    numbers: tuple[str, ...]


def tell_pass(
    engine: Engine,
    card: Card,
    position: Position,
    own: RankedPass,
    best: RankedPass,
    loss: Estimate,
    seed: int,
    who: str = YOU,
) -> Told:
    """Return what there is to say about a pass beside the best one; who made it is YOU, "The clock" or a pass, "It"."""
    if (own.tiles, own.blind) == (best.tiles, best.blind):
        view = outlook(engine, card, position, own.tiles)
        return Told(verdict_of(loss, True), (keeps_said(view, False),), (keeps_said(view, True),))
    found = difference(engine, card, position, own, best, seed)
    plain, numbers = (_Telling(position, own, best, found, who, more) for more in (False, True))
    if loss.too_close:
        return Told(verdict_of(loss, False), plain.close(), numbers.close())
    return Told(verdict_of(loss, False), plain.costly(), numbers.costly())


def reasons_told(found: Difference) -> tuple[Given | Kept, ...]:
    """Return the one or two reasons that are told: the dearest thing given up, and the dearest of all the rest."""
    first = found.given[:1]
    rest: list[Given | Kept] = [*found.given[1:], *found.kept]
    rest.sort(key=lambda reason: -reason.cost.points)
    dear = [*first, *rest][: len(first) + 1 if first else 2]
    most = max((reason.cost.points for reason in dear), default=0.0)
    return tuple(reason for reason in dear if reason.cost.points > 0 and reason.cost.points >= _SHARE * most)


@dataclass(frozen=True)
class _Telling:
    """Says what sets a pass apart, in one register: with numbers or without."""

    position: Position
    own: RankedPass
    best: RankedPass
    found: Difference
    who: str
    numbers: bool

    def costly(self) -> tuple[str, ...]:
        """Say why a pass costs points, and what would have been better."""
        said = [self._reason(reason) for reason in reasons_told(self.found)]
        said.append(f"Better: {pass_said(self.best)}{self._why()}.")
        return (*said, *self._gift())

    def close(self) -> tuple[str, ...]:
        """Say what sets apart passes that points cannot tell apart, and whether the gift decides."""
        first = f"The coach would pass {pass_said(self.best)}"
        if self.found.counts > 0 and self.best.points < self.own.points:
            told = f"{first}; the gift decides, for it helps {neighbour(self.position)} less than {pass_said(self.own)}"
            return (f"{told}{self._gifts()}.",)
        return (*map(self._reason, reasons_told(self.found)[:1]), f"{first}{self._why()}.")

    def _reason(self, reason: Given | Kept) -> str:
        return self._gave_up(reason) if isinstance(reason, Given) else self._held(reason)

    def _gave_up(self, reason: Given) -> str:
        """Say what was given up, for which hand, and the one thing that made it dear."""
        held = Counter(self.position.rack)
        tiles = listed([_out_of(tile, count, held[tile]) for tile, count in Counter(reason.tiles).items()])
        begun = f"{self.who} {'lets' if self.who == IT else 'let'} go {tiles}{self._early(reason)}"
        worth = f"worth {points_said(reason.cost)}" if self.numbers else ""
        if reason.hand is None:
            return f"{begun}, which serves no hand within reach, only some that may still come{aside(worth)}."
        hand = "the likeliest hand" if not reason.place else "a hand within reach"
        if reason.gap:
            need = f", and {'it' if len(reason.tiles) == 1 else called(reason.gap)} fills the gap in {hand}"
        elif reason.run:
            need = f" out of the run {reason.run}, and {hand} needs {_them(reason.tiles)}"
        elif reason.pairs_only:
            need = f", which {hand} needs and no joker can replace"
        elif reason.thread:
            need = f"; all hands within reach play in {_SUITS[reason.thread]}, and {hand} needs {_them(reason.tiles)}"
        else:
            need = f", which {hand} needs"
        away = f"{reason.near} to go with {_them(reason.tiles)}, {reason.far} without"
        return f"{begun}{need}: {reason.hand.name}{aside(away, worth, self._alone(reason.hand))}."

    def _early(self, reason: Given) -> str:
        early = self.position.later >= _EARLY and any(tile in (FLOWER, "R", "G", "O") for tile in reason.tiles)
        return f" with {count_word(self.position.later)} passes still to come" if early else ""

    def _held(self, reason: Kept) -> str:
        """Say what was kept instead, and how little it serves."""
        tiles = listed([some(tile, count) for tile, count in Counter(reason.tiles).items()])
        one = len(reason.tiles) == 1
        often = f"often {'comes' if one else 'come'} by and " if set(reason.often) == set(reason.tiles) else ""
        begun = f"{self.who} {'keeps' if self.who == IT else 'kept'} {tiles}, which {often}"
        worth = f"worth {points_said(reason.worth)}" if self.numbers else ""
        if reason.hand is None:
            return f"{begun}{'fits' if one else 'fit'} no hand within reach{aside(worth)}."
        serves = f"{'serves' if one else 'serve'} at best {reason.hand.name}"
        return f"{begun}{serves}{aside(f'{reason.away} to go', worth)}."

    def _why(self) -> str:
        """Say what the better pass brings or leaves, if that is more than has been said."""
        own, best = self.found.own, self.found.best
        if len(self.own.tiles) != len(self.best.tiles):
            came, instead = len(self.best.tiles), len(self.own.tiles)
            fewer = count_word(instead) if instead else "none"
            return f"; it brings {count_word(came)} tile{'' if came == 1 else 's'} instead of {fewer}"
        if not best.hands:
            return ""
        first = best.hands[0]
        if best.commits and not own.commits:
            return f"; it leaves one hand that is enough to commit to: {_to_go(first)}"
        if not any(each.hand and each.hand.hand == first.hand for each in reasons_told(self.found)):
            return f"; it leaves {_to_go(first)} as the likeliest hand"
        more, less = len(best.hands), len(own.hands)
        return f"; it leaves {count_word(more)} hands within reach instead of {count_word(less)}" if more > less else ""

    def _gift(self) -> list[str]:
        """Say that the pass helps the neighbour more, where that counts for something."""
        if self.found.counts < _MATTERS:
            return []
        twins = [tile for tile, count in Counter(self.own.tiles).items() if count > 1]
        alike = listed([some(tile, self.own.tiles.count(tile)) for tile in twins])
        together = f"{alike} go together, and " if alike else ""
        which = "your pass" if self.who == YOU else "this pass"
        return [
            f"The risk: {together}{which} helps {neighbour(self.position)} more than the better one{self._gifts()}."
        ]

    def _gifts(self) -> str:
        if not self.numbers:
            return ""
        return f" (gifts of {self.own.gift or 0.0:.1f} and {self.best.gift or 0.0:.1f} points; a tenth counts)"

    def _alone(self, hand: Target) -> str:
        return f"alone it wins {in_hundred(hand.points)}" if self.numbers else ""


def keeps_said(view: Outlook, numbers: bool) -> str:
    """Say what the best pass keeps: the likeliest hand, how it stands among the others, and what they share."""
    if not view.hands:
        return "It keeps no hand of the card within reach."
    first, more = view.hands[0], len(view.hands) - 1
    alone = f"alone it wins {in_hundred(first.points)}" if numbers else ""
    said = f"It keeps {first.name}{aside(_lacks(view), alone)}"
    are = "is" if more == 1 else "are"
    others = f"{count_word(more)} other hand{'' if more == 1 else 's'}"
    if not more:
        said += ", the only hand within reach: commit to it"
    elif view.commits:
        said += f", enough to commit to: {others} within reach {are} far less likely"
    else:
        said += f"; {others} {are} within reach"
    if view.thread:
        said += f", {_shared(view.thread, len(view.hands))}"
    if view.gap:
        out = "none is" if not view.unseen else "one is" if view.unseen == 1 else f"{count_word(view.unseen)} are"
        said += f"; its gap waits for {called(view.gap)}, of which {out} unseen"
    return f"{said}."


def _lacks(view: Outlook) -> str:
    """Say how many tiles the likeliest hand lacks, and of how many no joker can take the place."""
    to_go = f"{view.hands[0].away} to go"
    if view.bare < _BARE:
        return to_go
    return f"{to_go}, {count_word(view.bare)} in singles or pairs, which no joker fills"


def _shared(thread: Thread, hands: int) -> str:
    """Say what most hands have in common: "all in bams", "six of the seven with even ranks"."""
    who = "all" if thread.count == hands else f"{count_word(thread.count)} of the {count_word(hands)}"
    match thread.kind:
        case "suit":
            return f"{who} in {_SUITS[thread.value]}"
        case "parity":
            return f"{who} with {thread.value} ranks"
    return f"{who} in the section {thread.value}"


def aside(*facts: str) -> str:
    told = "; ".join(fact for fact in facts if fact)
    return f" ({told})" if told else ""


def _to_go(hand: Target) -> str:
    return f"{hand.name} ({hand.away} to go)"


def neighbour(position: Position) -> str:
    """Return who gets the tiles of a pass."""
    direction = PASSES[position.number].split()[-1]
    return "the player across" if direction == "across" else f"the player on your {direction}"


def points_said(cost: Estimate) -> str:
    return f"{cost.points:.1f} points, give or take {cost.se:.1f}"


def count_word(number: int) -> str:
    return NUMBERS[number] if number < len(NUMBERS) else str(number)


def _them(tiles: Rack) -> str:
    return "it" if len(tiles) == 1 else "them"


def _out_of(tile: Tile, count: int, held: int) -> str:
    """Return some copies of a tile out of those held: "both 2 bam", "one of two flowers", "the 5 dot"."""
    if count == held:
        return f"both {many(tile)}" if count == 2 else some(tile, count) if count > 1 else called(tile)
    return f"{count_word(count)} of {count_word(held)} {many(tile)}"


def pass_said(ranked: RankedPass) -> str:
    """Return a pass in a sentence: "two 9 dot, north and one blind"."""
    parts = [some(tile, count) for tile, count in Counter(ranked.tiles).items()]
    return listed([*parts, *([f"{count_word(ranked.blind)} blind"] if ranked.blind else [])]) or "no tile"
