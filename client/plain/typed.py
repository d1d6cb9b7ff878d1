"""Tiles in a typed line: all that is wrong with them is said in sentences. Pure."""

from shared.cards.said import called, some
from shared.rules.intents import Offer
from shared.rules.steps import StepName
from shared.rules.tiles import JOKER, Rack
from shared.rules.typed_tiles import TypedTiles, read_tiles


class BadLine(ValueError):
    """A typed line that cannot be; the message is one sentence."""


def check_lifted(tiles: Rack, rack: Rack) -> None:
    """Raise BadLine for what cannot be lifted: the table does not explain why it refuses a draft."""
    for tile in tiles:
        if tile == JOKER:
            raise BadLine("A joker is never passed.")
        if tiles.count(tile) > rack.count(tile):
            held = some(tile, rack.count(tile)) if tile in rack else f"no {called(tile)}"
            raise BadLine(f"You hold {held}" + (", no more." if tile in rack else "."))


def sound(typed: TypedTiles) -> TypedTiles:
    """Return what was typed. Raises BadLine with every fault, each with its place and how to mend it."""
    if typed.faults:
        raise BadLine(" ".join(map(str, typed.faults)))
    return typed


def surely_tiles(word: str) -> Rack:
    """Return the tiles of a word that is no name of a hand: it has a digit or is written in capitals."""
    found = read_tiles(word)
    return () if found.faults or (word.islower() and not any(map(str.isdigit, word))) else found.tiles


def offered(step: StepName | None, line: str) -> Offer:
    """Return an offer as it is typed: "2" across, "2 left" to a side. Raises BadLine if it cannot be."""
    number, _, way = line.partition(" ")
    is_small = number in ("0", "1", "2", "3")
    match step, way:
        case "courtesy offer", "" if is_small:
            return Offer(count=int(number))
        case "courtesy offer", _:
            raise BadLine("Write a number from 0 to 3.")
        case "side offer", "left" | "right" if is_small:
            return Offer(count=int(number), to="left" if way == "left" else "right")
        case "side offer", "" if number == "0":
            return Offer(count=0, to="right")
        case "side offer", _:
            raise BadLine("Write how many and with whom: 2 left, or 1 right; 0 for none.")
    raise BadLine("No number is asked for now; write the tiles that go.")
