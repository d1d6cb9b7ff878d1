"""The round in which a wall is made: the table promises its secret, everybody promises a value, then all is opened.

Pure. The table publishes its commitment and the chairs that take part. Each of them sends the hash of a random value,
and opens the value only after it has seen all hashes. So nobody can choose theirs to suit the others'. A chair that
sends nothing, or a value that does not fit its hash, is silent: the attempt is burned, everybody is told who was
silent, and the next attempt goes on without that chair, with a fresh secret and fresh values. Every attempt stands in
the heat's file. Who is silent twice in a set takes no further part in it.

Must never hold a secret that is still in use: an attempt shows its secret only once it is burned. DEVELOPERS.md
("The wall") describes every byte; tests/outside checks a wall by that text alone.
"""

import hashlib
from collections.abc import Sequence
from typing import Annotated, Literal

from pydantic import Field

from shared.records import Record
from shared.rules.refusals import Refusal
from shared.rules.wall import CONTRIBUTION_BYTES, commitment

HASH_BYTES = 32
SILENCE_MS = 5_000
"""How long the table waits for hashes, and then again for values."""
RESTART_MS = 15_000
"""The same after a restart of the host: people need a moment to come back."""
MOST_SILENCES = 2
"""Who was silent so often in a set takes no further part in it."""
MOST_FAILURES = 1
"""How many rounds of a set the host may fail before its heats count as not checkable."""
MOST_ATTEMPTS = 16
DOMAIN = b"racktempo contribution\0"

WallKind = Literal["", "round", "seeded", "laid", "common"]
"""How a wall is made: in a round; from a seed; laid for a drill; the same for all tables of an evening. Empty in heats
of older versions, where each chair sent its contribution with its "ready"."""
Hash = Annotated[bytes, Field(max_length=HASH_BYTES)]
Value = Annotated[bytes, Field(max_length=CONTRIBUTION_BYTES)]
Four = tuple[bytes, bytes, bytes, bytes]
NONE: Four = (b"", b"", b"", b"")


class Attempt(Record):
    """One attempt of a round, all of it known to everybody. hashes and values are in chair order, empty while missing.

    why is set once it is burned: "silent" names the chairs in silent; "host" means that the host's program could not
    go on with it. secret is told only then.
    """

    number: int = Field(ge=1, le=MOST_ATTEMPTS)
    commitment: str = Field(pattern="^[0-9a-f]{64}$")
    chairs: tuple[Annotated[int, Field(ge=0, le=3)], ...] = Field(max_length=4)
    hashes: tuple[Hash, Hash, Hash, Hash] = NONE
    values: tuple[Value, Value, Value, Value] = NONE
    why: Literal["", "silent", "host"] = ""
    silent: tuple[Annotated[int, Field(ge=0, le=3)], ...] = Field((), max_length=4)
    secret: bytes = b""

    @property
    def has_all_hashes(self) -> bool:
        """Whether values may be opened."""
        return all(self.hashes[chair] for chair in self.chairs)

    @property
    def is_complete(self) -> bool:
        """Whether every chair that takes part has opened its value."""
        return not self.why and all(self.values[chair] for chair in self.chairs)

    @property
    def awaited(self) -> tuple[int, ...]:
        """The chairs that owe a hash or, once all hashes are there, a value."""
        if self.why:
            return ()
        come = self.values if self.has_all_hashes else self.hashes
        return tuple(chair for chair in self.chairs if not come[chair])


class Round(Record):
    """The round of one heat: the attempts that were burned, and the running one.

    table is the table's id, heat the number of the heat to come.
    """

    table: str
    heat: int
    attempts: tuple[Attempt, ...]

    @classmethod
    def begun(cls, table: str, heat: int, promised: str, chairs: Sequence[int]) -> "Round":
        """Return a round that begins with this commitment and these chairs."""
        return cls(table=table, heat=heat, attempts=(Attempt(number=1, commitment=promised, chairs=tuple(chairs)),))

    @property
    def now(self) -> Attempt:
        """The running attempt."""
        return self.attempts[-1]

    def hashed(self, chair: int, heat: int, attempt: int, hashed: bytes) -> "Round | Refusal":
        """Take a chair's hash; a second one is refused."""
        if refusal := self._refused(chair, heat, attempt):
            return refusal
        if self.now.hashes[chair]:
            return Refusal("final", "Your part in this wall is promised already and cannot be changed.")
        return self._now(hashes=_with(self.now.hashes, chair, hashed))

    def opened(self, chair: int, heat: int, attempt: int, value: bytes) -> "Round | Refusal":
        """Take a chair's value, after all hashes; one that does not fit its hash makes the chair silent."""
        if refusal := self._refused(chair, heat, attempt):
            return refusal
        if not self.now.has_all_hashes:
            return Refusal("not now", "Not every part of this wall is promised yet.")
        if self.now.values[chair]:
            return Refusal("final", "Your part in this wall is open already.")
        if not fits(self.table, self.heat, self.now, chair, value):
            return self.burned("silent", (chair,))
        return self._now(values=_with(self.now.values, chair, value))

    def burned(self, why: Literal["silent", "host"], silent: tuple[int, ...] = ()) -> "Round":
        """Return the round with its running attempt failed."""
        return self._now(why=why, silent=silent)

    def again(self, secret: bytes, promised: str, chairs: Sequence[int]) -> "Round":
        """Return the round with another attempt by these of its chairs; secret is that of the failed attempt."""
        told = self._now(secret=secret).attempts
        chairs = tuple(chair for chair in self.now.chairs if chair in chairs and chair not in self.now.silent)
        attempt = Attempt(number=self.now.number + 1, commitment=promised, chairs=chairs)
        return self.model_copy(update={"attempts": (*told, attempt)})

    def _refused(self, chair: int, heat: int, attempt: int) -> Refusal | None:
        if (heat, attempt) != (self.heat, self.now.number) or self.now.why:
            return Refusal("not now", "That attempt to make the wall is over.")
        if chair not in self.now.chairs:
            return Refusal("not now", "You take no part in this wall.")
        return None

    def _now(self, **changes: object) -> "Round":
        return self.model_copy(update={"attempts": (*self.attempts[:-1], self.now.model_copy(update=changes))})


