"""What people beside the tables see: the desk, watchers, a teacher, and people who wait for a chair.

Nothing is shown before it is on the disk: callers of show and tell_results hold the turn of every table.
"""

from server.clock import now_ms
from server.club.club import Club
from server.club.show import club_view
from server.records import hash_token
from server.table.outbox import Outbox, Receiver
from shared.wire.club_views import ClubRole, Evening, Ranking, all_places
from shared.wire.messages import NO_CHAIR, PROTOCOL, TO_CLIENT, Close, Welcome

SHOW_MS = 200
"""The desk and the watchers see changes at most this often."""
BEAT_MS = 2_000
"""And at least this often, so that the clocks they draw do not drift from the tables'."""
MOST_WITH_STEPS = 1_500
"""With more results than these the desk gets only whole heats, since a frame holds no more."""


class Telling:
    """The lines that lead to no table, each with its role."""

    def __init__(self, club: Club, receiver: Receiver) -> None:
        self.roles: dict[Outbox, ClubRole] = {}
        self._names: dict[Outbox, str] = {}
        self._seen: frozenset[tuple[int, int]] = frozenset()
        self.changed = False
        self._club, self._receiver = club, receiver
        self._shown_ms = self._revision = 0

    def teachers(self) -> dict[bytes, str]:
        """Return the names of the teachers who are here, by the hashes of their tokens."""
        return {
            hash_token(line.token): self._names.get(line, "") for line, role in self.roles.items() if role == "teacher"
        }

    def send_teachers_away(self) -> None:
        """The code by which they came in is worth nothing any more."""
        for line in [line for line, role in self.roles.items() if role == "teacher"]:
            line.end(Close.SENT_AWAY, "The desk lets no teacher see racks now, or has a new code for teachers.")
            self.leave(line)

    def stand(self, line: Outbox, role: ClubRole, name: str = "") -> None:
        """Take a line in, in place of an older one of the same person, and welcome it."""
        for older in [other for other in self.roles if other.token == line.token and other is not line]:
            older.end(Close.SEAT_TAKEN_OVER, "Your place is now held elsewhere.")
            self.leave(older)
        line.chair, line.receiver = None, self._receiver
        self.roles[line], self._names[line] = role, name
        self.changed = True
        welcome = Welcome(
            protocol=PROTOCOL, token=line.token, chair=NO_CHAIR, last_id=self._last_id(line, role), table=role
        )
        line.welcome(TO_CLIENT.pack(welcome))
        self._revision += 1
        line.tell(self.results() if role == "desk" else self.ranking())
        line.show(self._frame(role))

    def leave(self, line: Outbox) -> None:
        """Let a line go, if it stands here."""
        self._names.pop(line, None)
        if self.roles.pop(line, None):
            self.changed = True

    def table_changed(self) -> None:
        """Something changed at a table. A rack that a teacher may see no longer is taken back at once: a picture that
        still waits to be sent is dropped, and the next one is due now."""
        self.changed = True
        if self._seen - self._agreed():
            self.soon()
            for line, role in self.roles.items():
                if role == "teacher":
                    line.unshow()

    def _agreed(self) -> frozenset[tuple[int, int]]:
        """Return the chairs, by table, whose racks a teacher may see."""
        if not self._club.record.teacher:
            return frozenset()
        tables = self._club.open_tables.items()
        return frozenset((at, chair) for at, table in tables for chair in range(4) if table.record.chairs[chair].shows)

    def soon(self) -> None:
        """Show the next change at once."""
        self._shown_ms = min(self._shown_ms, now_ms() - SHOW_MS)
        self.changed = True

    def due_ms(self) -> int | None:
        """Return when the evening is to be shown, or None while nobody looks."""
        return self._shown_ms + (SHOW_MS if self.changed else BEAT_MS) if self.roles else None

    def begin(self) -> bool:
        """Note that the evening is shown now; return whether anybody is watching."""
        self.changed, self._shown_ms = False, now_ms()
        return bool(self.roles)

    def show(self) -> None:
        """Show the evening to everybody here."""
        frames: dict[ClubRole, bytes] = {}
        self._revision += 1
        for line, role in self.roles.items():
            if role not in frames:
                frames[role] = self._frame(role)
            line.show(frames[role])

    def tell_results(self) -> None:
        """Send every desk the results, and everybody else here the standings."""
        roles = set(self.roles.values())
        results = self.results() if "desk" in roles else b""
        ranking = self.ranking() if roles - {"desk"} else b""
        for line, role in self.roles.items():
            line.tell(results if role == "desk" else ranking)

    def ranking(self) -> bytes:
        """Return the message with the standings that may be told by now."""
        return TO_CLIENT.pack(Ranking.model_validate(all_places(self._club.standings, "")))

    def results(self) -> bytes:
        """Return the message with all results."""
        played = self._club.played()
        if len(played) > MOST_WITH_STEPS:
            played = tuple(one.model_copy(update={"spent": ()}) for one in played)
        return TO_CLIENT.pack(Evening(played=played))

    def _last_id(self, line: Outbox, role: ClubRole) -> int:
        if role == "desk":
            return self._club.record.desk_last_id(hash_token(line.token))
        waits = self._club.place_of(line.token) if role == "waiting" else None
        return waits.person.last_id if waits else 0

    def _frame(self, role: ClubRole) -> bytes:
        if role == "teacher":
            self._seen = self._agreed()
        waiting = frozenset(hash_token(line.token) for line, other in self.roles.items() if other == "waiting")
        return TO_CLIENT.pack(club_view(self._club, role, self._revision, waiting, now_ms()))
