"""What the page for browsers takes: whose requests, and which messages of a visitor, in which size.

Pure except for asking the system for this machine's name. Everything read here was written by a stranger's
browser; nonsense becomes None, never an error.
"""

import json
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from server.net.addresses import is_own_host

WIDEST, HIGHEST = 400, 150
"""Columns and rows that a visitor's screen may have: what is drawn for it takes memory on the host's machine."""


@dataclass(frozen=True, slots=True)
class Typed:
    """Keys, clicks and pasted text, as a terminal sends them."""

    data: bytes


@dataclass(frozen=True, slots=True)
class Resized:
    """The screen has this many columns and rows now."""

    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Focused:
    """The page is in front, or no longer."""

    here: bool


Message = Typed | Resized | Focused


def read_message(text: str) -> Message | None:
    """Return what a message of the page's script says; None for what it never says, and for what needs no answer."""
    try:
        said = json.loads(text)
    except (ValueError, RecursionError):
        return None
    match said:
        case ["stdin", str(data)]:
            return Typed(data.encode("utf-8", "ignore"))
        case ["resize", {"width": int(width), "height": int(height)}]:
            return Resized(*fitting(width, height))
        case ["focus" | "blur"]:
            return Focused(said[0] == "focus")
    return None


def fitting(width: int, height: int) -> tuple[int, int]:
    """Return the nearest size that a screen may have."""
    return min(max(width, 1), WIDEST), min(max(height, 1), HIGHEST)


def fitting_texts(width: str, height: str) -> tuple[int, int]:
    """Return the nearest size for two numbers in an address, 80 by 24 where they are none."""
    numbers = [int(text) if text.isascii() and text.isdigit() and len(text) < 6 else None for text in (width, height)]
    return fitting(numbers[0] or 80, numbers[1] or 24)


def is_ours(hosts: Sequence[str], names: Collection[str]) -> bool:
    """Say whether a request names this machine and nothing else; a page elsewhere can lead its own name here."""
    return len(hosts) == 1 and is_own_host(hosts[0], names)


def is_from_our_page(hosts: Sequence[str], origins: Sequence[str]) -> bool:
    """Say whether our own page asks for a line: browsers send the page's origin, which a page cannot forge."""
    return list(origins) == [f"http://{host}" for host in hosts]
