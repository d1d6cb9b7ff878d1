"""racktempo card: write a card of hands, check one, or print it."""

import argparse

from client.commands.options import BadArgument
from client.console import complain, say


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what to do, and with which card."""
    parser.add_argument(
        "what",
        choices=("write", "check", "show"),
        metavar="write|check|show",
        help="write: write one down, hand by hand; check: list every fault; show: print it",
    )
    parser.add_argument(
        "card",
        nargs="?",
        metavar="FILE",
        help="a card's file or name; without one: your last one to write, the practice card to show",
    )
    parser.add_argument("--notation", action="store_true", help="with show: also how the file writes each hand")
    parser.add_argument("--plain", action="store_true", help="with write: line by line, without the full screen")


def run(args: argparse.Namespace) -> int:
    """Write, check or show."""
    if args.what == "write":
        return _write(args.card, args.plain)
    from client.storage.card_files import PRACTICE, BadCard, find_card
    from shared.cards import expand, show

    if args.what == "check" and not args.card:
        raise BadArgument("racktempo card check needs FILE; see racktempo card --help.")
    try:
        found = find_card(args.card or PRACTICE)
    except BadCard as bad:
        (say if args.what == "check" else complain)(*bad.faults)
        return 1
    if args.what == "show":
        say(*show(found.card, args.notation))
        return 0
    card = found.card
    sections = f"{len(card.sections)} section{'s' * (len(card.sections) > 1)}"
    counted = f"{sections}, {len(card.hands)} hand{'' if len(card.hands) == 1 else 's'}, {len(expand(card))} variants"
    say(f"{card.title} has no faults: {counted}.")
    return 0


def _write(name: str | None, plain: bool) -> int:
    from client.storage.card_files import BadCard, file_to_write

    try:
        file = file_to_write(name)
    except BadCard as bad:
        complain(*bad.faults)
        return 1
    if plain:
        from datetime import date
        from random import SystemRandom

        from client.plain.card_writer import write_plainly

        return write_plainly(file, date.today().year, SystemRandom().randrange)
    from client.tui.ports import AtWriter
    from client.tui.run import show

    return show(AtWriter(name), "")
