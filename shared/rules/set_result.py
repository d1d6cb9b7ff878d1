"""What a player hands in of a set to take home, and whether it replays: the set's own deals, by its own settings.

A result holds the heats whole, since the rules check only whole heats; of a card its title and digest at most. What it
says of tries and interruptions is what one installation knows: a fresh one knows nothing, and whoever plays other
legal passes and seals them anew leaves no trace. Pure.
"""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Field

from shared import versions
from shared.codec import BadFrame, FileCodec
from shared.names import NAME_CELLS, clean_name
from shared.records import Record
from shared.rules.events import ClocksStopped, DeadlinesMoved
from shared.rules.heat import HEAT, Complete, SavedHeat, faults, final_state, sealed
from shared.rules.seat_heat import SeatHeat, seat_heat
from shared.rules.seats import Seat, seat_of
from shared.rules.set_line import TakeHome, read_line
from shared.rules.wall import seeded_secret
from shared.times import write_time

CHAIR = 0
"""Where the player of such a set sits."""


class SetResult(Record):
    """A result. line says of which set; player is drawn once for each player and set, so that a copy counts once.

    number counts the tries that were begun on one installation, this one included; tries is how many there were when
    the result was written. interrupted says how often the set was left and gone on with; seen are the heats whose deal
    had been played on this installation before. heats are whole heats as files, without names and without the card's
    text. by_line says that it came as a line, which knows tenths of seconds and no dates. digest is that of all else: a
    byte that went wrong on the way is noticed; version 1 had none.
    """

    format: Literal["racktempo result"] = "racktempo result"
    version: int = Field(versions.RESULT_FILE, ge=1, le=versions.RESULT_FILE)
    line: Annotated[str, Field(max_length=200)]
    player: str = Field(pattern="^[0-9a-f]{16}$")
    name: Annotated[str, Field(max_length=200)]
    number: int = Field(1, ge=1, le=10_000)
    tries: int = Field(1, ge=1, le=10_000)
    interrupted: Annotated[int, Field(ge=0, le=10_000)] = 0
    seen: Annotated[tuple[int, ...], Field(max_length=12)] = ()
    heats: tuple[bytes, ...] = Field(max_length=12)
    by_line: bool = False
    digest: str = Field("", pattern="^([0-9a-f]{64})?$")

    @property
    def called(self) -> str:
        """The player's name as it may be shown."""
        return clean_name(self.name, "Somebody", NAME_CELLS)


RESULT: FileCodec[SetResult] = FileCodec(SetResult, 4_000_000, "racktempo result", versions.RESULT_FILE)


def packed_result(result: SetResult) -> bytes:
    """Return a result as a file, with its digest filled in."""
    return RESULT.pack(result.model_copy(update={"digest": _digest(result)}))


def _digest(result: SetResult) -> str:
    told = RESULT.pack(result.model_copy(update={"digest": ""}))
    return hashlib.sha256(b"racktempo result\0" + told).hexdigest()


def bare(heat: SavedHeat) -> bytes:
    """Return a heat as it is handed in: without names, without its table, without the card's text."""
    none = ("", "", "", "")
    told = heat.model_copy(update={"table": "", "table_id": "", "names": none, "players": ((), (), (), ()), "card": ""})
    return HEAT.pack(sealed(told))


@dataclass(frozen=True, slots=True)
class Handed:
    """A result that was read and replays: its set, its heats by number, the player's own part and the bytes of each."""

    result: SetResult
    taken: TakeHome
    heats: tuple[SavedHeat, ...]
    own: tuple[SeatHeat, ...]
    packed: tuple[bytes, ...]

    @property
    def notes(self) -> tuple[str, ...]:
        """What the player's installation knows that others would like to know."""
        one, found = self.result, list[str]()
        if one.number > 1:
            found.append(f"try {one.number}")
        elif one.tries > 1:
            found.append("played again later")
        if one.seen:
            found.append(f"had played {_named(one.seen)} before")
        if one.interrupted:
            found.append(f"left and gone on with {_times(one.interrupted)}")
        events = [event for heat in self.heats for event in heat.events]
        if stops := sum(isinstance(event, ClocksStopped) for event in events):
            found.append(f"clock stopped {_times(stops)}")
        added_ms = sum(event.by_ms for event in events if isinstance(event, DeadlinesMoved) and event.why == "host")
        if added_ms:
            found.append(f"{write_time(added_ms)} of time added")
        if self.taken.is_older:
            found.append("bots of an older version, not asked again")
        if len(self.heats) < self.taken.settings.heats:
            found.append(f"{len(self.heats)} of {self.taken.settings.heats} heats")
        if one.by_line:
            found.append("came as a line: seconds rounded to tenths")
        return tuple(found)


