"""The process that reviews an evening's heats: a seat's heat comes in, what its review comes to goes out.

Started by review_process. It is sent what one seat lived, the card and nothing else of the heat, gives way to
everything else on the machine, and ends when its parent does.
"""

import contextlib
import os
import signal
from collections.abc import Iterator

from shared.codec import Codec
from shared.measures.standings import Reviewed
from shared.records import Record
from shared.rules.seat_heat import SeatHeat
from shared.worker import work


class Asked(Record):
    """What one seat lived, and the text of the card if the heat does not hold it."""

    heat: SeatHeat
    card: str


class Answer(Record):
    """What a review comes to; nothing where there was nothing to judge."""

    reviewed: Reviewed | None


ANSWER: Codec[Answer] = Codec(Answer, 1024)
ASKED: Codec[Asked] = Codec(Asked, 2_000_000)


def main() -> None:
    """Work until no heat comes any more."""
    # Ctrl-C reaches every process of a terminal; this one is ended by the host.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with contextlib.suppress(OSError, AttributeError):
        os.nice(19)
    work(_review)


def _review(packed: bytes) -> Iterator[bytes]:
    from shared.coach.heats import NoReview, reviewed

    asked = ASKED.unpack(packed)
    try:
        answer = Answer(reviewed=reviewed(asked.heat, card=asked.card))
    except NoReview:
        answer = Answer(reviewed=None)
    yield ANSWER.pack(answer)


if __name__ == "__main__":
    main()
