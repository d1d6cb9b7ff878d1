"""The one habit to work on, from a player's kept heats and in words. Pure.

Screens, text and the end of a set all say it from here.
"""

from collections.abc import Iterable, Iterator, Mapping

from client.storage.history_db import HistoryEntry
from client.text import some
from shared.cards.said import listed_tiles
from shared.measures.habits import CHANCE, Decision, Habit, Kind
from shared.rules.seat_heat import SeatStep
from shared.rules.steps import PASSES
from shared.rules.tiles import Rack, remove

EXAMPLES = 3
_SAID: Mapping[Kind, tuple[str, str]] = {
    "dragons early": (
        "You pass dragons too early",
        "in the first Charleston, keep a dragon that a hand within reach needs",
    ),
    "breaks pairs": ("You break pairs", "look for tiles that stand alone before you give one of two alike"),
    "keeps lone winds": ("You keep lone winds", "look for the wind that no hand within reach needs, and pass it first"),
    "first plan": ("You hold on to your first plan too long", "after each pass, look which hand is the nearest now"),
    "changes plan": (
        "You change your plan too often",
        "keep what your plan needs until another hand is clearly nearer",
    ),
    "hoards a suit": ("You hoard your longest suit", "look at what each tile serves, whatever its suit"),
    "gives flowers": ("You give flowers away", "keep a flower until no hand within reach needs it"),
    "pairs to the right": ("You hand whole pairs to the right", "look for three tiles that are all different"),
    "always goes on": (
        "The votes that cost you points are votes to go on",
        "vote to stop when your hand is already near",
    ),
    "long at easy steps": (
        "You hurry where much is at stake",
        "pass at once where several passes are as good; take your time where they differ",
    ),
}
NONE_YET = "No habit yet that costs you more than chance explains."
RULE = (
    "A habit is named if you show it more often than a player shows it who follows the coach at a quick look, by more "
    f"than chance explains ({CHANCE:.0%} for all ten habits together), and if it cost points; of several, the one "
    "that cost most."
)


def decisions_of(entries: Iterable[HistoryEntry]) -> tuple[Decision, ...]:
    """Return a player's own decisions in heats, in the order of play, as far as today's coach has judged them."""
    heats = enumerate(map(HistoryEntry.by_this_coach, entries))
    return tuple(decision for number, entry in heats for decision in _decisions(number, entry))


def _decisions(number: int, entry: HistoryEntry) -> Iterator[Decision]:
    rack: Rack = entry.heat.dealt
    for step in entry.heat.steps:
        if (decision := _decision(number, entry, step, rack)) is not None:
            yield decision
        rack = (*(remove(rack, step.given) or ()), *step.came)


def _decision(number: int, entry: HistoryEntry, step: SeatStep, rack: Rack) -> Decision | None:
    loss = entry.losses.get(step.step)
    if loss is None or loss.forced or step.by != "person":
        return None
    if step.vote is None and not (step.step in PASSES and loss.best):
        return None  # not a pass of three, or judged before reviews kept the coach's pass
    return Decision(
        number,
        step.step,
        rack,
        step.given,
        loss.best,
        loss.points,
        loss.error,
        step.spent_ms,
        loss.stake,
        loss.first_plan,
        loss.last_plan,
        step.vote,
    )


def habit_words(habit: Habit | None) -> str:
    """Return the habit with what it cost and what to do instead, or that there is none yet."""
    if habit is None:
        return NONE_YET
    name, instead = _SAID[habit.kind]
    cost = f"{some(round(habit.cost), 'point')} lost"
    return (
        f"{name}: {habit.count} of {some(habit.of, 'time')} in {some(habit.heats, 'heat')}, {cost}. Instead: {instead}."
    )


def example_lines(habit: Habit) -> tuple[str, ...]:
    """Return the dearest decisions that showed the habit, one line each."""
    return tuple(_example(habit.kind, one) for one in habit.shown[:EXAMPLES] if one.loss > 0)


def _example(kind: Kind, one: Decision) -> str:
    step = f"Heat {one.heat + 1}, {one.step}"
    if one.went_on is not None:
        return f"{step}: stopping was worth {one.loss:.1f} more."
    after = f" after {one.spent_ms / 1000:.0f} s" if kind == "long at easy steps" else ""
    return f"{step}: {listed_tiles(one.given)}{after} cost {one.loss:.1f}; better: {listed_tiles(one.best)}."
