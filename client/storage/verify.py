"""Whether a saved heat was fair: its commitment, its wall, and every event against the rules.

Reads a file and judges it by the rules; never changes anything.
"""

from pathlib import Path

from client.storage.files import read_at_most
from shared.cards import Card
from shared.cards.play import card_of, complete
from shared.codec import BadFrame, NewerFile
from shared.rules.heat import HEAT, SavedHeat, faults
from shared.rules.seat_heat import SEAT_HEAT, SeatHeat
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


def verify(path: Path) -> tuple[str, ...]:
    """Return what does not fit in the heat of a file, one sentence each; nothing when all is well."""
    found = _read(path)
    if isinstance(found, str):
        return (found,)
    data, heat = found
    if isinstance(heat, SeatHeat):
        return (_ONE_SEAT.format(path),)
    readable = not heat.card or isinstance(card_of(heat.card), Card)
    bad_card = () if readable else ("The card that the heat was played by cannot be read.",)
    return bad_card + faults(data, complete)


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
