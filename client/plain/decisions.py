"""Decisions in plain lines, one after the other: the same rounds as on the screen, for a screen reader or a pipe.

The clock of a decision runs from its last line to the answer; an answer that comes later is told as out of time.
"""

import asyncio
import time
from collections.abc import Awaitable, Callable

from client.coach.drilling import Drilling
from client.coach.process import CoachService
from client.coach.queue import Coaching
from client.console import ask, complain, say
from client.models.decisions import Decided, answer_words, joker_stays, known, question
from client.plain.sentences import rack_line
from client.storage.journal import Journal, disk_journal
from client.storage.preferences import load_look
from shared.cards.said import listed_tiles
from shared.rules.decisions import Answer, Decision
from shared.rules.tiles import JOKER, Rack, by_suit, name
from shared.rules.typed_tiles import read_tiles
from shared.times import write_seconds

HELP = (
    "Write the tiles that go, or their places: 1b 4c N, or a d f. Small letters are places.",
    "blind 2 and your own tile: two of the tiles that come go on unseen.",
    "go on, or stop. 0 to 3: how many to offer. A section or a hand: its number or its name.",
    "rack: your rack again. time: the time left. quit: leave. The clock goes on meanwhile.",
)

_CHOICES = {"family": "Sections", "hand": "Hands"}


class PlainDecision:
    """One decision in lines. hear returns an answer, or what is to be said instead."""

    def __init__(self, decision: Decision) -> None:
        self.decision = decision
        self.rack: Rack = by_suit(decision.rack)

    def asked(self) -> list[str]:
        """Return what is asked, what is known, and the rack."""
        decision = self.decision
        choices = [f"{number}: {choice}" for number, choice in enumerate(decision.choices, 1)]
        most = decision.most_blind
        blind = [f"Up to {most} may go unseen." if most > 1 else "One may go unseen."] if most else []
        asked = [
            question(decision),
            known(decision, listed_tiles),
            *blind,
            *([f"{_CHOICES[decision.ask]}: {', '.join(choices)}."] if choices else []),
        ]
        return [" ".join(asked), rack_line(self.rack), f"{write_seconds(decision.length_ms)}."]

    def hear(self, line: str) -> Answer | str:
        """Read a line."""
        decision, words = self.decision, " ".join(line.lower().split())
        match decision.ask:
            case "vote":
                number = {"go on": 1, "1": 1, "stop": 0, "0": 0}.get(words)
                return "Write go on, or stop." if number is None else Answer(number=number)
            case "offer":
                return Answer(number=int(words)) if words in ("0", "1", "2", "3") else "Write 0, 1, 2 or 3."
            case "family" | "hand":
                names = [choice.lower() for choice in decision.choices]
                if words in names:
                    return Answer(number=names.index(words))
                if words.isascii() and words.isdigit() and len(words) == 1 and 1 <= int(words) <= len(names):
                    return Answer(number=int(words) - 1)
                what = "section" if decision.ask == "family" else "hand"
                return f"Write a {what}'s name, or its number, 1 to {len(names)}."
        return self._tiles(line)

    def _tiles(self, line: str) -> Answer | str:
        word, _, rest = line.strip().partition(" ")
        blind = 0
        if word.lower() == "blind" and self.decision.most_blind:
            number, _, line = rest.strip().partition(" ")
            if number not in [str(count) for count in range(self.decision.most_blind + 1)]:
                return "Write how many go unseen, and then your own tiles: blind 2 a."
            blind = int(number)
        typed = read_tiles(line, places=self.rack)
        if typed.faults:
            return str(typed.faults[0])
        wanted = max(self.decision.wants) - blind
        missing = [tile for tile in typed.tiles if typed.tiles.count(tile) > self.rack.count(tile)]
        if JOKER in typed.tiles:
            return joker_stays(self.decision)
        if missing:
            return f"You do not hold that much of {name(missing[0])}."
        if len(typed.tiles) != wanted:
            return f"These are {len(typed.tiles)}; {wanted} go."
        return Answer(typed.tiles, blind)


def verdict_lines(done: Decided, numbers: bool) -> list[str]:
    """Return what the coach says of an answer."""
    judgement = done.judgement
    if judgement is None:
        return [done.trouble]
    best = [f"Best: {answer_words(done.decision, judgement.best)}."] if done.decision.ask in ("vote", "offer") else []
    said = judgement.numbers if numbers else judgement.plain
    took = f"{judgement.verdict} {write_seconds(done.spent_ms)}."
    return [line for line in (took, " ".join([*best, *said]), done.trouble) if line]


async def play(drilling: Drilling, numbers: bool, now_ms: Callable[[], int]) -> int:
    """Play a round on standard input and output."""
    played: list[Decided] = []
    say(f"{drilling.title}. {drilling.goal}".strip())
    for number in range(drilling.count):
        try:
            plain = PlainDecision(await drilling.supply(number))
        except ValueError as error:
            complain(error)
            return 1
        say("", f"{number + 1} of {drilling.count}.", *plain.asked())
        began_ms, length_ms = now_ms(), plain.decision.length_ms
        answer: Answer | None = None
        while answer is None:
            try:
                line = (await asyncio.to_thread(ask, "")).strip()
            except EOFError:
                return 0
            spent_ms = now_ms() - began_ms
            if line.lower() in ("quit", "q"):
                return 0
            if spent_ms >= length_ms:
                break
            if line.lower() in ("help", "?", "rack", "time"):
                left = f"{write_seconds(length_ms - spent_ms)} left."
                say(*{"rack": (rack_line(plain.rack),), "time": (left,)}.get(line.lower(), HELP))
                continue
            heard = plain.hear(line)
            if isinstance(heard, str):
                say(heard)
            else:
                answer = heard
        done = Decided(plain.decision, answer, min(spent_ms, length_ms))
        await drilling.judge(done)
        played.append(done)
        say(*verdict_lines(done, numbers))
    say("", *(await drilling.finish(played)))
    return 0


def decide_plainly(made: Callable[[Coaching, Journal], Awaitable[Drilling | str]]) -> int:
    """Make a round of decisions and play it; return the exit code."""

    async def run() -> int:
        journal = disk_journal()
        coaching = Coaching(CoachService(), journal, lambda: None)
        try:
            found = await made(coaching, journal)
            if isinstance(found, str):
                complain(found)
                return 1
            return await play(found, load_look().numbers, lambda: time.monotonic_ns() // 1_000_000)
        except ValueError as error:
            complain(error)
            return 1
        finally:
            await coaching.close()

    return asyncio.run(run())