def read_result(data: bytes, complete: Complete) -> Handed | str:
    """Return what somebody has handed in, or one sentence why it does not count.

    complete(card, rack) says whether a rack is a finished hand; it is asked with an empty text, and knows the set's
    card if that is shared.
    """
    try:
        result = RESULT.unpack(data)
    except BadFrame as error:
        return str(error) if RESULT.format in str(error) else "This is not the result of a set, or it is damaged."
    if result.version > 1 and result.digest != _digest(result):
        return "It is damaged, or somebody changed it. Ask for it again."
    taken = read_line(result.line)
    if isinstance(taken, str):
        return taken
    if not result.heats:
        return "It holds no heat."
    heats: dict[int, tuple[SavedHeat, bytes]] = {}
    for packed in result.heats:
        try:
            heat = HEAT.unpack(packed)
        except BadFrame:
            return "One of its heats is damaged."
        if heat.number in heats:
            return f"It holds heat {heat.number} twice."
        if fault := heat_fault(taken, heat, packed, complete):
            return f"Heat {heat.number} does not count: {fault}"
        heats[heat.number] = heat, packed
    ordered, each = zip(*(heats[number] for number in sorted(heats)), strict=True)
    return Handed(result, taken, ordered, tuple(map(own_heat, ordered)), each)


def heat_fault(taken: TakeHome, heat: SavedHeat, packed: bytes, complete: Complete) -> str:
    """Return what is wrong with a heat of a set, in a sentence; nothing if it replays."""
    if heat.number > taken.settings.heats or heat.secret != seeded_secret(taken.seed, heat.number):
        return "it is not of a deal of this set."
    if heat.wall != "seeded" or any(heat.contributions):
        return "its wall was not made from the set's seed."
    if heat.settings != taken.settings.unseeded():
        return "it was played by other settings."
    if not heat.card_digest.startswith(taken.card) or heat.card:
        return "it was played by another card."
    if heat.sitters != ("person", "bot", "bot", "bot") or heat.east != east_of(taken, heat.number):
        return "its player sat in another seat."
    found = faults(packed, complete)
    return found[0][:1].lower() + found[0][1:] if found else ""


def east_of(taken: TakeHome, number: int) -> int:
    """Return the chair that deals a heat of a set: a person alone deals and does not deal in turn."""
    first = int(taken.settings.first_east) - 1
    second = CHAIR if first != CHAIR else CHAIR + 1
    return (first, second)[(number - 1) % 2]


def own_heat(heat: SavedHeat) -> SeatHeat:
    """Return the player's own part of a heat that replays."""
    return seat_heat(heat, final_state(heat), Seat(seat_of(CHAIR, heat.east)))


def counted(handed: Iterable[Handed]) -> tuple[tuple[Handed, ...], tuple[Handed, ...]]:
    """Return the results that count and those that do not: of each player the first try counts, of copies of it
    the one with the most heats, and rather a file than a line."""
    of_player: dict[str, list[Handed]] = {}
    for one in handed:
        of_player.setdefault(one.result.player, []).append(one)
    ordered = [sorted(each, key=_first) for each in of_player.values()]
    return tuple(each[0] for each in ordered), tuple(one for each in ordered for one in each[1:])


def _first(one: Handed) -> tuple[int, int, bool]:
    return one.result.number, -len(one.heats), one.result.by_line


def holds(result: SetResult, shared: bool, as_line: bool = False) -> tuple[str, ...]:
    """Return what a result holds, in sentences to be read before it is written or copied."""
    heats = [HEAT.unpack(packed) for packed in result.heats]
    numbers = _named(sorted(heat.number for heat in heats))
    numbers = f"{numbers[:1].upper()}{numbers[1:]} of this set and nothing of any other"
    days = sorted({heat.played_at[:10] for heat in heats})
    tries = f"try {result.number} of {result.tries}"
    left = f", left and gone on with {_times(result.interrupted)}" if result.interrupted else ""
    if as_line:
        return (
            f"{numbers}: what you answered at each step, and your seconds, rounded to tenths.",
            f'The name "{result.called}" and a random number that stands for you in this set.',
            f"It does not say when you played, only this: {tries}{left}.",
        )
    card = "the card's digest" if shared else "the card's title and digest, and none of its hands"
    return (
        f"{numbers}: all tiles, what you passed, and your seconds at each step.",
        f'The name "{result.called}", a random number that stands for you in this set, {card}.',
        f"When you played: {' and '.join(days)}; {tries}{left}.",
    )


def _named(numbers: Sequence[int]) -> str:
    return f"heat{'' if len(numbers) == 1 else 's'} {', '.join(map(str, numbers))}"


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"
