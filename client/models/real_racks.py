"""What lay on the rack in a heat with real tiles: lines of tiles that somebody types, checked as far as they go. Pure.

A line that cannot be right keeps its text and says why in one sentence. Must never guess a tile that was not typed.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from shared.cards.owned import ToldCard
from shared.rules.decisions import Question
from shared.rules.seat_heat import SeatHeat, SeatStep
from shared.rules.seats import Seat
from shared.rules.settings import Settings
from shared.rules.steps import SECOND, STEPS, StepName
from shared.rules.tiles import COPIES, JOKER, Rack, by_suit, name, remove
from shared.rules.typed_tiles import MOST_TYPED, compact, read_tiles

DEALT, FINAL = "dealt", "final"
NONE = "-"
"""What is written where no tile went, or came."""
SIZES = (13, 14)
PASS = 3
Does = Literal["", "back", "coach"]


def out_of(step: StepName) -> str:
    """Return the name of the line for the tiles that went at a step."""
    return f"{step} out"


def into(step: StepName) -> str:
    """Return the name of the line for the tiles that came at a step."""
    return f"{step} in"


def last_question(rack: Rack) -> Question:
    """Return what a last rack asks: the dealer's has one tile to discard."""
    return "discard" if len(rack) == max(SIZES) else "hand"


@dataclass(frozen=True, slots=True)
class ClockedHeat:
    """A heat at a clock. key tells heats apart; deals says whether one's own place is East; times is one's record of
    the heat without tiles, None before it is over."""

    key: str
    number: int
    deals: bool
    settings: Settings
    times: SeatHeat | None = None

    @property
    def passes(self) -> tuple[StepName, ...]:
        """The steps at which tiles moved; none before the heat is over."""
        steps = self.times.steps if self.times else ()
        return tuple(step.step for step in steps if step.is_pass)

    @property
    def lines(self) -> tuple[str, ...]:
        """The names of the lines that can be typed, in order."""
        if self.times is None:
            return (DEALT,)
        return (DEALT, *(line for step in self.passes for line in (out_of(step), into(step))), FINAL)


@dataclass(frozen=True, slots=True)
class TypedHeat:
    """What the lines of a heat say.

    Attributes:
        faults: why a line cannot be right, by its name.
        dealt, final: the racks as typed, empty where they are not typed or not whole.
        racks: the rack as it lay before the tiles of a line moved, by the line's name, as far as that is known.
        steps: the steps from the first one on whose tiles are all known.
        left: the rack after these steps; empty without a deal.
        is_whole: whether everything is known, from the deal to the last pass.
    """

    faults: Mapping[str, str] = field(default_factory=dict)
    dealt: Rack = ()
    final: Rack = ()
    racks: Mapping[str, Rack] = field(default_factory=dict)
    steps: tuple[SeatStep, ...] = ()
    left: Rack = ()
    is_whole: bool = False

    @property
    def passes(self) -> int:
        """How many passes are known."""
        return sum(step.is_pass for step in self.steps)


def read_heat(heat: ClockedHeat, lines: Mapping[str, str], year: int, at: str = "") -> TypedHeat:
    """Return what the lines of a heat say; year is the card's. The line at hand, at, may still have too few tiles."""
    reader = _Reader(lines, year, at)
    dealt = reader.rack(DEALT)
    held, left = dealt or None, dealt
    racks, steps = dict[str, Rack](), list[SeatStep]()
    for step in heat.times.steps if heat.times else ():
        if not step.is_pass:
            answered = _answered(heat, step, reader)
            held = held if answered else None
            steps += [answered] if held and answered else []
            continue
        out, come = out_of(step.step), into(step.step)
        racks |= {out: held} if held else {}
        gone = reader.gone(step.step, heat.settings, held)
        kept = remove(held, gone) if held and gone is not None else None
        racks |= {come: kept} if kept is not None else {}
        came = reader.came(step.step, gone, kept)
        if kept is None or gone is None or came is None:
            held = None
            continue
        blind = PASS - len(gone) if STEPS[step.step].ask == "pass" else 0
        steps.append(step.model_copy(update={"given": gone, "came": came, "blind": blind}))
        held = left = (*kept, *came)
    final = reader.rack(FINAL)
    if final and dealt and len(final) != len(dealt):
        reader.faults[FINAL] = f"{len(dealt)} tiles were dealt, so {len(dealt)} are left; these are {len(final)}."
    elif final and held and heat.times and by_suit(final) != by_suit(held):
        reader.faults[FINAL] = f"The deal and the passes leave another rack: {compact(by_suit(held))}."
    is_whole = bool(held and heat.times) and not reader.faults
    return TypedHeat(reader.faults, dealt, final, racks, tuple(steps), left, is_whole)


