"""The desk's model: the last view of the evening, the selected place, who is picked up, what a key means.

Pure: no socket, no screen, no clock. It never decides: a person dropped on a chair sits there once the club confirms.
Tables are held in the order of the view; those who wait are held as one more place, below all tables.
"""

from dataclasses import dataclass, field

from client.models.played import coach_words
from client.models.session import Meant, Session
from client.text import machine_asks, some
from shared.measures.standings import standings
from shared.names import clean_name
from shared.rules.intents import GIVE_MORE_MS
from shared.rules.settings import Settings
from shared.times import write_time
from shared.wire.club_views import ChairShown, ClubView, Evening, Ranking, TableShown, WaitingShown, all_places
from shared.wire.desk_intents import (
    CallOff,
    CloseTable,
    DeskIntent,
    EndEvening,
    GiveTime,
    HoldClocks,
    LetBack,
    LetTeacherSee,
    OpenTable,
    PlayBy,
    RankFrom,
    RenameTable,
    RunClocks,
    SeatAtRandom,
    SeatBots,
    SeatPerson,
    SendHome,
    StartAll,
    Unseat,
    WaitFor,
)

_SURE = {
    "c": "Close {table}? {seated} will wait{heat}. Press c again.",
    "k": "Send {person} home, from {place}? Press k again.",
    "f": "End the evening for {everybody}? Press f again.",
    "l": "Draw lots for all chairs of {tables}? Press l again.",
    "q": "If you leave, all tables pause until you go on. Press q again.",
}
"""Keys that must be pressed twice, and the question after the first."""
WAITS_MS = (30_000, 60_000, 120_000, 300_000, 0)
"""How long a table may wait for one person, by a key in turn; 0: for ever."""
NOTE_MS = 15_000
"""A sentence about what a key did stands so long, and so does a question: the evening goes on meanwhile."""
SCROLLS = {"up": -1, "down": 1, "pageup": -10, "pagedown": 10}
"""How many lines of the standings a key moves."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A chair of the table at this place of the view, or (table -1) somebody in the list of those who wait."""

    table: int
    chair: int


