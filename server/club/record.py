"""What must outlive the process of a club's evening besides its tables: codes, who waits, what the desk has asked,
and what the coach has found."""

import hashlib
from typing import Literal, NamedTuple

from pydantic import Field

from server.table.chairs import Chair
from shared.measures.standings import Reviewed
from shared.records import Record
from shared.rules.settings import Settings
from shared.rules.wall import SECRET_BYTES, seeded_secret

MOST_WAITING = 200
_DESKS_KEPT = 8


class DeskClient(Record):
    """A desk that has said hello, and the last command of it that was dealt with."""

    token_hash: bytes
    last_id: int = 0


class SeatKey(NamedTuple):
    """A seat (counted from East) of a heat at the table of that number."""

    table: int
    heat: int
    seat: int


class SeatReview(Record):
    """The coach has looked at a seat's heat; reviewed is nothing where there was nothing to judge."""

    table: int
    heat: int
    seat: int = Field(ge=0, le=3)
    reviewed: Reviewed | None


class ClubRecord(Record):
    """An evening. opened counts the tables that ever were; closed_round is the last heat that no table plays any
    more, and whose racks may be told; waiting are people without a chair, the longest first; master is where the
    secrets of a common deal come from."""

    id: str
    name: str
    code: str
    desk_code: str
    teacher_code: str
    settings: Settings
    master: bytes
    card: str = ""
    opened: int = 0
    closed_round: int = 0
    waiting: tuple[Chair, ...] = ()
    desks: tuple[DeskClient, ...] = ()
    teacher: bool = False
    phase: Literal["open", "over"] = "open"

    def with_(self, **changes: object) -> "ClubRecord":
        """Return the record with some fields changed."""
        return self.model_copy(update=changes)

    def with_desk(self, token_hash: bytes, last_id: int) -> "ClubRecord":
        """Return the record after a command of a desk; only the desks that spoke last are remembered."""
        others = [desk for desk in self.desks if desk.token_hash != token_hash]
        return self.with_(desks=(*others, DeskClient(token_hash=token_hash, last_id=last_id))[-_DESKS_KEPT:])

    def desk_last_id(self, token_hash: bytes) -> int:
        """Return the last command of a desk that was dealt with."""
        return next((desk.last_id for desk in self.desks if desk.token_hash == token_hash), 0)

    def without(self, token_hash: bytes) -> "ClubRecord":
        """Return the record with somebody waiting no more."""
        return self.with_(waiting=tuple(one for one in self.waiting if one.token_hash != token_hash))

    def table_id(self, number: int) -> str:
        """Return the id of a table by its number on the desk."""
        return f"{self.id}.{number}"


def shared_secret(master: bytes, settings: Settings, heat: int) -> bytes:
    """Return the secret of a heat's wall that every table shares; one that is told tells nothing of the others."""
    if settings.seed is not None:
        return seeded_secret(settings.seed, heat)
    secret = hashlib.sha256(b"racktempo round\0" + master + heat.to_bytes(4, "big")).digest()
    assert len(secret) == SECRET_BYTES
    return secret
