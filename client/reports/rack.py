"""The coach's reading of a rack, as readable lines or as one JSON object. Pure."""

import json
from collections.abc import Iterator, Sequence

from client.text import wrapped
from shared.cards.picture import AgainstRack
from shared.coach.engine import RankedPass
from shared.coach.playout import Estimate
from shared.coach.reading import Reading
from shared.rules.tiles import Tile, by_suit, format_tiles

WIDTH = 80


def reading_json(reading: Reading) -> str:
    """Return a reading as JSON: tiles by their codes, chances from 0 to 1, everything else in points."""
    return json.dumps(
        {
            "rack": list(reading.position.rack),
            "step": reading.step,
            "hands": [
                {
                    "hand": line.hand,
                    "name": line.name,
                    "away": line.away,
                    "chance": line.chance,
                    "variant": [[code, count] for code, count in line.variant],
                }
                for line in reading.hands
            ],
            "passes": [
                {
                    "tiles": list(ranked.tiles),
                    "blind": ranked.blind,
                    "points": ranked.points,
                    "se": ranked.se,
                    "gift": ranked.gift,
                }
                for ranked in reading.passes
            ],
        }
    )


def reading_lines(reading: Reading, top: int) -> Iterator[str]:
    """Yield a reading as lines of at most 80 characters: the nearest hands, the tiles, the leading passes."""
    step = f"at {reading.step}" if reading.step else "the passing over"
    yield f"{format_tiles(by_suit(reading.position.rack))}, {step}"
    yield ""
    yield "Likeliest hands                      chance"
    for line in reading.hands[:top]:
        yield f"  {line.name:<32}{line.chance:>9.1%}"
        yield from against_lines(line.drawn)
    yield ""
    yield "Worth of a tile, in points"
    yield from wrapped(worths_line(reading.worths), WIDTH, "  ")
    yield ""
    yield f"Passes, best of {len(reading.passes)} first     points    +/-   gift"
    for ranked, words in zip(reading.passes[:top], reading.words, strict=False):
        gift = "" if ranked.gift is None else f"{ranked.gift:>7.2f}"
        yield f"  {pass_words(ranked):<28}{ranked.points:>8.1f}{ranked.se:>7.1f}{gift}"
        for sentence in words:
            yield from wrapped(sentence, WIDTH, "    ")


def against_lines(drawn: AgainstRack) -> Iterator[str]:
    """Yield a hand against a rack: its tiles, and what is to go."""
    line = f"    {drawn.picture.text()}   {drawn.text()}"
    if len(line) <= WIDTH:
        yield line
        return
    yield f"    {drawn.picture.text()}"
    yield from wrapped(drawn.text(), WIDTH, "    ")


def worths_line(worths: Sequence[tuple[Tile, Estimate]]) -> str:
    """Return the worth of each kind in one line."""
    return ", ".join(f"{tile} {worth.points:.1f}" for tile, worth in worths)


def pass_words(ranked: RankedPass) -> str:
    """Return a pass in codes with its number of blind tiles, such as "9d N + 1 blind"."""
    tiles = format_tiles(ranked.tiles)
    if ranked.blind:
        return f"{tiles} + {ranked.blind} blind".removeprefix(" + ")
    return tiles or "nothing"
