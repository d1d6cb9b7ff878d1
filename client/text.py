"""Small text helpers: wrapping to terminal cells, counted things, a heat's balance of points. Pure."""

from typing import TYPE_CHECKING

from rich.cells import cell_len

if TYPE_CHECKING:
    from shared.coach.ledger import Ledger


def wrapped(text: str, width: int) -> list[str]:
    """Wrap the text into lines of at most width terminal cells, between words."""
    lines, line = list[str](), ""
    for word in text.split():
        if line and cell_len(line) + 1 + cell_len(word) > width:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}".strip()
    return [*lines, line] if line else lines


def some(count: int, thing: str) -> str:
    """Return a count and its thing, with a plural s if needed."""
    return f"{count} {thing}{'' if count == 1 else 's'}"


def balance_words(ledger: "Ledger") -> str:
    """Return a heat's balance of points in one sentence; luck is rounded so that the printed figures add up."""
    start, loss, final = (round(points, 1) for points in (ledger.start, ledger.loss, ledger.final))
    late = sum(entry.loss for entry in ledger.entries if entry.by == "timeout")
    clock = f" ({late:.1f} by the clock)" if late >= 0.05 else ""
    return f"From {start:.1f} points: luck {final - start + loss:+.1f}, lost {loss:.1f}{clock}, ends with {final:.1f}."