def _answered(heat: ClockedHeat, step: SeatStep, reader: "_Reader") -> SeatStep | None:
    """Return a vote or an offer with its answer, as the presses at the clock and the passes say it; None if they do
    not say it yet."""
    match STEPS[step.step].ask:
        case "vote":
            return step.model_copy(update={"vote": any(second in heat.passes for second in SECOND)})
        case "offer":
            given = reader.tiles(out_of("courtesy give")) if "courtesy give" in heat.passes else ()
            return None if given is None else step.model_copy(update={"offer": min(PASS, len(given))})
    return step


@dataclass(slots=True)
class _Reader:
    """Reads lines and collects what is wrong with them."""

    lines: Mapping[str, str]
    year: int
    at: str
    faults: dict[str, str] = field(default_factory=dict)

    def tiles(self, line: str) -> Rack | None:
        """Return the tiles of a line; None if nothing is typed, or if it cannot be read."""
        text = self.lines.get(line, "").strip()
        if not text:
            return None
        if text == NONE:
            return ()
        read = read_tiles(text, self.year)
        if read.faults:
            self.faults[line] = str(read.faults[0])
            return None
        return read.tiles

    def rack(self, line: str) -> Rack:
        tiles = self.tiles(line) or ()
        if tiles and len(tiles) not in SIZES:
            if len(tiles) > max(SIZES) or line != self.at:
                self.faults[line] = f"A rack has 13 tiles, or 14 for the dealer; these are {len(tiles)}."
            return ()
        return tiles

    def gone(self, step: StepName, settings: Settings, held: Rack | None) -> Rack | None:
        line = out_of(step)
        tiles = self.tiles(line)
        if tiles is None:
            return None
        least = min(settings.gives(step)) if STEPS[step].ask == "pass" else 0
        if JOKER in tiles:
            self.faults[line] = "A joker is never passed."
        elif held and (missing := [tile for tile in tiles if tiles.count(tile) > held.count(tile)]):
            tile = missing[0]
            had = held.count(tile)
            self.faults[line] = (
                f"There was no {name(tile)} on your rack then."
                if not had
                else (f"There was only {had} of {name(tile)} on your rack then.")
            )
        elif len(tiles) > PASS or (len(tiles) < least and line != self.at):
            self.faults[line] = f"Three tiles go at {step}; these are {len(tiles)}."
        return None if line in self.faults or len(tiles) < least else tiles

    def came(self, step: StepName, gone: Rack | None, kept: Rack | None) -> Rack | None:
        line = into(step)
        tiles = self.tiles(line)
        if tiles is None:
            return None
        over = [tile for tile, count in Counter((*(kept or ()), *tiles)).items() if count > COPIES[tile]]
        if JOKER in tiles:
            self.faults[line] = "A joker is never passed, so none comes."
        elif over:
            self.faults[line] = f"With these the rack holds {COPIES[over[0]] + 1} of {name(over[0])}: too many."
        elif len(tiles) > PASS or (gone is not None and _differ(len(tiles), len(gone), line == self.at)):
            wanted = PASS if gone is None else len(gone)
            self.faults[line] = f"As many tiles come as go; {wanted} went, and these are {len(tiles)}."
        return None if line in self.faults or gone is None or len(tiles) != len(gone) else tiles


def _differ(came: int, went: int, is_at: bool) -> bool:
    return came > went or (came < went and not is_at)


def last_rack(typed: Mapping[str, Mapping[str, str]]) -> str:
    """Return the rack that was typed last at a clock, the final one if it is there; empty if there is none."""
    racks = [lines.get(FINAL, "").strip() or lines.get(DEALT, "").strip() for lines in typed.values()]
    return next((rack for rack in reversed(racks) if rack), "")


