"""Small text helpers: wrapping to terminal cells, counted things, a heat's balance of points. Pure."""

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from shared.coach.ledger import Ledger

_WORDS = re.compile(r"(\s*)(\S+)")


def wrapped(text: str, width: int, indent: str = "", later: str | None = None) -> list[str]:
    """Return the text in lines of at most so many cells, broken between words; a longer word is cut.

    Lines begin with the indent, those after the first with later if that is given. Blanks between words stay.
    """
    from rich.cells import cell_len, chop_cells  # loaded here, since plain lines start without it

    later = indent if later is None else later
    lines, is_fresh = [indent], True
    room = max(2, width - max(len(indent), len(later)))
    for blanks, word in _WORDS.findall(text):
        gap = " " if blanks.strip(" ") else blanks
        for part in chop_cells(word, room) if cell_len(word) > room else [word]:
            if not is_fresh and cell_len(lines[-1]) + len(gap) + cell_len(part) > width:
                lines.append(later)
                is_fresh = True
            lines[-1] += part if is_fresh else gap + part
            is_fresh, gap = False, ""
    return [] if is_fresh else lines


def some(count: int, thing: str) -> str:
    """Return a count and its thing, with a plural s if needed."""
    return f"{count} {thing}{'' if count == 1 else 's'}"


def too_blind(most: int) -> str:
    """Return why so many tiles cannot go unseen."""
    if not most:
        return "No tile can be passed on unseen at this step."
    return f"At this table at most {'one tile' if most == 1 else 'two tiles'} may go unseen."


def balance_words(ledger: "Ledger") -> str:
    """Return a heat's balance of points in one sentence; luck is rounded so that the printed figures add up.

    Gifts are what counted against better passes and so made them cost less than they brought.
    """
    start, loss, final = (round(points, 1) for points in (ledger.start, ledger.loss, ledger.final))
    given = round(ledger.given, 1)
    late = sum(entry.loss for entry in ledger.entries if entry.by == "timeout")
    clock = f" ({late:.1f} by the clock)" if late >= 0.05 else ""
    gifts = f", gifts {given:+.1f}" if given else ""
    luck = final - start + loss - given
    return f"From {start:.1f} points: luck {luck:+.1f}, lost {loss:.1f}{clock}{gifts}, ends with {final:.1f}."


def enough(wanted: int, blind: int) -> str:
    """Return why no more tiles are lifted, where so many are wanted and lifted."""
    if wanted == 0:
        return "All three go unseen; press 0 to choose your own." if blind else "No tile is asked of you now."
    have = f"{wanted} are lifted" if wanted > 1 else "One is lifted"
    return f"{have} already: drop one first, or take all back with u."


def machine_asks(seat: str, key: str) -> str:
    """Return that another machine asks for a seat, and the key by which it gets it."""
    return f"Another machine asks for {seat}. {key} lets it in."
