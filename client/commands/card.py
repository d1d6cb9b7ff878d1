"""racktempo card: check a card of hands, or print it."""

import argparse

from client.commands.options import BadArgument
from client.console import complain, say


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what to do, and with which card."""
    parser.add_argument(
        "what", choices=("check", "show"), metavar="check|show", help="check: list every fault; show: print it"
    )
    parser.add_argument(
        "card", nargs="?", metavar="FILE", help="a card's file or name; show without one prints the practice card"
    )
    parser.add_argument("--notation", action="store_true", help="with show: also how the file writes each hand")


def run(args: argparse.Namespace) -> int:
    """Check or show."""
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
