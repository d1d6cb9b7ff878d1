"""An evening of several tables with its shell reduced to lists: time jumps, bots think at once, nobody has a socket."""

import random
from collections import defaultdict
from collections.abc import Callable
from itertools import count

from client.models.wall import WallWatch
from server.club.club import Club, new_club
from server.club.seating import ClubOutput
from server.club.show import club_view
from server.club.table import ClubTable
from server.records import Chair, ClubRecord, SeatKey, SeatReview, hash_token
from server.table.output import Joined, Output
from shared.measures.standings import Reviewed
from shared.rules.intents import Intent, Ready
from shared.rules.seat_heat import SeatHeat
from shared.rules.settings import Settings
from shared.wire.club_views import ClubRole, ClubView
from shared.wire.desk_intents import DeskIntent, OpenTable
from shared.wire.messages import TO_CLIENT, Command, DeskCommand, Done, HeatFile, OwnHeat, Refused
from shared.wire.views import View
from tests.server.players import answer_to
from tests.tables import framed, opened

DESK = b"desk"
QUICK = Settings(level_ms=100_000, bot_pace="quick", heats=2)
SAME_DEAL = QUICK.model_copy(update={"same_deal": True})


def club_record(
    settings: Settings = QUICK,
    code: str = "marigold-otter-lemon-07",
    desk_code: str = "bronze-piano-atlas-34",
    master: bytes = b"m" * 32,
) -> ClubRecord:
    return ClubRecord(
        id="c",
        name="Boathouse",
        code=code,
        desk_code=desk_code,
        teacher_code="",
        settings=settings,
        master=master,
    )


