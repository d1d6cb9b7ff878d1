"""What one player's client saw of a heat and its wall: evidence that does not depend on what the host tells later.

Pure. The client fills it from the views as they come (client.models.wall); when the secret is told, the whole heat is
checked against it here. Two people's evidence can be compared, and the digest of what all of them share can be read
aloud as four words: only so a table is caught that shows different things to different people.
"""

import hashlib
from typing import Literal

from pydantic import Field

from shared.codec import BadFrame
from shared.codes import WORDS
from shared.records import Record
from shared.rules.heat import HEAT, Complete, SavedHeat, faults, final_state
from shared.rules.seats import Seat, chair_of
from shared.rules.state import State, own_tiles
from shared.rules.steps import StepName
from shared.rules.tiles import Tile
from shared.rules.wall_round import MOST_ATTEMPTS, MOST_FAILURES, NONE, Attempt, Value, WallKind, raw, round_faults

Tiles = tuple[Tile, ...]
WORDS_READ = 4
SHORT = 8
"""How many digits of a commitment or a value are shown where space is short."""
KIND_WORDS: dict[WallKind, str] = {
    "": "is from before walls were made in rounds",
    "round": "is made by everybody at the table",
    "seeded": "comes from a seed: who knows the seed knows the wall",
    "laid": "is laid for practice",
    "common": "is fixed beforehand by the host alone, the same at all tables",
}


class SeenStep(Record):
    """A step that was over while the heat ran: one's own tiles that went, how many unseen ones, and what came."""

    step: StepName
    given: Tiles
    blind: int
    came: Tiles


class WallSeen(Record):
    """What a client saw of a heat. table is the table's id, number the heat's, chair one's own.

    host is the host's chair when the round began, -1 without one; names are by chair. own are one's own values, one
    for each attempt, empty where one took no part. failures counts the rounds of this set that the host failed. stopped
    says why checking ended; then nothing was opened from there on.
    """

    table: str
    number: int
    chair: int = Field(ge=0, le=3)
    host: int = -1
    names: tuple[str, ...] = Field((), max_length=4)
    kind: WallKind = ""
    commitment: str = ""
    attempts: tuple[Attempt, ...] = Field((), max_length=MOST_ATTEMPTS)
    own: tuple[Value, ...] = Field((), max_length=MOST_ATTEMPTS)
    failures: int = 0
    seat: int = -1
    dealt: Tiles = ()
    steps: tuple[SeenStep, ...] = ()
    stopped: str = ""

    @property
    def has_begun(self) -> bool:
        """Whether a round or the heat has begun: from here on nothing that was shown may change."""
        return bool(self.attempts) or self.seat >= 0

    @property
    def was_dealt(self) -> bool:
        """Whether a rack was seen. A heat that East wins at once shows none, nor which values were opened last: their
        hashes have fixed them."""
        return self.seat >= 0

    def own_value(self) -> bytes:
        """Return one's own value for the last attempt, empty if there is none."""
        return self.own[-1] if len(self.own) == len(self.attempts) and self.own else b""

    def name(self, chair: int) -> str:
        """Return the name in a chair when the round began."""
        return (self.names[chair] if chair < len(self.names) else "") or f"chair {chair + 1}"


class Verdict(Record):
    """What a client says of a wall in one line: all agrees, something to know, or loudly that something is wrong."""

    level: Literal["quiet", "plain", "loud"]
    text: str


def all_faults(seen: WallSeen, data: bytes, complete: Complete) -> tuple[str, ...]:
    """Return what is wrong in the file of a whole heat, by itself and against what was seen of it."""
    try:
        heat = HEAT.unpack(data)
    except BadFrame as error:
        return (f"The file that was told cannot be read: {error}",)
    by_itself = () if heat.wall == "laid" else faults(data, complete)  # nothing was promised before a drill
    return (*by_itself, *seen_faults(seen, heat))


def seen_faults(seen: WallSeen, heat: SavedHeat) -> tuple[str, ...]:
    """Return where a whole heat differs from what was seen of it, one sentence each with both values."""
    found = [seen.stopped] if seen.stopped else []
    if heat.number != seen.number:
        found.append(f"The file is of heat {heat.number}, but this was seen of heat {seen.number}.")
    if heat.wall != seen.kind:
        found.append(f"Before the deal: the wall {KIND_WORDS[seen.kind]}; the file says: it {KIND_WORDS[heat.wall]}.")
    if heat.commitment != seen.commitment:
        found.append(f"The commitment was {seen.commitment or 'empty'}; the file has {heat.commitment or 'none'}.")
    found += _attempt_faults(seen, heat.attempts)
    if (own := seen.own_value()) and heat.contributions[seen.chair] != own:
        theirs = heat.contributions[seen.chair].hex() or "none"
        found.append(f"Your value was {own.hex()}; the wall was made with {theirs}.")
    if seen.seat >= 0 and chair_of(Seat(seen.seat), heat.east) != seen.chair:
        found.append(f"You sat on chair {seen.chair + 1}; the file has your seat elsewhere.")
    return (*found, *_heat_faults(seen, final_state(heat)))


def _attempt_faults(seen: WallSeen, attempts: tuple[Attempt, ...]) -> list[str]:
    if len(attempts) != len(seen.attempts):
        return [f"{len(seen.attempts)} attempts to make the wall were seen; the file has {len(attempts)}."]
    found = []
    for ours, theirs in zip(seen.attempts, attempts, strict=True):
        if _shared(ours, seen.was_dealt) != _shared(theirs, seen.was_dealt):
            found.append(f"Attempt {ours.number} to make the wall was {_short(ours)}; the file has {_short(theirs)}.")
    return found


