"""What is said when a player's time ran out, on screens and in plain lines. Pure."""

from collections import Counter
from collections.abc import Iterable

from shared.cards.freedom import NUMBERS, listed
from shared.rules.tiles import Rack, Tile, word
from shared.wire.views import RouteStep


def time_ran_out(given: Rack) -> str:
    """Return what the table did when a player's time ran out, with the tiles that it passed.

    >>> time_ran_out(("G", "3b", "G"))
    'Time ran out: two green dragons and a 3 bam were passed for you.'
    """
    if not given:
        return "Time ran out: the clock answered for you."
    tiles = listed([_some_of(tile, count) for tile, count in Counter(given).items()])
    return f"Time ran out: {tiles} {'was' if len(given) == 1 else 'were'} passed for you."


def _some_of(tile: Tile, count: int) -> str:
    """Return how many of a tile: "a 3 bam", "an east", "two green dragons"."""
    one = f"{tile[0]} {word(tile)}" if len(tile) == 2 else f"{word(tile)}{' dragon' if tile in 'RG' else ''}"
    if count > 1:
        return f"{NUMBERS[count]} {one}{'' if len(tile) == 2 else 's'}"
    return f"{'an' if one[0] in 'e8' else 'a'} {one}"


def timeout_note(route: Iterable[RouteStep]) -> str:
    """Return what went because the time of the last step ran out; nothing if it did not."""
    done = [step for step in route if step.state == "done"]
    if not done or done[-1].by != "timeout":
        return ""
    return time_ran_out(done[-1].given)