def raw(fingerprint: str) -> bytes:
    """Return a commitment's bytes; of a text that is none, which only a host that lies sends, the text's own.

    >>> raw("00ff"), raw("none")
    (b'\\x00\\xff', b'none')
    """
    try:
        return bytes.fromhex(fingerprint)
    except ValueError:
        return fingerprint.encode(errors="replace")


def value_hash(table: str, heat: int, attempt: Attempt, chair: int, value: bytes) -> bytes:
    """Return the hash by which a chair promises its value: SHA-256 over parts, each after its length (4 bytes)."""
    parts = (
        DOMAIN,
        raw(attempt.commitment),
        bytes(attempt.chairs),
        table.encode(),
        heat.to_bytes(8, "big"),
        attempt.number.to_bytes(8, "big"),
        bytes((chair,)),
        value,
    )
    return hashlib.sha256(b"".join(len(part).to_bytes(4, "big") + part for part in parts)).digest()


def fits(table: str, heat: int, attempt: Attempt, chair: int, value: bytes) -> bool:
    """Say whether a value is the one that a chair promised."""
    return len(value) == CONTRIBUTION_BYTES and value_hash(table, heat, attempt, chair, value) == attempt.hashes[chair]


def follows(failed: Attempt, again: Attempt) -> bool:
    """Say whether an attempt is made by those who were left of the failed one before it."""
    left = tuple(chair for chair in failed.chairs if chair not in failed.silent)
    return again.chairs == left if failed.why == "silent" else set(again.chairs) <= set(left)


def round_faults(
    table: str, heat: int, attempts: Sequence[Attempt], promised: str, contributions: Sequence[bytes]
) -> tuple[str, ...]:
    """Return what is wrong in a finished round by itself, one sentence each.

    promised and contributions are what the wall is said to be made from.
    """
    if not attempts:
        return ("The file says that the wall was made in a round, but holds none.",)
    found: list[str] = []
    for number, attempt in enumerate(attempts, 1):
        if attempt.number != number:
            found.append(f"Attempt {number} of the round is numbered {attempt.number}.")
        for chair in range(4):
            value = attempt.values[chair]
            if (value or attempt.hashes[chair]) and chair not in attempt.chairs:
                found.append(f"Chair {chair + 1} took no part in attempt {number}, but has a part in it.")
            elif value and not fits(table, heat, attempt, chair, value):
                found.append(f"The value of chair {chair + 1} does not fit its hash in attempt {number}.")
        if attempt is attempts[-1]:
            continue
        if not attempt.why:
            found.append(f"Nothing says why attempt {number} failed.")
        if commitment(attempt.secret) != attempt.commitment:
            found.append(f"The secret of attempt {number} does not fit its commitment.")
        if not follows(attempt, attempts[number]):
            found.append(f"Attempt {number + 1} was not made by those who were left of attempt {number}.")
        if attempts[number].commitment == attempt.commitment:
            found.append(f"Attempt {number + 1} has no secret of its own.")
    last = attempts[-1]
    if not last.is_complete:
        found.append("The last attempt of the round is not complete.")
    if last.commitment != promised:
        found.append("The wall's commitment is not that of the round's last attempt.")
    if tuple(last.values) != tuple(contributions):
        found.append("The wall was made from other values than those of the round.")
    return tuple(found)


def _with(four: Four, chair: int, value: bytes) -> Four:
    changed = [value if other == chair else before for other, before in enumerate(four)]
    return (changed[0], changed[1], changed[2], changed[3])
