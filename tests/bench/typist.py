"""A typist writes the sixty hands of invented.toml through the card writer's screen, in a real terminal.

    python -m tests.bench.typist [--seed 1]

It needs tmux. For each hand the typist types a random example, chooses with the arrows, turns groups where no proposal
is right, and types another example where turning does not lead there either. Every key goes through the terminal; at
the end the file that the writer has saved is read and compared hand by hand. Printed are the keys of each hand, with
the one that goes on to the next, and the minutes at 25 words (125 keys) a minute, headings included.
"""

import argparse
import heapq
import os
import random
import statistics
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from itertools import count
from pathlib import Path

from client.models.written_card import KEY_OF_TURN, at_first_turn
from shared.cards import Card, read_card
from shared.cards.card import Hand
from shared.cards.draft import Draft
from shared.cards.expand import Counts, counts_of, expand_hand, expand_pattern, instances, is_possible, pattern_of
from shared.cards.faces import Groups
from shared.cards.picture import draw
from shared.cards.writer import Writer
from tests.bench.guessing import INVENTED, load

KEYS_A_MINUTE = 125
MOST_KEYS, MOST_KEYS_A_HAND, MOST_MINUTES = 9, 30, 20
_TMUX_NAMES = {
    "enter": "Enter",
    "up": "Up",
    "down": "Down",
    "right": "Right",
    "left": "Left",
    "backspace": "BSpace",
    "escape": "Escape",
}


@dataclass
class Terminal:
    """A tmux server of our own with one window of 80x24."""

    tmux: list[str]

    def press(self, keys: list[str]) -> None:
        """Send keys: single signs as text, others by their names."""
        for key in keys:
            named = _TMUX_NAMES.get(key)
            words = ["send-keys", "-t", "pier", named] if named else ["send-keys", "-t", "pier", "-l", key]
            subprocess.run([*self.tmux, *words], check=True)

    def shown(self) -> str:
        """Return what is on the screen."""
        captured = subprocess.run([*self.tmux, "capture-pane", "-p", "-t", "pier"], check=True, capture_output=True)
        return captured.stdout.decode()

    def until(self, *words: str) -> None:
        """Wait until words are on the screen, all at once."""
        ends_at = time.monotonic() + 60
        while not all(word in (shown := self.shown()) for word in words):
            if time.monotonic() > ends_at:
                raise SystemExit(f"{words} never came up:\n{shown}")
            time.sleep(0.05)


@contextmanager
def terminal(folder: Path, name: str) -> Iterator[Terminal]:
    """Run the card writer in a terminal of its own, with all its files below a folder."""
    tmux = ["tmux", "-f", "/dev/null", "-L", f"racktempo-{uuid.uuid4().hex}"]
    own = {one: str(folder) for one in ("HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME")}
    program = "import sys; from client.cli import main; sys.exit(main(sys.argv[1:]))"
    command = [sys.executable, "-c", program, "card", "write", name]
    size = ["-x", "80", "-y", "24"]
    subprocess.run(
        [*tmux, "new-session", "-d", "-s", "pier", *size, *command],
        check=True,
        env={**os.environ, **own, "TERM": "screen-256color"},
    )
    try:
        subprocess.run([*tmux, "set-option", "-s", "escape-time", "0"], check=True)
        yield Terminal(tmux)
    finally:
        subprocess.run([*tmux, "kill-server"], check=False)


def keys_of(hand: Hand, card: Card, dice: random.Random) -> list[str]:
    """Return the keys that write a hand, from the open empty line to the finished hand."""
    pattern, keys = pattern_of(hand), list[str]()
    for number, row in enumerate(pattern.rows):
        wanted = frozenset(expand_pattern(replace(pattern, rows=(row,)), card.year))
        keys += (["o"] if number else []) + _row_keys(row, hand, card, wanted, dice)
    keys += ["j"] if not hand.jokers else []
    if hand.values:
        back = len(hand.values) - 1
        for number in range(len(hand.values)):
            place = len(hand.values) - 1 - number
            keys += [*str(hand.values[place]), "enter"] + (["up"] if number < back else [])
        keys += ["down"] * back
    elif hand.value != 25:
        keys += [*str(hand.value), "enter"]
    keys += ["c"] if hand.concealed else []
    return [*keys, "n", *hand.note, "enter"] if hand.note else keys


