"""racktempo ask "TILES": ask the coach about a rack of real tiles; without tiles, on the screen."""

import argparse
import re
from typing import TYPE_CHECKING

from client.commands.options import BadArgument
from client.console import complain, say

if TYPE_CHECKING:
    from shared.rules.steps import StepName
    from shared.rules.tiles import Rack


_EXPLAINED = 10
"""Passes with their reasons; the others only in points: reasons take a tenth of a second each."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the rack, and what else the player knows."""
    parser.add_argument("rack", metavar="TILES", nargs="*", help="13 or 14 tiles, such as 1123b 567c 9d NE FF J")
    parser.add_argument(
        "--step",
        metavar="STEP",
        help='the step to play, such as "first right" or "go on"; default: the passing is over',
    )
    parser.add_argument("--passed", default="", metavar="TILES", help="what you have passed, such as '9d NE'")
    parser.add_argument("--jokers", choices=("8", "10", "0"), default="8", help="jokers in the set; default: 8")
    parser.add_argument("--card", metavar="FILE", help="a card's file or name; default: the practice card")
    parser.add_argument(
        "--draws",
        default="30",
        metavar="N",
        help='draws for "chance", the chance of finishing alone, in --json; default: 30',
    )
    parser.add_argument("--looks", dest="draws", help=argparse.SUPPRESS)  # its name in the version before this one
    parser.add_argument("--fill", action="store_true", help="play the rack on after the passing: does it fill?")
    parser.add_argument("--top", default="5", metavar="N", help="how many hands and passes to print; default: 5")
    parser.add_argument("--plain", action="store_true", help="without tiles: questions in plain lines")
    parser.add_argument("--json", action="store_true", help="print every hand and every pass as one JSON object")


def run(args: argparse.Namespace) -> int:
    """Answer."""
    if args.plain and args.rack:
        raise BadArgument("--plain asks for the tiles itself; leave them out.")
    if not args.rack and not args.plain:
        from client.tui.ports import AtAsk
        from client.tui.run import show

        return show(AtAsk(args.card or "", jokers=int(args.jokers)), "")
    from client.storage.card_files import PRACTICE, BadCard, find_card
    from shared.coach.asking import answer, question_at
    from shared.coach.coach import Coach
    from shared.coach.engine import Engine
    from shared.coach.reading import position_read

    try:
        found = find_card(args.card or PRACTICE)
    except BadCard as bad:
        complain(*bad.faults)
        return 2
    if args.plain:
        from client.plain.ask import ask_plainly

        return ask_plainly(found.card, int(args.jokers))
    rack = _tiles(" ".join(args.rack), found.card.year)
    passed = _tiles(args.passed, found.card.year, "--passed: ")
    if args.fill and args.step:
        raise BadArgument("--fill is about the time after the passing: use it without --step.")
    step, top = _step(args.step), _number("--top", args.top)
    position = position_read(rack, step, passed, _number("--draws", args.draws), int(args.jokers))
    if isinstance(position, str):
        raise BadArgument(position)
    from client.reports.rack import answer_lines, reading_json

    coach = Coach(found.card, Engine.of_card(found.card))
    question = "fill" if args.fill else question_at(step, len(rack))
    found_out = answer(coach, question, position, step, explained=min(top, _EXPLAINED))
    say(*([reading_json(found_out.reading)] if args.json else answer_lines(found_out, top)))
    return 0


def _tiles(text: str, year: int, where: str = "") -> "Rack":
    from shared.rules.typed_tiles import read_tiles

    typed = read_tiles(text, year)
    if typed.faults:
        raise BadArgument(*(f"{where}{fault}" for fault in typed.faults))
    return typed.tiles


def _step(text: str | None) -> "StepName | None":
    from shared.rules.steps import STEP_NAMES, STEPS, step_named

    if text is None:
        return None
    step = step_named(text)
    if step is None:
        named = ", ".join(name for name in STEP_NAMES if STEPS[name].ask != "plan")
        raise BadArgument(f"--step is {text!r}; it must be one of {named}.")
    return step


def _number(option: str, text: str) -> int:
    if not re.fullmatch("[0-9]{1,4}", text) or not int(text):
        raise BadArgument(f"{option} is {text!r}; it must be a whole number of at least 1.")
    return int(text)
