"""Results of sets as lines to paste: written from what was played here, and played again from what was pasted."""

import re
from collections.abc import Iterator
from functools import partial

from client.hosting.set_bots import bots_of
from client.storage.sets import card_wanted, complete_by, kept_sets
from shared.cards.owned import told_card
from shared.rules.grouped import GROUP, groups_of
from shared.rules.result_line import RESULT_LINE, Bot, Ground, read_result_line, set_mark, write_result_line
from shared.rules.set_line import TakeHome, read_line
from shared.rules.set_result import RESULT, SetResult, east_of, read_result
from shared.rules.wall import seeded_secret

_UNKNOWN = (
    "This line is of a set that was neither made nor played on this machine. Make the set known first: paste its own "
    "line, and play it."
)
_OLDER = "The bots of this set are those of an older racktempo, so that its lines cannot be read. Ask for the file."


def line_of(result: SetResult) -> str:
    """Return a result as a line. Raises ValueError with a sentence if no line can tell it."""
    taken = read_line(result.line)
    if isinstance(taken, str):
        raise ValueError(taken)
    ground = ground_of(taken)
    handed = read_result(RESULT.pack(result), lambda _, rack: ground.complete(rack))
    if isinstance(handed, str):
        raise ValueError(handed)
    return write_result_line(handed, ground)


def result_of_line(text: str) -> SetResult:
    """Return the result that a line tells. Raises ValueError with what to do."""
    found = read_result_line(text, _find)
    if isinstance(found, str):
        raise ValueError(found)
    return found


def pasted(text: str) -> Iterator[tuple[str, bytes | str]]:
    """Yield the results in a text that was pasted: one a line, each by its first group, or a sentence why not.

    A line goes on where it breaks after a dash. What stands before it with a colon, such as who sent it, is passed by,
    and so is what is mostly other words.
    """
    for line in re.split(r"(?<!-)\s*\n", text):
        groups = groups_of(line.rpartition(": ")[2])
        if len(groups) > 1 and 2 * sum(len(group) == GROUP for group in groups) > len(groups):
            try:
                yield groups[0], RESULT.pack(result_of_line("-".join(groups)))
            except ValueError as error:
                yield groups[0], str(error)


def is_result(text: str) -> bool:
    """Say whether a text is rather the line of a result than that of a set."""
    wrong, groups = RESULT_LINE.wrong(text), groups_of(text)
    return len(groups) > 1 and 2 * len(wrong) <= len(groups)


def ground_of(taken: TakeHome) -> Ground:
    """Return what a line of a set rests on. Raises ValueError with what to do."""
    if taken.is_older:
        raise ValueError(_OLDER)
    text = card_wanted(taken)
    card = told_card(text)

    def bots(number: int) -> Bot:
        secret = seeded_secret(taken.seed, number)
        return bots_of(taken.settings.unseeded(), secret, number, east_of(taken, number), text)

    return Ground(taken, card.title, card.digest, partial(complete_by, card.text, ""), bots)


def _find(mark: int) -> Ground:
    line = next((kept.line for kept in kept_sets() if set_mark(kept.line) == mark), "")
    taken = read_line(line) if line else _UNKNOWN
    if isinstance(taken, str):
        raise ValueError(taken)
    return ground_of(taken)
