"""Whether a saved heat was fair: its commitment, its wall, every event against the rules, and what people saw.

Reads files and judges them by the rules; never changes anything.
"""

from dataclasses import dataclass
from pathlib import Path

from client.storage.files import read_at_most
from client.storage.heat_files import whole_file
from shared.cards import Card
from shared.cards.play import card_of, complete
from shared.codec import BadFrame, NewerFile
from shared.rules.heat import HEAT, SavedHeat, faults
from shared.rules.seat_heat import SEAT_HEAT, SeatHeat
from shared.rules.wall_round import WallKind
from shared.rules.wall_seen import WallSeen, all_faults, differences, evidence_faults, read_aloud, verdict
from shared.troubles import describe_error

_ONE_SEAT = "{} holds a heat as one seat saw it; only a whole heat can be verified."


def read_heat(path: Path) -> SavedHeat | str:
    """Return the whole heat that a file holds, or one sentence that says why there is none."""
    found = _read(path)
    if isinstance(found, str):
        return found
    if isinstance(heat := found[1], SeatHeat):
        return _ONE_SEAT.format(path)
    return heat


def read_any_heat(path: Path) -> SavedHeat | SeatHeat | str:
    """Return the heat that a file holds, whole or as one seat lived it, or one sentence that says why there is none."""
    found = _read(path)
    return found if isinstance(found, str) else found[1]


@dataclass(frozen=True, slots=True)
class Verified:
    """What a check came to: what does not fit, one sentence each, and what there is to say where all does."""

    faults: tuple[str, ...]
    told: tuple[str, ...] = ()


def verify(path: Path, other: Path | None = None) -> tuple[str, ...]:
    """Return what does not fit in the heat of a file, one sentence each; nothing when all is well."""
    return look_into(path, other).faults


def look_into(path: Path, other: Path | None = None) -> Verified:
    """Check a whole heat, one seat's heat against the whole one, or two seats' heats against each other.

    Where only a seat's heat is given, the whole one is looked for beside it.
    """
    wholes, seats = list[bytes](), list[tuple[Path, SeatHeat]]()
    for at in (path, other) if other else (path,):
        found = _read(at)
        if isinstance(found, str):
            return Verified((found,))
        if isinstance(found[1], SeatHeat):
            seats.append((at, found[1]))
        else:
            wholes.append(found[0])
    if len(wholes) == 2:
        return Verified(("Two whole heats cannot be compared; give one, and the heat of one seat.",))
    seen = [heat.seen for _, heat in seats if heat.seen]
    if len(seen) < len(seats):
        return Verified((_ONE_SEAT.format(next(at for at, heat in seats if not heat.seen)),))
    if len(seen) == 2:
        return Verified(differences(*seen), ("Both saw the same wall made.",))
    if not wholes and (beside := whole_file(seats[0][1], path.parent)):
        wholes = [beside]
    return _against(wholes[0], seen) if wholes else Verified(evidence_faults(seen[0]), (_NO_WHOLE,))


def _against(data: bytes, seen: list[WallSeen]) -> Verified:
    """Check a whole heat, where somebody's evidence is at hand also against that."""
    heat = HEAT.unpack(data)
    readable = not heat.card or isinstance(card_of(heat.card), Card)
    bad_card = () if readable else ("The card that the heat was played by cannot be read.",)
    if not seen:
        return Verified((*bad_card, *faults(data, complete)), (_HOW[heat.wall],))
    wrong = (*bad_card, *all_faults(seen[0], data, complete))
    words = f"Words of this heat, the same for all: {read_aloud(seen[0], data)}."
    return Verified(wrong, (verdict(seen[0], ()).text, words))


_NO_WHOLE = "What was seen of the wall fits together; the whole heat is not here, so that nothing more can be checked."
_HOW: dict[WallKind, str] = {
    "": "It is of a version in which a host could choose among walls after it had everybody's part.",
    "round": "The wall was made in a round; only the file of a seat shows whether people saw the same.",
    "seeded": "The wall came from a seed: who knew the seed knew the wall.",
    "laid": "The tiles were laid for practice.",
    "common": "The host alone chose the wall, the same for all tables.",
}


def _read(path: Path) -> tuple[bytes, SavedHeat | SeatHeat] | str:
    """Return a file's bytes and the heat in them."""
    try:
        data = read_at_most(path, HEAT.limit)
    except OSError as error:
        return f"{path} cannot be read: {describe_error(error)}."
    for codec in (HEAT, SEAT_HEAT):
        try:
            return data, codec.unpack(data)
        except NewerFile as newer:
            return f"{path} cannot be read: {newer}"
        except BadFrame:
            continue
    return f"{path} is not a saved heat of racktempo, or is damaged."
