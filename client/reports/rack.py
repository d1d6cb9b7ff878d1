"""The coach's reading of a rack, as readable lines or as one JSON object. Pure."""

import json
from collections.abc import Iterator, Sequence

from client.models.ask import USE_WORDS
from client.models.review import pass_words
from client.text import wrapped
from shared.cards.picture import AgainstRack
from shared.chances import in_hundred
from shared.coach.asking import Answer
from shared.coach.discards import Discard
from shared.coach.estimate import Estimate
from shared.coach.ranking import RankedPass
from shared.coach.reading import Reading
from shared.coach.votes import Votes
from shared.rules.tiles import Tile, by_suit, format_tiles, name

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
                    "win": line.win,
                    "chance": line.chance,
                    "variant": [[code, count] for code, count in line.variant],
                }
                for line in reading.hands
            ],
            "passes": [
                {
                    "tiles": list(ranked.tiles),
                    "blind": ranked.blind,
                    "win": ranked.points / 100,
                    "points": ranked.points,
                    "se": ranked.se,
                    "gift": ranked.gift,
                }
                for ranked in reading.passes
            ],
            "votes": [
                {"vote": vote, "win": way.points / 100, "points": way.points, "se": way.se}
                for vote, way in _votes(reading.votes)
            ],
            "discards": [
                {
                    "tile": discard.tile,
                    "win": discard.points / 100,
                    "points": discard.points,
                    "loss": discard.loss,
                    "called": discard.called,
                }
                for discard in reading.discards
            ],
        }
    )


def _votes(votes: Votes | None) -> list[tuple[str, RankedPass]]:
    """Return both votes, the better one first."""
    if votes is None:
        return []
    both = [("go on", votes.go_on), ("stop", votes.stop)]
    return both if votes.gap.points >= 0 else both[::-1]


def answer_lines(answer: Answer, top: int) -> Iterator[str]:
    """Yield an answer as lines of at most 80 characters: the question's own first, then all that it rests on."""
    reading = answer.reading
    step = f"at {reading.step}" if reading.step else "the passing over"
    yield f"{format_tiles(by_suit(reading.position.rack))}, {step}"
    yield ""
    yield from wrapped(answer.headline, WIDTH)
    for sentence in answer.said:
        yield from wrapped(sentence, WIDTH, "  ")
    yield ""
    for bar in answer.bars:
        held = " if it had to be this one" if bar.is_held else ""
        yield f"  {bar.name:<34}{in_hundred(bar.share)}{held}"
    if answer.bars:
        yield ""
    for use, word in USE_WORDS.items():
        tiles = tuple(tile for tile, its in answer.uses if its == use)
        if tiles:
            yield f"{word:<8}{format_tiles(tiles)}"
    yield ""
    yield from reading_lines(reading, top)


def reading_lines(reading: Reading, top: int) -> Iterator[str]:
    """Yield a reading as lines of at most 80 characters: hands, worths, and every answer in points."""
    yield "Likeliest hands                  wins alone"
    for line in reading.hands[:top]:
        yield f"  {line.name:<32}{line.win:>9.1%}"
        yield from against_lines(line.drawn)
    yield ""
    yield "Worth of a tile, in points"
    yield from wrapped(worths_line(reading.worths), WIDTH, "  ")
    yield from _vote_lines(reading.votes)
    yield from _discard_lines(reading.discards[:top])
    if not reading.passes:
        return
    yield ""
    yield f"Passes, best of {len(reading.passes)} first     points    +/-   gift"
    for ranked, words in zip(reading.passes[:top], reading.words, strict=False):
        gift = "" if ranked.gift is None else f"{ranked.gift:>7.2f}"
        yield f"  {pass_words(ranked):<28}{ranked.points:>8.1f}{ranked.se:>7.1f}{gift}"
        for sentence in words:
            yield from wrapped(sentence, WIDTH, "    ")


def _vote_lines(found: Votes | None) -> Iterator[str]:
    if found is None:
        return
    yield ""
    yield "Go on or stop                    points    +/-"
    for vote, way in _votes(found):
        yield f"  {vote:<28}{way.points:>9.1f}{way.se:>7.1f}"
    if found.gap.too_close:
        yield "  Too close to call."


def _discard_lines(discards: Sequence[Discard]) -> Iterator[str]:
    if not discards:
        return
    yield ""
    yield "First discards                   points   cost   might be called"
    for discard in discards:
        yield f"  {name(discard.tile):<28}{discard.points:>9.1f}{discard.loss:>7.1f}{discard.called:>18.0%}"


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
