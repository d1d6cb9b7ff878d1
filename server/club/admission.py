"""The way in with an evening's codes: to a chair, to those who wait for one, or to a place beside the tables."""

import logging
import secrets
from dataclasses import dataclass
from functools import partial

from server.clock import now_ms
from server.club.club import Club
from server.club.seating import ClubOutput, Regained, person_of
from server.club.telling import Telling
from server.club.transactions import Transactions
from server.net.addresses import network_of
from server.net.codes import same_code
from server.records import Chair, hash_token
from server.table.outbox import Outbox
from server.table.output import Joined, Rejected
from server.table.seating import BACK, PLAYED_ELSEWHERE, TOKEN_BYTES
from shared.bucket import Bucket
from shared.names import clean_name, skeleton
from shared.wire.club_views import ClubRole
from shared.wire.messages import Close, Hello

log = logging.getLogger("racktempo.club")
MOST_BESIDE: dict[ClubRole, int] = {"desk": 8, "teacher": 8, "watcher": 64}
TEACHERS_PER_S, TEACHERS = 1, 8
"""How often teachers may come: at once, and a second after that. Each time every table waits for the disk."""
_ROLES: dict[str, ClubRole] = {"desk": "desk", "watcher": "watcher", "teacher": "teacher", "player": "waiting"}


@dataclass(frozen=True, slots=True)
class Shares:
    """What people of one address get by themselves: so many chairs or, if it is more, this part of all; so many places
    among those who wait, and beside the tables. The desk may seat as many as it likes."""

    chairs: int = 8
    part: float = 0.5
    waiting: int = 24
    watchers: int = 8


