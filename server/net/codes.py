"""The codes that let people in, how one is compared, and whose turn it is to try one.

There are 1,024^3 x 100 codes (36.6 bits), see shared.codes. That is enough only because guesses are few: Guesses
lets each address try one code at a time, ever more slowly, and each table that is guessed at makes every try wait.
tests/README.md shows the sum. Decides who may try and when; what a code opens is for others to say.
"""

import hmac
from collections import OrderedDict
from dataclasses import dataclass, field

from server.net.addresses import network_of
from shared.codes import WORDS, WORDS_EACH, bare, one_reading
from shared.rules.wall import Stream


def make_code(random: bytes) -> str:
    """Return a code from at least 16 random bytes, such as "maple-otter-lemon-07"; each is equally likely."""
    stream = Stream(random, "code")
    words = [WORDS[stream.below(len(WORDS))] for _ in range(WORDS_EACH)]
    return f"{'-'.join(words)}-{stream.below(100):02}"


def same_code(typed: str, code: str) -> bool:
    """Say whether a typed code is meant to be this one; what can be read in two ways counts as neither of them.

    The codes of earlier versions, two words and a number, are compared by their letters and digits. An empty code is
    nobody's.
    """
    return bool(code) and hmac.compare_digest(one_reading(typed), bare(code))


@dataclass(slots=True)
class Try:
    """Somebody who waits to try a code of what: a table's, an evening's, its desk's or its teacher's."""

    group: str
    what: str
    since_ms: int


@dataclass(slots=True)
class _Wrong:
    """Wrong codes, the last one at a moment."""

    count: int = 0
    last_ms: int = 0


@dataclass(slots=True)
class _Address(_Wrong):
    waiting: list[Try] = field(default_factory=list)


class Guesses:
    """Wrong codes, by address and by what they were to open, and those who wait to try one.

    After a wrong code an address waits, ever longer, up to LONGEST_MS; its lines take turns meanwhile. While a table
    is guessed at from anywhere (ALARM_AFTER wrong codes), whoever comes to it with a code waits LONGEST_MS once. Ten
    quiet minutes forget either.
    """

    FIRST_MS, LONGEST_MS, FORGET_MS, REMEMBERED = 250, 5_000, 600_000, 4_096
    ALARM_AFTER = 20
    MOST_WAITING = 24
    """How many lines of an address that guesses may wait for their turn."""

    def __init__(self) -> None:
        self.total = 0
        self._addresses: OrderedDict[str, _Address] = OrderedDict()
        self._targets: OrderedDict[str, _Wrong] = OrderedDict()

    def enter(self, address: str, what: str, now_ms: int) -> Try | None:
        """Take a try in, which must leave later; None if too many of its address wait already."""
        group = network_of(address)
        known = self._addresses.setdefault(group, _Address())
        self._addresses.move_to_end(group)
        if self._count(known, now_ms) and len(known.waiting) >= self.MOST_WAITING:
            return None
        one = Try(group, what, now_ms)
        known.waiting.append(one)
        self._forget_oldest()
        return one

    def wait_ms(self, one: Try, now_ms: int) -> int:
        """Return how long a try has to wait from now on; ask again when that is over."""
        known = self._addresses[one.group]
        at_ms = one.since_ms
        target = self._targets.get(one.what)
        if target and self._count(target, one.since_ms) >= self.ALARM_AFTER:
            at_ms += self.LONGEST_MS
        if count := self._count(known, now_ms):
            gap_ms = min(self.FIRST_MS << min(count - 1, 16), self.LONGEST_MS)
            ahead = next(place for place, other in enumerate(known.waiting) if other is one)
            at_ms = max(at_ms, known.last_ms + gap_ms + ahead * self.LONGEST_MS)
        return max(0, at_ms - now_ms)

    def wrong(self, one: Try, now_ms: int) -> None:
        """Count a wrong code."""
        target = self._targets.setdefault(one.what, _Wrong())
        self._targets.move_to_end(one.what)
        for known in (self._addresses[one.group], target):
            known.count, known.last_ms = self._count(known, now_ms) + 1, now_ms
        self.total += 1
        if len(self._targets) > self.REMEMBERED:
            self._targets.popitem(last=False)

    def leave(self, one: Try) -> None:
        """Let a try go, whatever became of it."""
        known = self._addresses[one.group]
        known.waiting = [other for other in known.waiting if other is not one]
        if not known.waiting and not known.count:
            del self._addresses[one.group]

    def _count(self, known: _Wrong, now_ms: int) -> int:
        return known.count if now_ms - known.last_ms <= self.FORGET_MS else 0

    def _forget_oldest(self) -> None:
        while len(self._addresses) > self.REMEMBERED:
            oldest = next((group for group, known in self._addresses.items() if not known.waiting), None)
            if oldest is None:
                return
            del self._addresses[oldest]