def _heat_faults(seen: WallSeen, state: State) -> list[str]:
    if seen.seat < 0:
        return []
    seat, found = Seat(seen.seat), []
    if seen.dealt and sorted(seen.dealt) != sorted(state.dealt[seat]):
        found.append(f"You were dealt {' '.join(seen.dealt)}; the file says {' '.join(state.dealt[seat])}.")
    done = {step.step: step for step in state.done}
    for step in seen.steps:
        if (theirs := done.get(step.step)) is None:
            found.append(f"You played {step.step}; the file does not have it.")
            continue
        ours = sorted(step.given), sorted(step.came)
        told = sorted(own_tiles(theirs.answers[seat])), sorted(theirs.came[seat])
        if ours != told:
            found.append(f"In {step.step} you {_moved(*ours)}; the file says that you {_moved(*told)}.")
    return found


def _moved(given: list[Tile], came: list[Tile]) -> str:
    return f"gave {' '.join(given) or 'nothing'} and got {' '.join(came) or 'nothing'}"


def evidence_faults(seen: WallSeen) -> tuple[str, ...]:
    """Return what is wrong in a client's evidence by itself, without the whole heat."""
    found = [seen.stopped] if seen.stopped else []
    if seen.kind == "round" and seen.attempts:
        last = seen.attempts[-1]
        found += round_faults(seen.table, seen.number, seen.attempts, seen.commitment, last.values)
    return tuple(found)


def differences(ours: WallSeen, theirs: WallSeen) -> tuple[str, ...]:
    """Return where two people of one table saw different things, one sentence each with both values."""
    if (ours.table, ours.number) != (theirs.table, theirs.number):
        return ("These are not of the same heat.",)
    found = []
    if ours.chair == theirs.chair:
        found.append("Both are of the same chair.")
    if ours.kind != theirs.kind:
        found.append(f"To one the wall {KIND_WORDS[ours.kind]}, to the other it {KIND_WORDS[theirs.kind]}.")
    if ours.commitment != theirs.commitment:
        found.append(f"One was shown the commitment {ours.commitment}, the other {theirs.commitment}.")
    if len(ours.attempts) != len(theirs.attempts):
        found.append(f"One saw {len(ours.attempts)} attempts to make the wall, the other {len(theirs.attempts)}.")
    for one, other in zip(ours.attempts, theirs.attempts, strict=False):
        dealt = ours.was_dealt and theirs.was_dealt
        if _shared(one, dealt) != _shared(other, dealt):
            found.append(f"One saw attempt {one.number} as {_short(one)}, the other as {_short(other)}.")
    return tuple(found)


def shared_digest(seen: WallSeen, told: bytes = b"") -> bytes:
    """Return the SHA-256 of what everybody at the table must have seen alike; told is the whole heat's file."""
    parts = [
        b"racktempo shared\0",
        seen.table.encode(),
        seen.number.to_bytes(8, "big"),
        seen.kind.encode(),
        raw(seen.commitment),
        *(part for attempt in seen.attempts for part in _shared(attempt, seen.was_dealt)),
        hashlib.sha256(told).digest() if told else b"",
    ]
    return hashlib.sha256(b"".join(len(part).to_bytes(4, "big") + part for part in parts)).digest()


def read_aloud(seen: WallSeen, told: bytes = b"") -> str:
    """Return the four words that everybody at the table must have alike."""
    number = int.from_bytes(shared_digest(seen, told), "big")
    words = []
    for _ in range(WORDS_READ):
        number, at = divmod(number, len(WORDS))
        words.append(WORDS[at])
    return " ".join(words)


def verdict(seen: WallSeen, faults: tuple[str, ...]) -> Verdict:
    """Return what a client says of a wall that was told; faults are of the whole heat and of what was seen of it."""
    if faults:
        more = f" ({len(faults) - 1} more)" if len(faults) > 1 else ""
        return Verdict(level="loud", text=f"THE WALL DOES NOT FIT. {faults[0]}{more}")
    match seen.kind:
        case "seeded":
            return Verdict(level="plain", text="This wall came from a seed; it is the one fixed beforehand.")
        case "laid":
            return Verdict(level="quiet", text="")
        case "common":
            return Verdict(level="plain", text="The host alone chose this wall; it is the one fixed beforehand.")
    took_part = seen.attempts[-1].chairs if seen.attempts else ()
    if seen.failures > MOST_FAILURES:
        return Verdict(
            level="loud", text="Not checkable: the host's program failed to make a wall more than once in this set."
        )
    if not set(took_part) - {seen.host}:
        who = "You" if seen.chair == seen.host else "The host"
        return Verdict(level="plain", text=f"{who} alone chose this wall; it is the one fixed beforehand.")
    if seen.chair not in took_part:
        makers = " and ".join(seen.name(chair) for chair in took_part)
        return Verdict(level="plain", text=f"Your value is not in this wall: {makers} made it. The rest fits.")
    if not seen.own_value():
        return Verdict(
            level="plain", text="Your value is not in this wall: it was made without this machine. The rest fits."
        )
    return Verdict(level="quiet", text="Wall checked: your value is in it, and all that you saw fits.")


def _shared(attempt: Attempt, dealt: bool) -> tuple[bytes, ...]:
    return (
        attempt.number.to_bytes(8, "big"),
        raw(attempt.commitment),
        bytes(attempt.chairs),
        *attempt.hashes,
        *(attempt.values if dealt or attempt.why else NONE),
        attempt.why.encode(),
        bytes(attempt.silent),
    )


def _short(attempt: Attempt) -> str:
    chairs = ", ".join(
        f"chair {chair + 1} {attempt.hashes[chair].hex()[:SHORT] or '-'}/{attempt.values[chair].hex()[:SHORT] or '-'}"
        for chair in attempt.chairs
    )
    return f"{attempt.commitment[:SHORT]} with {chairs or 'nobody'}"