def _row_keys(row: Groups, hand: Hand, card: Card, wanted: frozenset[Counts], dice: random.Random) -> list[str]:
    """Return the keys for one way to play a hand; examples that lead nowhere are typed and erased again."""
    pattern, keys = pattern_of(hand), list[str]()
    sizes = tuple(group.count for group in row)
    every = [
        tiles
        for tiles in instances(row, pattern.n, card.year, pattern.m)
        if is_possible(counts_of(tiles, sizes, pattern.jokers))
    ]
    while every:
        tiles = every.pop(dice.randrange(len(every)))
        line = draw(row, tiles, card.year).text(between=" ")
        found = _way(Writer(Draft(year=card.year)).type(line), wanted, pattern.jokers)
        if found is not None:
            return [*keys, *line, *found]
        keys += [*line, *["backspace"] * len(line)]
    raise SystemExit(f"No example leads to {hand.groups}.")


def _way(writer: Writer, wanted: frozenset[Counts], jokers: bool) -> list[str] | None:
    """Return the fewest keys from a typed example to the hand; None if there are none so few."""
    order = count()
    ways: list[tuple[int, int, list[str], Writer]] = []
    for place in range(len(writer.proposals)):
        keys = ["down"] * place + ["enter"]
        ways.append((len(keys), next(order), keys, at_first_turn(writer.choose(place))))
    heapq.heapify(ways)
    tried: set[tuple[object, int]] = set()
    while ways:
        cost, _, keys, here = heapq.heappop(ways)
        if cost > MOST_KEYS or (here.here, here.group) in tried:
            continue
        tried.add((here.here, here.group))
        if _wants(here, jokers) == wanted:
            return keys
        for key, there in [
            ("left", here.to_group(-1)),
            ("right", here.to_group(1)),
            *((KEY_OF_TURN[what], here.turn(what)) for what in here.turns),
        ]:
            heapq.heappush(ways, (cost + 1, next(order), [*keys, key], there))
    return None


def _wants(writer: Writer, jokers: bool) -> frozenset[Counts]:
    pattern = writer.here.pattern if writer.here else None
    return frozenset(expand_pattern(replace(pattern, jokers=jokers), writer.draft.year)) if pattern else frozenset()


def write_all(card: Card, dice: random.Random, folder: Path) -> tuple[list[tuple[Hand, int]], int]:
    """Write a card through the screen; return the keys of each hand, and of all headings together.

    Raises:
        SystemExit: what the writer saved is not the card.
    """
    counted: list[tuple[Hand, int]] = []
    headings = written = 0
    with terminal(folder, "pier") as screen:
        screen.until("0 of 14")
        screen.press(["escape"])
        screen.until("a heading")
        for section in card.sections:
            keys = ["h", *section.name, "enter"]
            headings += len(keys)
            screen.press(keys)
            for number, hand in enumerate(section.hands):
                screen.until("0 of 14")
                keys = keys_of(hand, card, dice) + (["enter"] if number < len(section.hands) - 1 else [])
                counted.append((hand, len(keys)))
                screen.press(keys)
                written += 1
                left = ", 1 open" if keys[-1] == "enter" and number < len(section.hands) - 1 else ""
                screen.until(f"{written} hand{'' if written == 1 else 's'}{left}, saved")
        screen.press(["q"])
    saved = read_card((folder / "racktempo" / "cards" / "pier.toml").read_bytes())
    if not isinstance(saved, Card):
        raise SystemExit("\n".join(map(str, saved)))
    _compare(card, saved)
    return counted, headings


def _compare(card: Card, saved: Card) -> None:
    for hand, other in zip(card.hands, saved.hands, strict=True):
        same = set(expand_hand(hand, card.year)) == set(expand_hand(other, saved.year))
        more = [(one.section, one.concealed, one.value, one.values, one.note, one.jokers) for one in (hand, other)]
        if not same or more[0] != more[1]:
            raise SystemExit(f"{hand} became {other}.")


def main() -> None:
    """Print the keys of each hand, their median, and the minutes."""
    parser = argparse.ArgumentParser(description="A typist writes hands through the card writer.")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    card, dice = load(INVENTED), random.Random(options.seed)
    with tempfile.TemporaryDirectory() as folder:
        counted, headings = write_all(card, dice, Path(folder))
    for hand, keys in counted:
        print(f"{keys:>4}  {hand.groups}")
    every = [keys for _, keys in counted]
    minutes = (sum(every) + headings) / KEYS_A_MINUTE
    median = statistics.median(every)
    print(
        f"{len(every)} hands: {median:g} keys in the median (at most {MOST_KEYS_A_HAND}), {max(every)} for the longest"
    )
    print(f"{sum(every)} keys and {headings} for headings: {minutes:.1f} minutes (at most {MOST_MINUTES})")
    if median > MOST_KEYS_A_HAND or minutes > MOST_MINUTES:
        raise SystemExit("That is too much.")


if __name__ == "__main__":
    main()
