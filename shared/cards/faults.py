"""What is wrong with a card file: a value with a place and a sentence."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a card file, and how to mend it.

    `section` and `hand` are the name and the id as written, or "#2" for the second when there is none that
    could be shown; both are None for what concerns the whole file. `column` counts from 1 within the hand's
    groups.
    """

    text: str
    section: str | None = None
    hand: str | None = None
    column: int | None = None

    @property
    def place(self) -> str:
        """Where it is, for the head of a line.

        >>> Fault("", "Neighbours", "near-1", 5).place
        'section Neighbours, hand near-1, column 5'
        """
        parts = [("section", self.section), ("hand", self.hand), ("column", self.column)]
        return ", ".join(f"{what} {where}" for what, where in parts if where is not None) or "file"

    def __str__(self) -> str:
        return f"{self.place}: {self.text}"
