"""The way in with an evening's codes: to a chair, to those who wait for one, or to a place beside the tables."""

import logging
import secrets

from server.clock import now_ms
from server.club.club import Club
from server.club.seating import ClubOutput
from server.club.telling import Telling
from server.club.transactions import Transactions
from server.net.codes import same_code
from server.records import Chair, hash_token
from server.table.outbox import Outbox
from server.table.output import Joined
from server.table.seating import TOKEN_BYTES
from shared.wire.club_views import ClubRole
from shared.wire.messages import Close, Hello

log = logging.getLogger("racktempo.club")
MOST_WATCHING = 64
_ROLES: dict[str, ClubRole] = {"desk": "desk", "watcher": "watcher", "teacher": "teacher", "player": "waiting"}


class ClubAdmission:
    """Says who may come in, and brings them to their place."""

    def __init__(self, club: Club, transactions: Transactions, telling: Telling) -> None:
        self._club, self._transactions, self._telling = club, transactions, telling

    def knows(self, token: bytes) -> bool:
        """Say whether a token belongs to somebody who waits for a chair."""
        digest = hash_token(token)
        return any(one.token_hash == digest for one in self._club.record.waiting)

    def takes(self, hello: Hello) -> bool:
        """Say whether the code opens the role that is asked for."""
        record = self._club.record
        codes = {"desk": record.desk_code, "teacher": record.teacher_code}
        code = codes.get(hello.role, record.code)
        return bool(code) and same_code(hello.code, code)

    async def admit(self, line: Outbox, hello: Hello) -> None:
        """Let a client in, or close its line with the reason."""
        role = _ROLES[hello.role]
        line.token = hello.token or secrets.token_bytes(TOKEN_BYTES)
        if role == "waiting":
            await self._seat(line, hello)
        elif len(self._telling.roles) >= MOST_WATCHING:
            line.end(Close.TABLE_FULL, "Too many people are watching already.")
        else:
            log.info("a %s joined", role)
            self._telling.stand(line, role)
            if role == "desk":
                line.tell(self._telling.results())

    async def _seat(self, line: Outbox, hello: Hello) -> None:
        """Seat a newcomer on the first free chair, or let them wait; who was here before comes back to their place."""
        club = self._club
        if club.record.phase == "over" and not club.place_of(line.token):
            line.end(Close.TABLE_CLOSED, "The evening is over.")
            return

        def act() -> ClubOutput:
            out = ClubOutput()
            place = club.place_of(line.token)
            newcomer = Chair(sitter="person", name=hello.name, token_hash=hash_token(line.token))
            free = None if place else club.free_place(newcomer)
            found = (place.table, place.chair) if place and place.table else free
            if found:
                number, _ = found
                joined = club.tables[number].join(hello.name, line.token, now_ms())
                assert isinstance(joined, Joined)
                self._transactions.keepers[number].arrive(line, joined)
                out.add(number, joined.output)
            elif not place:
                club.wait(hello.name, line.token)
            return out

        fault = await self._transactions.act(act, "somebody who comes")
        if fault:
            line.end(1011, fault)
        elif line.chair is None and self.knows(line.token):
            log.info("somebody waits for a chair")
            self._telling.stand(line, "waiting")
        elif line.chair is None:
            line.end(Close.TABLE_FULL, "All chairs are taken, and too many wait already.")
