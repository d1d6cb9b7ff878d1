"""What the coach says of answers that are no passes: going on or stopping, how many to offer, the first discard.

Must never say what the engine did not compute from the seat's own position.
"""

from collections import Counter
from dataclasses import dataclass, replace

from shared.cards import Card
from shared.cards.said import called, listed_tiles
from shared.chances import in_hundred
from shared.coach.discards import CLOSE, Discard
from shared.coach.engine import Engine
from shared.coach.estimate import LEAST_TOLD
from shared.coach.others import BOTH
from shared.coach.passes import Position
from shared.coach.ranking import RankedPass
from shared.coach.reasons import hands_now, needed, outlook
from shared.coach.sentences import aside, count_word, keeps_said, pass_said
from shared.coach.votes import Votes
from shared.coach.words import Target
from shared.rules.tiles import Rack

"""Points from which a discard is said to cost something."""


@dataclass(frozen=True)
class Said:
    """Sentences in both registers."""

    plain: tuple[str, ...]
    numbers: tuple[str, ...]


# ---- going on or stopping


@dataclass(frozen=True)
class Swing:
    """What the second Charleston changes, in points; the two add up to the gap between the votes, to the last bit.

    Attributes:
        brings: how much better the own rack gets by the passes to come.
        costs: how much less a rack wins after them, because the others get nearer too.
    """

    brings: float
    costs: float


def swing(engine: Engine, position: Position, found: Votes) -> Swing:
    """Return what going on brings a seat at the vote and what it costs."""
    after_both = replace(position, blind=False, courtesy=False, made=BOTH, later=0, gives=())
    as_it_is = engine.as_it_is(after_both)
    return Swing(found.go_on.net - as_it_is, found.stop.points - as_it_is)


def vote_said(engine: Engine, card: Card, position: Position, found: Votes) -> Said:
    """Say why to stop or to go on: how near the rack is, what it would have to give, and what the passes change."""
    hands = hands_now(engine, card, position)
    first = _nearest(engine, position, hands, found.go_on)
    moved = swing(engine, position, found)
    close = found.gap.too_close
    change = "about as much as" if close else "more than" if found.gap.points > 0 else "less than"
    second = f"The passes to come bring you {change} they cost you by bringing the others nearer too"
    numbers = aside(f"{moved.brings:.1f} and {moved.costs:.1f} points")
    wins = f"You win {in_hundred(found.go_on.net)} by going on and {in_hundred(found.stop.points)} by stopping."
    return Said((first, f"{second}."), (first, f"{second}{numbers}.", wins))


def _nearest(engine: Engine, position: Position, hands: tuple[Target, ...], go_on: RankedPass) -> str:
    """Say how near the likeliest hand is, and whether the tiles that would go are free to go."""
    if position.face_down:
        count = count_word(position.face_down)
        near = f"Your likeliest hand is {hands[0]}" if hands else "No hand of the card is within reach"
        return f"{near}; {count} {'tile lies' if position.face_down == 1 else 'tiles lie'} face down."
    gives = f"going on, you would give {pass_said(go_on)}"
    if not hands:
        return f"No hand of the card is within reach; {gives}."
    return f"Your likeliest hand is {hands[0]}; {gives}, {_fit(engine, position, go_on.tiles, hands)}."


def _fit(engine: Engine, position: Position, tiles: Rack, hands: tuple[Target, ...]) -> str:
    """Say what tiles that go are to the hands within reach: idle, needed by the likeliest, or by others only."""
    one, needs = len(tiles) == 1, needed(engine, position, tiles, hands)
    if not needs:
        return f"which {'fits' if one else 'fit'} no hand within reach"
    if 0 not in needs:
        return f"which {'serves' if one else 'serve'} less likely hands only"
    return "which the likeliest hand needs" if one else f"of which the likeliest hand needs {listed_tiles(needs[0])}"


# ---- the courtesy


def offer_said(engine: Engine, card: Card, position: Position, own: RankedPass, best: RankedPass) -> Said:
    """Say how many tiles to offer: what more could go, or what a larger offer would give up."""
    good, made = Counter(best.tiles), Counter(own.tiles)
    more, less = tuple((good - made).elements()), tuple((made - good).elements())
    view = outlook(engine, card, position, best.tiles)
    fit = _fit(engine, position, best.tiles, view.hands)
    said = [f"Best to offer {count_word(len(best.tiles))}: {pass_said(best)}, {fit}."]
    if not best.tiles:
        said = [f"Better to offer none: {keeps_said(view, False)}"]
    if len(own.tiles) < len(best.tiles):
        said.append(f"Offering {_amount(own.tiles)} keeps {listed_tiles(more)}.")
    elif len(own.tiles) > len(best.tiles):
        needs = {place: _both(group, less) for place, group in needed(engine, position, own.tiles, view.hands).items()}
        place, missed = min(((place, group) for place, group in needs.items() if group), default=(0, ()))
        what = "which" if len(less) == 1 else f"of which {listed_tiles(missed)}"
        why = f", {what} {'is' if len(missed) == 1 else 'are'} needed for {view.hands[place].name}" if missed else ""
        said.append(f"Offering {count_word(len(own.tiles))} would give up {listed_tiles(less)}{why}.")
    worth = f"Offering {_amount(best.tiles)} wins {in_hundred(best.points)}"
    mine = "" if own == best else f", {_amount(own.tiles)} {in_hundred(own.points)}"
    return Said(tuple(said), (*said, f"{worth}{mine}."))


def _amount(tiles: Rack) -> str:
    """Return how many tiles are offered, in a word."""
    return count_word(len(tiles)) if tiles else "none"


def _both(tiles: Rack, others: Rack) -> Rack:
    return tuple((Counter(tiles) & Counter(others)).elements())


# ---- the first discard


def discard_said(engine: Engine, card: Card, position: Position, what: str, discard: Discard) -> str:
    """Say what a first discard costs and why: which hand within reach needs it, and how likely it is called."""
    hands = hands_now(engine, card, position)
    needs = needed(engine, position, (discard.tile,), hands)
    why = "fits no hand within reach"
    if needs:
        place = min(needs)
        why = f"serves {'a less likely hand' if place else 'the likeliest hand'}, {hands[place].name},"
    close = ", too close to call" if discard.loss < CLOSE else ""
    cost = f"costs {discard.loss:.1f} points{close}" if discard.loss >= LEAST_TOLD else "costs nothing"
    calls = f"somebody can call it in {100 * discard.called:.0f} of 100 games"
    return f"{what}, {called(discard.tile)}, {why} and {cost}; {calls}."
