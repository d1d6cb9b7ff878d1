"""Words: lines of so many terminal cells, how many of a thing, where a heat's points went. Pure."""

from typing import TYPE_CHECKING

from rich.cells import cell_len

if TYPE_CHECKING:
    from shared.coach.ledger import Ledger


def wrapped(text: str, width: int) -> list[str]:
    """Return the text in lines of at most so many cells, broken between words."""
    lines, line = list[str](), ""
    for word in text.split():
        if line and cell_len(line) + 1 + cell_len(word) > width:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}".strip()
    return [*lines, line] if line else lines


def some(count: int, thing: str) -> str:
    """Return a number of things in words, one or more of them."""
    return f"{count} {thing}{'' if count == 1 else 's'}"


def balance_words(ledger: "Ledger") -> str:
    """Return where the points of a heat went; the luck is told so that the figures add up as they are printed."""
    start, loss, final = (round(points, 1) for points in (ledger.start, ledger.loss, ledger.final))
    late = sum(entry.loss for entry in ledger.entries if entry.by == "timeout")
    clock = f" ({late:.1f} by the clock)" if late >= 0.05 else ""
    return f"From {start:.1f} points: luck {final - start + loss:+.1f}, lost {loss:.1f}{clock}, ends with {final:.1f}."