class ClubAdmission:
    """Says who may come in, and brings them to their place."""

    def __init__(self, club: Club, transactions: Transactions, telling: Telling, shares: Shares) -> None:
        self._club, self._transactions, self._telling = club, transactions, telling
        self._shares = shares
        self._desks: set[bytes] = set()
        self._teachers_come = Bucket(TEACHERS_PER_S, TEACHERS)
        self._from: dict[bytes, str] = {}
        """Whence people came, by the hashes of their tokens: an address has a share of the evening's places."""

    def knows(self, hello: Hello) -> bool:
        """Say whether a token belongs to somebody who waits for a chair, or to a desk, which has the desk's code too.

        Who has a chair is known to its table.
        """
        digest = hash_token(hello.token or b"")
        if hello.role == "desk":
            was_here = digest in self._desks or any(one.token_hash == digest for one in self._club.record.desks)
            return was_here and self.takes(hello)
        return hello.role == "player" and self._waits(digest)

    def _waits(self, token_hash: bytes) -> bool:
        return any(one.token_hash == token_hash for one in self._club.record.waiting)

    def takes(self, hello: Hello) -> bool:
        """Say whether the code opens the role that is asked for."""
        record = self._club.record
        codes = {"desk": record.desk_code, "teacher": record.teacher_code}
        code = codes.get(hello.role, record.code)
        return same_code(hello.code, code)

    async def admit(self, line: Outbox, hello: Hello) -> None:
        """Let a client in, or close its line with the reason."""
        if line.is_lost:
            return
        role = _ROLES[hello.role]
        line.token = hello.token or secrets.token_bytes(TOKEN_BYTES)
        if role == "waiting":
            if not await self._asks_for_seat(line, hello.name):
                await self._seat(line, hello)
        elif refusal := self._no_room_beside(line, role) or self._plays(line, role, hello.name):
            line.end(Close.TABLE_FULL, refusal)
        else:
            await self._stand_beside(line, role, clean_name(hello.name, role))

    async def _stand_beside(self, line: Outbox, role: ClubRole, name: str) -> None:
        """Let a desk, a teacher or a watcher in; that a teacher was here is on the disk before they see a rack."""
        own = hash_token(line.token)
        if role == "teacher":
            if not self._teachers_come.take(now_ms()):
                line.end(Close.TOO_MANY, "Teachers come and go too fast here; wait a moment.")
                return
            act = partial(self._club.teachers_are, {**self._telling.teachers(), own: name})
            if fault := await self._transactions.act(act, "a teacher who comes"):
                line.end(1011, fault)
                return
        log.info("a %s joined", role)
        self._telling.stand(line, role, name)
        if role == "desk":
            self._desks.add(own)

    def _no_room_beside(self, line: Outbox, role: ClubRole) -> str:
        """Return why a further desk, teacher or watcher has no place, or nothing. No role takes another's places."""
        others = [other for other, stands in self._telling.roles.items() if stands == role]
        if any(other.token == line.token for other in others):
            return ""
        here = sum(network_of(other.address) == network_of(line.address) for other in others)
        if len(others) >= MOST_BESIDE[role]:
            return f"There are {len(others)} of this role already; as a {role} you cannot come in now."
        if role == "watcher" and here >= self._shares.watchers:
            return f"{here} people are watching from your address already."
        return ""

    def _plays(self, line: Outbox, role: ClubRole, name: str) -> str:
        """Return why somebody who sits at a table cannot be a teacher too, or nothing."""
        wanted, own = skeleton(clean_name(name, role)), hash_token(line.token)
        for place in self._club.places() if role == "teacher" else ():
            if place.table and (place.person.token_hash == own or skeleton(place.person.name) == wanted):
                return f"{place.person.name} sits at a table; a teacher does not play. Leave it, or use another name."
        return ""

    async def _asks_for_seat(self, line: Outbox, name: str) -> bool:
        """Say whether this may be somebody at another machine, whose seat is kept: it is theirs once the desk has let
        the machine in, and they are turned away until then."""
        club, found = self._club, list[Regained]()
        if club.place_of(line.token):
            return False
        if club.is_played_elsewhere(line.token):
            line.end(Close.SEAT_TAKEN_OVER, PLAYED_ELSEWHERE)
            return True
        if any(table.is_back(hash_token(line.token), name) for table in club.open_tables.values()):
            line.end(Close.SEAT_TAKEN_OVER, BACK)
            return True
        if "desk" not in self._telling.roles.values() or not club.kept_for(name):
            return False

        def act() -> ClubOutput:
            out = ClubOutput()
            if one := club.regain(name, line.token, line.held, now_ms(), out):
                found.append(one)
                if isinstance(one.answer, Joined):
                    self._transactions.keepers[one.table].arrive(line, one.answer)
            return out

        if fault := await self._transactions.act(act, "another machine"):
            line.end(1011, fault)
            return True
        for one in found:
            if isinstance(one.answer, Rejected):
                line.end(one.answer.close, one.answer.text)
            else:
                club.results.know_as(one.before, person_of(line.token))
                await self._transactions.act(club.heat_over, "the results of somebody at another machine")
        return bool(found)

    async def _seat(self, line: Outbox, hello: Hello) -> None:
        """Seat a newcomer on the first free chair, or let them wait; who was here before comes back to their place."""
        club = self._club
        if club.record.phase == "over" and not club.place_of(line.token):
            line.end(Close.TABLE_CLOSED, "The evening is over.")
            return

        def act() -> ClubOutput:
            out = ClubOutput()
            place = club.place_of(line.token)
            newcomer = Chair(sitter="person", token_hash=hash_token(line.token))
            name = place.person.name if place else club.own_name(hello.name, newcomer.person)
            newcomer = newcomer.model_copy(update={"name": name})
            chairs_left, waiting_left = self._shares_left(line)
            free = None if place or not chairs_left else club.free_place(newcomer)
            found = (place.table, place.chair) if place and place.table else free
            if found:
                number, _ = found
                joined = club.tables[number].join(name, line.token, now_ms(), line.held)
                assert isinstance(joined, Joined)
                self._transactions.keepers[number].arrive(line, joined)
                out.add(number, joined.output)
            elif not place and waiting_left:
                club.wait(name, line.token)
            self._from[hash_token(line.token)] = network_of(line.address)
            return out

        fault = await self._transactions.act(act, "somebody who comes")
        if fault:
            line.end(1011, fault)
        elif line.chair is None and self._waits(hash_token(line.token)):
            log.info("somebody waits for a chair")
            self._telling.stand(line, "waiting")
        elif line.chair is None:
            line.end(Close.TABLE_FULL, "No chair is left for you, and too many wait already.")

    def _shares_left(self, line: Outbox) -> tuple[bool, bool]:
        """Say whether this address may have one more chair, and one more place among those who wait."""
        here, places = network_of(line.address), tuple(self._club.places())
        self._from = {one.person.token_hash: at for one in places if (at := self._from.get(one.person.token_hash))}
        own = [place for place in places if self._from.get(place.person.token_hash) == here]
        chairs, seated = 4 * len(self._club.open_tables), sum(place.table > 0 for place in own)
        most = max(self._shares.chairs, self._shares.part * chairs)
        return seated < most, len(own) - seated < self._shares.waiting
