"""The target that a player names during a heat: a hand or a family of the card, or none; when, and what was said.

Naming is free and changes nothing at the table: it is kept beside one's own record of the heat and
sent to nobody. Pure.
"""

from dataclasses import dataclass, field, replace
from typing import Annotated

from pydantic import Field

from shared.records import Record
from shared.rules.steps import StepName


class Named(Record):
    """One naming: at which step, so many milliseconds of its clock after it began, and what; no words mean none.

    hand is the hand's id on the card, empty for a family; words are what the player saw.
    """

    step: StepName
    after_ms: Annotated[int, Field(ge=0)]
    hand: Annotated[str, Field(max_length=60)] = ""
    words: Annotated[str, Field(max_length=120)] = ""


@dataclass(frozen=True, slots=True)
class Targets:
    """The namings of one heat, oldest first."""

    named: tuple[Named, ...] = field(default_factory=tuple)

    @property
    def now(self) -> Named | None:
        """What is named now."""
        return self.named[-1] if self.named and self.named[-1].words else None

    def naming(self, step: StepName, after_ms: int, hand: str, hand_words: str, family: str) -> "Targets":
        """Return the targets after the key: the hand; if it is named already its family; if that is, none."""
        now = self.now
        if now is None or (now.hand != hand and (now.hand or now.words != family)):
            new = Named(step=step, after_ms=after_ms, hand=hand, words=hand_words[:120])
        elif now.hand:
            new = Named(step=step, after_ms=after_ms, words=family[:120])
        else:
            new = Named(step=step, after_ms=after_ms)
        return replace(self, named=(*self.named, new))


def targets_in_words(named: tuple[Named, ...]) -> str:
    """Return which targets stood, in one sentence: only the last naming of each step counts.

    >>> stairs = Named(step="first right", after_ms=1, words="Stairs")
    >>> targets_in_words((stairs, Named(step="second left", after_ms=2, words="Pairs")))
    'You named Stairs at first right, then Pairs at second left.'
    """
    last = list({one.step: one for one in named}.values())
    said = [f"{one.words or 'nothing'} at {one.step}" for one in last]
    if not any(one.words for one in last):
        return ""
    return f"You named {', then '.join(said)}."