@dataclass(slots=True)
class DeskModel(Session):
    """An evening as its desk sees it, or who watches or waits. columns is how many tables stand side by side; of the
    standings first is the line at the top and hidden how many stand below the screen; tells_code: the desk's own code
    is shown."""

    view: ClubView | None = None
    ranking: Ranking = field(default_factory=lambda: Ranking(speed=(), loss=(), points=()))
    evening: Evening | None = None
    first: int = 0
    hidden: int = 0
    tells_code: bool = False
    at: Spot = Spot(0, 0)
    held: str = ""
    typed: str | None = None
    page: str = "tables"
    columns: int = 2
    _asked: str = ""
    _noted: tuple[str, int] = "", 0

    # ---- what is heard

    def hear(self, view: ClubView, received_ms: int) -> None:
        """Take in the evening as it stands; what was picked up stays so while the person is here."""
        if view.over and not (self.view and self.view.over):
            self.page = "standings"
        before, self.view = self.view, view
        self.received_ms, self.commands = received_ms, self.commands.shown()
        if self.note != self._noted[0]:
            self._noted = self.note, received_ms
        elif received_ms - self._noted[1] >= NOTE_MS:
            self.note = self._asked = ""
        if self.evening and before and before.least != view.least:
            self.hear_evening(self.evening)
        if not any(person == self.held for person, _, _ in self._people()):
            self.held = ""
        self.at = self._fitted(self.at)

    def hear_evening(self, evening: Evening) -> None:
        """Take in the results."""
        self.evening = evening
        ranked = standings(evening.played, self.view.least if self.view else 1)
        self.ranking = Ranking.model_validate(all_places(ranked, ""))

    @property
    def is_over(self) -> bool:
        """Whether the evening has ended."""
        return self.view is not None and self.view.over

    # ---- what is known

    @property
    def tables(self) -> tuple[TableShown, ...]:
        """The open tables."""
        return self.view.tables if self.view else ()

    @property
    def waiting(self) -> tuple[WaitingShown, ...]:
        """Those who wait for a chair."""
        return self.view.waiting if self.view else ()

    @property
    def is_desk(self) -> bool:
        """Whether this is the desk, and no watcher."""
        return self.view is not None and self.view.role == "desk"

    @property
    def table(self) -> TableShown | None:
        """The selected table."""
        return self.tables[self.at.table] if 0 <= self.at.table < len(self.tables) else None

    @property
    def people(self) -> int:
        """How many people are here, at tables or waiting for a chair."""
        return sum(chair.sitter == "person" for table in self.tables for chair in table.chairs) + len(self.waiting)

    @property
    def is_under_way(self) -> bool:
        """Whether a heat is being played at some table, its clocks running or standing."""
        return any(table.phase == "heat" for table in self.tables)

    @property
    def is_running(self) -> bool:
        """Whether the clocks of some table run."""
        return any(table.phase == "heat" and not table.paused for table in self.tables)

    def coach_words(self) -> str:
        """Return how far the coach is, or nothing once it is through."""
        return coach_words(self.view)

    def left_ms(self, chair: ChairShown, now_ms: int) -> int:
        """Return what is left on a chair's clock now."""
        gone_ms = now_ms - self.received_ms if chair.running else 0
        return max(0, chair.left_ms - gone_ms)

    def starts_in_ms(self, now_ms: int) -> int | None:
        """Return how long it is to the start that is counted down to."""
        if self.view is None or self.view.starts_in_ms is None:
            return None
        return max(0, self.view.starts_in_ms - (now_ms - self.received_ms))

    def name_of(self, person: str) -> str:
        """Return the name of a person by their key, cleaned."""
        return next((clean_name(name) for key, name, _ in self._people() if key == person), "")

    def person_at(self, spot: Spot) -> str:
        """Return the key of who is at a place, or nothing."""
        return next((key for key, _, at in self._people() if at == spot), "")

    @property
    def asked_for(self) -> tuple[TableShown, ChairShown] | None:
        """The first table and chair for which another machine asks by the name of its person."""
        asked = ((table, chair) for table in self.tables for chair in table.chairs if chair.asks)
        return next(asked, None)

    def asking_words(self) -> str:
        """Return in a sentence which machine waits for the desk's word, and the key that gives it; nothing if none."""
        if self.asked_for is None:
            return ""
        table, chair = self.asked_for
        return machine_asks(f"{clean_name(chair.name)}'s seat at {table_name(table)}", "F5")

    def _people(self) -> list[tuple[str, str, Spot]]:
        seated = [
            (chair.person, chair.name, Spot(place, number))
            for place, table in enumerate(self.tables)
            for number, chair in enumerate(table.chairs)
            if chair.person
        ]
        return seated + [(one.person, one.name, Spot(-1, number)) for number, one in enumerate(self.waiting)]

    # ---- what a key means

    def press(self, key: str) -> Meant:
        """Take a key of the desk, or what a mouse did: "spot T C" for a click, "drag T C T C" from one to another."""
        asked, self._asked, self.note = self._asked, "", ""
        self._noted = "", 0
        if asked and key in ("y", "n", "escape"):  # as people answer a question
            if key != "y":
                return ()
            key = asked
        if self.typed is not None:
            return self._type(key)
        word, *numbers = key.split()
        if word == "spot":
            self.at = self._fitted(Spot(int(numbers[0]), int(numbers[1])))
        elif word == "drag":
            source, target = Spot(int(numbers[0]), int(numbers[1])), Spot(int(numbers[2]), int(numbers[3]))
            self.held, self.at = self.person_at(source), target
            return self._drop() if self.held else ()
        elif key in SCROLLS and self.page == "standings":
            self.first = max(0, min(self.first + SCROLLS[key], self.first + self.hidden))
        elif key in ("up", "down", "left", "right"):
            self._move(key)
        elif key == "v":
            self.page, self.first = "standings" if self.page == "tables" else "tables", 0
        elif key in _SURE and asked != key and self._wants_asking(key):
            self._asked, self.note = key, self._question(key)
        elif key in ("q", "o"):
            return ("leave",) if key == "q" else ("look",)
        elif key == "w":
            return ("wall",)
        elif self.is_desk:
            return self._order(key)
        return ()

    def _wants_asking(self, key: str) -> bool:
        match key:
            case "q":
                return self._stops_others()
            case "c":
                return self.is_desk and self.table is not None
            case "k":
                return self.is_desk and bool(self.person_at(self.at))
        return self.is_desk

    def _question(self, key: str) -> str:
        """Return what is asked before a key does what cannot be undone, with the person and the table by name."""
        table, person = self.table, self.person_at(self.at)
        at = next((one for one in self.tables if any(chair.person == person for chair in one.chairs)), None)
        seated = sum(chair.sitter == "person" for chair in table.chairs) if table else 0
        return _SURE[key].format(
            table=table_name(table) if table else "",
            person=self.name_of(person),
            place=table_name(at) if at else "those who wait",
            seated=counted(seated),
            heat=", no result" if table and table.phase == "heat" else "",
            everybody=counted(self.people),
            tables=some(len(self.tables), "table"),
        )

    def _stops_others(self) -> bool:
        """Whether leaving this desk stops others: clocks run, or people are at this machine's tables."""
        if self.view is None or not self.is_desk:
            return False
        return self.is_running or (self.keeps and not self.view.over and self.people > 0)

    def _order(self, key: str) -> Meant:
        table, person = self.table, self.person_at(self.at)
        match key:
            case "space" | "enter" if self.held:
                return self._drop()
            case "space" | "enter":
                self.held = person
                self.note = "" if person else "There is nobody there to move."
            case "escape":
                self.held = ""
            case "u" if person:
                return (Unseat(person=person),)
            case "k" if person:
                return (SendHome(person=person),)
            case "r" if table:
                self.typed = ""
            case "h" if table:
                return (HoldClocks(table=table.number) if not table.paused else RunClocks(table=table.number),)
            case "x" if table:
                return (GiveTime(table=table.number, by_ms=GIVE_MORE_MS),)
            case "c" if table:
                return (CloseTable(table=table.number),)
            case _:
                return self._for_all(key)
        return ()

    def _for_all(self, key: str) -> Meant:
        match key:
            case "a":
                return ("addresses",)
            case "e":
                return ("export",)
            case "m":
                return ("take home",)
            case "g":
                return ("settings",)
            case "s":
                is_counting = self.view is not None and self.view.starts_in_ms is not None
                return (CallOff() if is_counting else StartAll(),)
            case "p":
                return (HoldClocks() if self.is_running else RunClocks(),)
            case "y":
                return (GiveTime(by_ms=GIVE_MORE_MS),)
            case "n":
                return (OpenTable(),)
            case "b":
                return (SeatBots(),)
            case "l":
                return (SeatAtRandom(),)
            case "t":
                return (LetTeacherSee(on=not (self.view and self.view.teacher)),)
            case "d":
                self.tells_code = not self.tells_code
            case "i" if self.view:
                heats = self.view.least % self.view.settings.heats + 1
                self.note = f"A place in the standings takes {some(heats, 'heat')} now."
                return (RankFrom(heats=heats),)
            case "j" if self.view:
                after = [ms for ms in WAITS_MS if ms > self.view.wait_ms > 0]
                wait_ms = after[0] if after else WAITS_MS[0] if not self.view.wait_ms else 0
                words = f"{write_time(wait_ms)} at most" if wait_ms else "as long as it takes"
                self.note = f"A table waits for one person {words}."
                return (WaitFor(ms=wait_ms),)
            case "f":
                return (EndEvening(),)
            case "f5" if asked := self.asked_for:
                return (LetBack(person=asked[1].person),)
        return ()

    def _drop(self) -> Meant:
        person, table, self.held = self.held, self.table, ""
        if self.person_at(self.at) == person:
            return ()
        if self.at.table < 0:
            return (Unseat(person=person),)
        return (SeatPerson(person=person, table=table.number, chair=self.at.chair),) if table else ()

    def _type(self, key: str) -> Meant:
        typed, table = self.typed or "", self.table
        if key == "enter":
            self.typed = None
            return (RenameTable(table=table.number, name=typed),) if table and typed.strip() else ()
        if key == "escape":
            self.typed = None
        elif key == "backspace":
            self.typed = typed[:-1]
        else:
            character = " " if key == "space" else key
            self.typed = (typed + character)[:40] if len(character) == 1 else typed
        return ()

    # ---- where one is

    def _move(self, key: str) -> None:
        table, chair = self.at.table, self.at.chair
        last, columns = len(self.tables) - 1, max(1, self.columns)
        if table < 0:
            step = {"left": -1, "right": 1}.get(key, 0)
            above = Spot(last - last % columns, 3) if last >= 0 else Spot(-1, 0)
            self.at = above if key == "up" else self._fitted(Spot(-1, max(0, chair + step)))
            return
        match key:
            case "left" | "right":
                self.at = Spot(max(0, min(last, table + (1 if key == "right" else -1))), chair)
            case "up" if chair > 0:
                self.at = Spot(table, chair - 1)
            case "up" if table >= columns:
                self.at = Spot(table - columns, 3)
            case "down" if chair < 3:
                self.at = Spot(table, chair + 1)
            case "down" if table + columns <= last:
                self.at = Spot(table + columns, 0)
            case "down":
                self.at = self._fitted(Spot(-1, 0)) if self.waiting or self.held else self.at

    def _fitted(self, spot: Spot) -> Spot:
        """Return the nearest place that is there."""
        if spot.table < 0 and (self.waiting or self.held or not self.tables):
            return Spot(-1, max(0, min(spot.chair, len(self.waiting) - 1)))
        return Spot(max(0, min(spot.table, len(self.tables) - 1)), min(spot.chair, 3))


def counted(count: int) -> str:
    """Return so many people in words."""
    return "1 person" if count == 1 else f"{count} people"


def table_name(table: TableShown) -> str:
    """Return a table's name with its number."""
    name = clean_name(table.name, "table")
    return name if name == f"Table {table.number}" else f"{name} (table {table.number})"


def play_by(settings: Settings) -> DeskIntent:
    """Return what sets the settings of all tables, from each one's next heat on."""
    return PlayBy(settings=settings)
