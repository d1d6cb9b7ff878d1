"""Results of a set side by side: as lines, and as the evening's page with every shared rack on it. Pure.

Where the card is not shared, nothing names or describes a hand of it: seconds, points and tiles only.
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from html import escape

from client.reports.evening_html import evening_page
from client.text import some, wrapped
from shared.measures.side_by_side import Answer, Found, SameRack, names_apart, played_by, same_racks
from shared.measures.standings import MEASURES, Measure, Played, StandingsRow, rows_of, standings
from shared.names import clean_name
from shared.rules.set_result import Handed
from shared.rules.tiles import format_tiles

WIDTH = 80
_FILE_CELLS = 50


@dataclass(frozen=True, slots=True)
class Compared:
    """What is shown: the results that count and what was found in them, those that do not count and why, the heats
    that may be told, and whether the hands of the card may be."""

    title: str
    counts: tuple[Handed, ...]
    found: Found
    refused: tuple[tuple[str, str], ...]
    heats: Collection[int]
    shared: bool

    @property
    def played(self) -> tuple[Played, ...]:
        """Every heat that may be told, for standings, CSV and page."""
        return tuple(one for one in played_by(self.counts, self.found) if one.heat in self.heats)

    @property
    def racks(self) -> tuple[SameRack, ...]:
        """The racks that several people had."""
        return same_racks(self.counts, self.found, self.heats)

    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What the players' own machines say of their results."""
        names = names_apart(self.counts)
        return tuple((names[one.result.player], "; ".join(one.notes)) for one in self.counts if one.notes)

    @property
    def heading(self) -> str:
        """What the set is called, and how many results count."""
        return f"{self.title}: {some(len(self.counts), 'result')}"

    @property
    def hidden(self) -> str:
        """A sentence if some deals are not told."""
        every = {heat.number for one in self.counts for heat in one.heats}
        kept = sorted(every - set(self.heats))
        if not kept:
            return ""
        which = f"heat {kept[0]}" if len(kept) == 1 else f"heats {', '.join(map(str, kept))}"
        return f"What others did in {which} is shown once you have played {'it' if len(kept) == 1 else 'them'}."


def compared_lines(shown: Compared) -> Iterator[str]:
    """Yield standings, notes, refusals and every shared rack as lines of at most 80 characters."""
    result = standings(shown.played)
    yield shown.heading
    for measure in MEASURES:
        yield from _standing(measure, rows_of(result, measure))
    for heading, pairs in (("What their machines say", shown.notes), ("Does not count", shown.refused)):
        if pairs:
            yield ""
            yield heading
            for name, words in pairs:
                yield from wrapped(f"{clean_name(name, '?', _FILE_CELLS)}: {words}", WIDTH, "  ")
    if shown.hidden:
        yield ""
        yield shown.hidden
    for rack in shown.racks:
        yield from rack_lines(rack, shown.shared)


def _standing(measure: Measure, lines: Sequence[StandingsRow]) -> Iterator[str]:
    if not lines:
        return
    yield ""
    yield from wrapped(f"{measure.title.capitalize()}: {measure.better} is better. {measure.rule}", WIDTH - 4)
    for line in lines:
        place = f"{line.place}{'=' if line.tied else ''}"
        value = measure.said(float(line.value) / (1_000 if measure.key == "loss" else 1))
        yield f"  {place:<5}{clean_name(line.name, '?'):<18}{value:>9}{some(line.heats, 'heat'):>12}"


def rack_lines(rack: SameRack, shared: bool) -> Iterator[str]:
    """Yield a shared rack: its tiles, who answered how at what cost, and the best answer with its reasons."""
    yield ""
    yield f"Heat {rack.heat}, {rack.step}: {rack.people} with this rack"
    yield f"  {format_tiles(rack.rack)}"
    for answer in rack.answers:
        line = f"    {answer_words(answer):<14}{cost_words(answer):>12}  "
        first, *more = wrapped(", ".join(answer.names), WIDTH - len(line))
        yield f"{line}{first}"
        yield from (f"{' ' * len(line)}{names}" for names in more)
    if rack.best:
        yield from wrapped(best_words(rack, shared), WIDTH, "  ")


def answer_words(answer: Answer) -> str:
    """Return what was passed or said."""
    blind = f"{answer.blind} unseen" if answer.blind else ""
    return answer.says or " ".join(part for part in (format_tiles(answer.tiles), blind) if part) or "nothing"


def cost_words(answer: Answer) -> str:
    """Return what an answer cost."""
    if answer.cost is None:
        return ""
    return f"{answer.cost:.1f} points" if answer.cost else "best"


def best_words(rack: SameRack, shared: bool) -> str:
    """Return the best answer and, where hands may be named, why it is."""
    best = rack.best
    assert best is not None
    blind = f" and {best.blind} unseen" if best.blind else ""
    what = best.says or f"{format_tiles(best.best)}{blind}".strip() or "nothing"
    return " ".join((f"Best: {what}.", *(best.words if shared else ())))


def compared_page(shown: Compared, day: str) -> str:
    """Return the page: the evening's own, then what the machines say, then rack by rack."""
    parts = [_pairs("What their machines say", shown.notes), _pairs("Does not count", shown.refused)]
    if shown.hidden:
        parts.append(f"<p>{escape(shown.hidden)}</p>")
    racks = shown.racks
    if racks:
        parts.append("<h2>The same rack, and what each passed</h2>")
        parts.append(
            '<p class="quiet">Points say what an answer cost against the best one, by the coach. '
            "Racks that only one player had are left out.</p>"
        )
    parts += [_rack(rack, shown.shared) for rack in racks]
    return evening_page(shown.title, day, shown.played, more="\n".join(part for part in parts if part))


def _pairs(heading: str, pairs: Sequence[tuple[str, str]]) -> str:
    if not pairs:
        return ""
    rows = "".join(
        f"<li><bdi>{escape(clean_name(name, '?', _FILE_CELLS))}</bdi>: {escape(words)}</li>" for name, words in pairs
    )
    return f"<section><h2>{heading}</h2><ul>{rows}</ul></section>"


def _rack(rack: SameRack, shared: bool) -> str:
    rows = "".join(
        f"<tr><td>{escape(cost_words(answer))}</td><td>{_tiles(answer.tiles) or escape(answer_words(answer))}"
        f"{f' {answer.blind} unseen' if answer.blind and answer.tiles else ''}"
        f' <span class="quiet">{", ".join(f"<bdi>{escape(name)}</bdi>" for name in answer.names)}</span></td></tr>'
        for answer in rack.answers
    )
    best = f"<p>{escape(best_words(rack, shared))}</p>" if rack.best else ""
    return (
        f"<section><h3>Heat {rack.heat}, {rack.step}: {rack.people} with this rack</h3>"
        f"<p>{_tiles(rack.rack)}</p><table><tbody>{rows}</tbody></table>{best}</section>"
    )


def _tiles(tiles: Sequence[str]) -> str:
    return "".join(f"<b>{escape(tile)}</b>" for tile in tiles)
