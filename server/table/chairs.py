"""The chairs of a table: who deals, how newcomers and bots are named, and which chair a token opens."""

import hmac
from collections.abc import Iterable

from server.records import Chair, HeatHead, TableRecord, each, hash_token
from server.table.bots import BIRDS
from shared.names import NAME_CELLS, clean_name, skeleton
from shared.rules.drills import Laid
from shared.rules.events import AnyEvent, EastWon, Offered, Passed, Planned, StepBegan, Voted
from shared.rules.players import Player
from shared.rules.seats import chair_of
from shared.rules.steps import STEP_NAMES, StepName
from shared.rules.wall import Stream
from shared.rules.wall_round import NONE, WallKind


def east_chair(record: TableRecord) -> int:
    """Return which chair deals the coming heat.

    The deal moves one chair to the right after every heat, on through all sets of the evening. A person alone at the
    table deals and does not deal in turn, as is common practice in training.
    """
    settings, turn = record.settings, record.number
    people = [chair for chair in range(4) if record.chairs[chair].sitter == "person"]
    is_lot = settings.first_east == "lot"
    first = Stream(record.id.encode(), "lot").below(4) if is_lot else int(settings.first_east) - 1
    if len(people) != 1:
        return (first + turn) % 4
    alone = people[0]
    second = alone if first != alone else (alone + 1) % 4
    return (first, second)[turn % 2]


def heat_head(record: TableRecord, played_at: str, wall: WallKind, laid: Laid | None = None) -> HeatHead:
    """Return the head of the coming heat, with what its wall was made from; a drill has settings of its own.

    Its settings have no seed: a heat that is shown must not reveal the deals that follow.
    """
    attempts = record.round.attempts if record.round else ()
    return HeatHead(
        number=record.number + 1,
        east=-laid.seat % 4 if laid else east_chair(record),
        settings=laid.settings if laid else record.settings.unseeded(),
        secret=record.secret,
        contributions=attempts[-1].values if attempts else NONE,
        names=each(lambda chair: record.chairs[chair].name),
        sitters=each(lambda chair: record.chairs[chair].sitter),
        played_at=played_at,
        wall=wall,
        attempts=attempts,
    )


def with_played(record: TableRecord, events: Iterable[AnyEvent], east: int, step: StepName | None) -> TableRecord:
    """Return the record with those who answered a step of the running heat: a seat belongs to whoever plays it. Where
    East won at once, all who sat there have played it."""
    for event in events:
        if isinstance(event, StepBegan):
            step = event.step
        if isinstance(event, EastWon):
            for chair in range(4):
                record = _with_player(record, chair, STEP_NAMES[0], record.chairs[chair].is_present)
        if isinstance(event, Passed | Voted | Offered | Planned) and step is not None:
            chair = chair_of(event.seat, east)
            record = _with_player(record, chair, step, record.chairs[chair].is_present and event.by != "bot")
    return record


def _with_player(record: TableRecord, chair: int, since: StepName, by_person: bool) -> TableRecord:
    seated = record.chairs[chair]
    person = record.number_of(seated.person) if by_person else 0
    name = "" if seated.sitter == "person" and not person else seated.name
    *before, last = record.sat
    return record.with_(sat=(*before, last.plus(chair, Player(name=name, person=person, since=since))))


def bot_chair(record: TableRecord, chair: int) -> Chair:
    """Return a chair with a bot on it, named after a bird that nobody at the table is named after. An evening's tables
    have their number behind a dot of their id, and their birds carry it: no two of a room have one name."""
    taken = {skeleton(other.name) for other in record.chairs}
    number = record.id.partition(".")[2]
    birds = [f"{bird} {number}".strip() for bird in BIRDS[chair:] + BIRDS[:chair]]
    return Chair(sitter="bot", name=next(bird for bird in birds if skeleton(bird) not in taken))


def person_chair(record: TableRecord, chair: int, text: str, token_hash: bytes, since: int) -> Chair:
    """Return a chair with a newcomer on it, with a clean name that differs from the names at the table."""
    name = own_name(record, chair, clean_name(text, "Guest"))
    return Chair(sitter="person", name=name, token_hash=token_hash, since=since)


def own_name(record: TableRecord, chair: int, name: str) -> str:
    """Return a clean name that cannot be taken for one on the other chairs: where need be with the chair's number."""
    taken = {skeleton(record.chairs[other].name) for other in range(4) if other != chair}
    # Of these at least four differ, and three names at most are taken.
    ends = ("", *(f" {chair + 1}{letter}" for letter in ("", "b", "c", "d")))
    names = (f"{clean_name(name, cells=NAME_CELLS - len(end))}{end}" for end in ends)
    return next(other for other in names if skeleton(other) not in taken)


def free_chair(record: TableRecord) -> int | None:
    """Return the chair for a newcomer: the first empty one, else the first that a bot holds, else the first in which
    a bot plays a heat to its end for somebody who has left, or None."""
    ranks = [
        ("nobody", "bot").index(seated.sitter) if seated.sitter != "person" else 2 if seated.left else None
        for seated in record.chairs
    ]
    free = [(rank, chair) for chair, rank in enumerate(ranks) if rank is not None]
    return min(free)[1] if free else None


def named_chair(record: TableRecord, name: str) -> int | None:
    """Return the chair of a person of this name, or None."""
    wanted = skeleton(clean_name(name, "Guest"))
    people = ((at, one) for at, one in enumerate(record.chairs) if one.sitter == "person" and not one.left)
    return next((chair for chair, seated in people if skeleton(seated.name) == wanted), None)


def away_chair(record: TableRecord, name: str, connected: Iterable[int]) -> int | None:
    """Return the chair of a person of this name whose line is down, or None."""
    chair = named_chair(record, name)
    return None if chair is None or chair in connected else chair


def chair_of_token(record: TableRecord, token: bytes) -> int | None:
    """Return the chair that a token opens, or None."""
    return chair_of_hash(record, hash_token(token))


def chair_of_hash(record: TableRecord, wanted: bytes) -> int | None:
    """Return the chair whose token has this hash, compared in constant time, or None."""
    for chair in range(4):
        if hmac.compare_digest(record.chairs[chair].token_hash, wanted):
            return chair
    return None