def with_racks(times: SeatHeat, typed: TypedHeat, card: ToldCard) -> SeatHeat:
    """Return one's record of a heat with the tiles as far as they are known: without a final rack it is not whole.

    Whoever was dealt 14 tiles was East, whatever place the clock gave them.
    """
    deals = len(typed.dealt) == max(SIZES)
    seat = times.seat if deals == (times.seat == Seat.EAST) else Seat.EAST if deals else Seat.SOUTH
    return times.model_copy(
        update={
            "seat": int(seat),
            "dealt": by_suit(typed.dealt),
            "steps": (*typed.steps, *times.steps[len(typed.steps) :]),
            "final": by_suit(typed.left) if typed.is_whole else (),
            "card": card.text,
            "card_title": card.title,
            "card_digest": card.digest,
        }
    )


@dataclass(slots=True)
class RacksModel:
    """The heats of a clock, one page each, and the line being typed.

    Attributes:
        heats: the heats, the coming one last.
        year: the year of the card, whose digits may be typed.
        typed: the text of each line, by the heat's key and the line's name.
        page: the number of the heat in hand.
        line: the name of the line in hand.
    """

    heats: Sequence[ClockedHeat]
    year: int
    typed: dict[str, dict[str, str]] = field(default_factory=dict)
    page: int = 0
    line: str = DEALT

    def begin(self, typed: Mapping[str, Mapping[str, str]]) -> None:
        """Take what was typed before, and go to the last heat that is over, or past it if that one is whole."""
        self.typed = {key: dict(lines) for key, lines in typed.items()}
        over = sum(heat.times is not None for heat in self.heats)
        is_open = over and not self.read_of(self.heats[over - 1]).is_whole
        self.turn_to(over - 1 if is_open else len(self.heats) - 1)

    @property
    def heat(self) -> ClockedHeat:
        """The heat in hand."""
        return self.heats[self.page]

    @property
    def lines(self) -> Mapping[str, str]:
        """What is typed of the heat in hand."""
        return self.typed.get(self.heat.key, {})

    @property
    def read(self) -> TypedHeat:
        """What it says."""
        return self.read_of(self.heat, self.line)

    @property
    def fault(self) -> str:
        """What cannot be right, in one sentence: of the line in hand, else of the first one."""
        faults = self.read.faults
        if self.line in faults:
            return faults[self.line]
        first = next((line for line in self.heat.lines if line in faults), "")
        return f"{first.capitalize()}: {faults[first]}" if first else ""

    def read_of(self, heat: ClockedHeat, at: str = "") -> TypedHeat:
        """Return what is typed of a heat; the line at hand, at, may still have too few tiles."""
        return read_heat(heat, self.typed.get(heat.key, {}), self.year, at)

    def turn_to(self, page: int) -> None:
        """Go to a heat, and there to the first line that is empty."""
        self.page = page % len(self.heats)
        lines = self.heat.lines
        self.line = next((line for line in lines if not self.lines.get(line, "").strip()), lines[-1])

    def type(self, text: str) -> None:
        """Add text to the line in hand; a line break is a space."""
        clean = " ".join(text.splitlines())
        if clean.isprintable():
            self._write((self.lines.get(self.line, "") + clean)[:MOST_TYPED])

    def press(self, key: str) -> Does:
        """Take a key that is no text, or a single character."""
        match key:
            case "escape":
                return "back"
            case "f2":
                return "coach"
            case "enter" | "tab" | "down":
                return self._next(key == "enter")
            case "up" | "shift+tab":
                lines = self.heat.lines
                self.line = lines[max(0, lines.index(self.line) - 1)]
            case "left" | "right":
                self.turn_to(self.page + (1 if key == "right" else -1))
            case "backspace":
                self._write(self.lines.get(self.line, "")[:-1])
            case "space":
                self.type(" ")
            case _ if key.startswith("heat "):
                self.turn_to(int(key.removeprefix("heat ")))
            case _ if key in self.heat.lines:
                self.line = key  # a click on it
            case _ if len(key) == 1:
                self.type(key)
        return ""

    def _next(self, leaves: bool) -> Does:
        """Go to the next line; enter on the last one leads to the next heat, and from there back to the clock."""
        lines = self.heat.lines
        place = lines.index(self.line)
        if place + 1 < len(lines):
            self.line = lines[place + 1]
        elif leaves and self.page + 1 < len(self.heats):
            self.turn_to(self.page + 1)
        elif leaves:
            return "back"
        return ""

    def _write(self, text: str) -> None:
        self.typed.setdefault(self.heat.key, {})[self.line] = text