class ClubEvening:
    """A club and its people by name. All inputs happen at now_ms, and only wait() moves it."""

    def __init__(self, settings: Settings = QUICK, tables: int = 2, seed: int = 1, people: int = 0) -> None:
        self.now_ms = 5_000_000
        self.club: Club = new_club(club_record(settings), random.Random(seed).randbytes, lambda: "2026-05-01T19:30:00Z")
        self.tokens: dict[str, bytes] = {}
        self.ids: dict[str, int] = defaultdict(int)
        self.desk_ids = count(1)
        self.told: dict[str, list[bytes]] = defaultdict(list)
        self.files: dict[str, list[HeatFile | OwnHeat]] = defaultdict(list)
        self.sent_home: list[bytes] = []
        self.has_coach = False
        self.club.progress = self._progress
        self.away: set[str] = set()
        self.watches: dict[str, WallWatch] = {}
        for _ in range(tables):
            self.do(OpenTable())
        for number in range(people):
            self.come(f"P{number + 1}")

    def take(self, out: ClubOutput) -> None:
        self.sent_home += out.sent_home
        for number, outputs in out.tables.items():
            for output in outputs:
                self.take_from(number, output)
        for number, table in self.club.open_tables.items():
            here = frozenset(chair for chair in table.people if self.name_at(number, chair) not in self.away)
            if here != table.connected:
                self.take_from(number, table.lines_are(here, self.now_ms))

    def lose(self, name: str) -> None:
        """Cut somebody's line."""
        number, chair = self.where(name)
        self.away.add(name)
        self.take_from(number, self.club.tables[number].disconnected(chair, self.now_ms))

    def take_from(self, number: int, output: Output) -> None:
        """Keep what people of a table are told, let its bots think, and tell the club of a heat's end."""
        table = self.club.tables[number]
        for chair, message in output.messages:
            name = self.name_at(number, chair)
            self.told[name].append(framed(message))
            if isinstance(told := opened(message), HeatFile | OwnHeat):
                self.files[name].append(told)
        for chair in output.changed or ():
            if table.record.chairs[chair].sitter == "person":
                self.told[self.name_at(number, chair)].append(TO_CLIENT.pack(table.view(chair, self.now_ms)))
        for thought in output.thoughts:
            again = table.thought(thought.chair, thought.heat, thought.step, thought.run(), self.now_ms)
            self.take_from(number, again)
        if output.finished or output.closing:
            self.take(self.club.heat_over())
        if table.record.round:
            self.make_wall(number)

    def make_wall(self, number: int) -> None:
        """Let the clients of a table's people send their part in its wall."""
        here = {self.name_at(number, chair) for chair in range(4)}
        for name in [name for name in self.tokens if name in here]:
            watch = self.watches.setdefault(name, WallWatch(random.Random(name).randbytes))
            watch.connected(self.club.tables[number].record.id)
            for intent in watch.see(self.view(name)).intents:
                assert isinstance(self.say(name, intent), Done)

    # ---- people

    def come(self, name: str) -> tuple[int, int]:
        """Let somebody come in with the evening's code; return table and chair, (0, 0) for whoever waits."""
        self.away.discard(name)
        token = self.tokens.setdefault(name, name.encode().ljust(16, b"."))
        place = self.club.place_of(token)
        newcomer = Chair(sitter="person", name=name, token_hash=hash_token(token))
        found = (place.table, place.chair) if place else self.club.free_place(newcomer)
        if not found or not found[0]:
            self.club.wait(name, token)
            return (0, 0)
        joined = self.club.tables[found[0]].join(name, token, self.now_ms)
        assert isinstance(joined, Joined)
        self.take_from(found[0], joined.output)
        return found[0], joined.chair

    def key(self, name: str) -> str:
        place = self.club.place_of(self.tokens[name])
        assert place is not None, f"{name} is not here"
        return place.person.person

    def where(self, name: str) -> tuple[int, int]:
        place = self.club.place_of(self.tokens[name])
        assert place is not None
        return place.table, place.chair

    def name_at(self, number: int, chair: int) -> str:
        table = self.club.open_tables.get(number)
        if table is None or chair not in table.people:
            return "nobody"
        token_hash = table.record.chairs[chair].token_hash
        return next((name for name, token in self.tokens.items() if hash_token(token) == token_hash), "nobody")

    def table(self, name: str) -> ClubTable:
        return self.club.tables[self.where(name)[0]]

    def view(self, name: str) -> View:
        number, chair = self.where(name)
        return self.club.tables[number].view(chair, self.now_ms)

    def owes(self, name: str) -> bool:
        """Whether somebody owes an answer, without the rest of the view: the standings take longest."""
        number, chair = self.where(name)
        running = self.club.tables[number]._heat
        if running is None:
            return False
        view = running.view(chair, self.now_ms)
        return view.owes and not view.paused

    def say(self, name: str, intent: Intent) -> Done | Refused:
        """Send a command of a person."""
        number, chair = self.where(name)
        table = self.club.tables[number]
        command = Command(id=table.record.chairs[chair].last_id + 1, heat=table.record.number, intent=intent)
        out = table.command(chair, command, self.now_ms)
        answer = next(message for to, message in out.messages if to == chair and isinstance(message, Done | Refused))
        self.take_from(number, out)
        return answer

    def ready(self, *names: str) -> None:
        for name in names:
            assert isinstance(self.say(name, Ready()), Done)

    # ---- the desk

    def ask(self, intent: DeskIntent) -> Done | Refused:
        answer, out = self.club.command(DESK, DeskCommand(id=next(self.desk_ids), intent=intent), self.now_ms)
        self.take(out)
        return answer

    def do(self, intent: DeskIntent) -> None:
        answer = self.ask(intent)
        assert isinstance(answer, Done), answer

    def refused(self, intent: DeskIntent) -> str:
        answer = self.ask(intent)
        assert isinstance(answer, Refused), answer
        return answer.text

    def shown(self, role: ClubRole = "desk") -> ClubView:
        return club_view(self.club, role, 1, frozenset(), self.now_ms)

    # ---- the coach

    def _progress(self) -> tuple[int, int]:
        looked = self.club.results.looked
        return (looked, looked + len(self.club.left_to_look_at())) if self.has_coach else (0, 0)

    def look(self, judge: Callable[[SeatHeat], Reviewed | None], most: int = 1_000) -> list[SeatKey]:
        """Let somebody judge what may be looked at, and tell it; return which seats that were."""
        keys = list(self.club.left_to_look_at()[:most])
        for key in keys:
            found = judge(self.club.results.heat_of(key))
            self.club.results.take(SeatReview(table=key.table, heat=key.heat, seat=key.seat, reviewed=found))
        self.take(self.club.heat_over())
        return keys

    # ---- time

    def wait(self, by_ms: int) -> None:
        """Let time pass; whatever is due on the way happens when it is due."""
        end_ms = self.now_ms + by_ms
        while (due := self._next()) and due[0] <= end_ms:
            self.now_ms = max(self.now_ms, due[0])
            if due[1]:
                self.take_from(due[1], self.club.tables[due[1]].tick(self.now_ms))
            else:
                self.take(self.club.tick(self.now_ms))
        self.now_ms = end_ms

    def _next(self) -> tuple[int, int] | None:
        due = [(at_ms, 0)] if (at_ms := self.club.next_deadline_ms()) is not None else []
        for number, table in self.club.open_tables.items():
            if (at_ms := table.next_deadline_ms()) is not None:
                due.append((at_ms, number))
        return min(due) if due else None

    def play(self, *names: str, seed: bytes = b"people", pause_ms: int = 2_000) -> None:
        """Let these people answer, each pause_ms after the one before, until the heats at their tables have ended."""
        while any(self.table(name).record.phase == "heat" for name in names):
            for name in names:
                if self.owes(name):
                    self.wait(pause_ms)
                    if self.owes(name):
                        self.say(name, answer_to(self.view(name), seed))
            if not any(self.owes(name) for name in names):
                self.wait(100)
