"""Whether a saved heat was fair: its commitment, its wall, and every event against the rules.

Reads a file and judges it by the rules; never changes anything.
"""

from pathlib import Path

from client.storage.files import read_at_most
from shared.cards import Card
from shared.cards.play import card_of, complete
from shared.codec import BadFrame
from shared.rules.heat import HEAT, SavedHeat, faults
from shared.rules.seat_heat import SEAT_HEAT, SeatHeat
from shared.troubles import describe_error


def read_heat(path: Path) -> SavedHeat | str:
    """Return the whole heat that a file holds, or one sentence that says why there is none."""
    heat = read_any_heat(path)
    if isinstance(heat, SeatHeat):
        return f"{path} holds a heat as one seat lived it; only a whole heat can be verified."
    return heat


def read_any_heat(path: Path) -> SavedHeat | SeatHeat | str:
    """Return the heat that a file holds, whole or as one seat lived it, or one sentence that says why there is none."""
    try:
        data = read_at_most(path, HEAT.limit)
    except OSError as error:
        return f"{path} cannot be read: {describe_error(error)}."
    try:
        return HEAT.unpack(data)
    except BadFrame:
        try:
            return SEAT_HEAT.unpack(data)
        except BadFrame:
            return f"{path} holds no saved heat of racktempo, or a damaged one."


def verify(path: Path) -> tuple[str, ...]:
    """Return what does not fit in the heat of a file, one sentence each; nothing when all is well."""
    heat = read_heat(path)
    if isinstance(heat, str):
        return (heat,)
    readable = not heat.card or isinstance(card_of(heat.card), Card)
    bad_card = () if readable else ("The card that the heat was played by cannot be read.",)
    return bad_card + faults(heat, complete)
