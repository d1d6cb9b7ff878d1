"""The process that reviews an evening's heats: a seat's heat comes in, what its review comes to goes out.

Started by review_process with pipes on both sides. It is sent what one seat lived and nothing else of the heat, gives
way to everything else on the machine, and ends when its parent does. Never prints: standard output is the pipe.
"""

import contextlib
import os
import signal
import sys

from shared.codec import Codec
from shared.measures.standings import Reviewed
from shared.records import Record
from shared.rules.seat_heat import SEAT_HEAT

LENGTH_BYTES = 8


class Answer(Record):
    """What a review comes to; nothing where there was nothing to judge."""

    reviewed: Reviewed | None


ANSWER: Codec[Answer] = Codec(Answer, 1024)


def framed(data: bytes) -> bytes:
    """Return bytes as they go through a pipe, their length first."""
    return len(data).to_bytes(LENGTH_BYTES, "big") + data


def main() -> None:
    """Work until no heat comes any more."""
    # Ctrl-C reaches every process of a terminal; this one is ended by the host.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with contextlib.suppress(OSError, AttributeError):
        os.nice(19)
    from shared.coach.heats import NoReview, reviewed

    heats, answers, sys.stdout = sys.stdin.buffer, sys.stdout.buffer, sys.stderr
    with contextlib.suppress(BrokenPipeError):
        while length := heats.read(LENGTH_BYTES):
            heat = SEAT_HEAT.unpack(heats.read(int.from_bytes(length, "big")))
            try:
                answer = Answer(reviewed=reviewed(heat))
            except NoReview:
                answer = Answer(reviewed=None)
            answers.write(framed(ANSWER.pack(answer)))
            answers.flush()


if __name__ == "__main__":
    main()
