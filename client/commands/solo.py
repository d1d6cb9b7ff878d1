"""racktempo solo: play with three bots in this process, or let four bots play a set by themselves."""

import argparse
import os
from pathlib import Path
from typing import TYPE_CHECKING

from client.commands.options import BadArgument, add_settings, card_of, settings_of
from client.console import complain, say

if TYPE_CHECKING:
    from shared.rules.settings import Settings


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the settings of the table, and the ways to play."""
    add_settings(parser)
    parser.add_argument("--name", default="You", metavar="NAME", help="your name at the table")
    parser.add_argument("--plain", action="store_true", help="play in plain lines on standard input and output")
    parser.add_argument("--autoplay", action="store_true", help="let bots play a whole set in all four seats")
    parser.add_argument("--json", action="store_true", help="with --autoplay: print the set as one JSON object")
    parser.add_argument("--save", metavar="FOLDER", type=Path, help="save the heats in this folder")


def run(args: argparse.Namespace) -> int:
    """Play."""
    if args.json and not args.autoplay:
        raise BadArgument("--json needs --autoplay.")
    if args.save and os.path.lexists(args.save) and not os.path.isdir(args.save):
        raise BadArgument(f"--save is {str(args.save)!r}, which is not a folder.")
    settings, card = settings_of(args), card_of(args)
    if args.autoplay:
        return _autoplay(args, settings, card)
    if args.plain:
        from client.hosting.table import open_solo
        from client.plain.run import play_plainly

        return play_plainly(open_solo(settings, args.name, card=card), args.save, begins=True)
    from client.tui.ports import AtSolo
    from client.tui.run import show

    return show(AtSolo(settings, card), args.name, folder=args.save)


def _autoplay(args: argparse.Namespace, settings: "Settings", card: str) -> int:
    from client.hosting.table import play_bots
    from client.reports.bot_set import set_as_json, set_as_text
    from client.storage.heat_files import keep_heat

    heats = play_bots(settings, card=card)
    say(*(set_as_json if args.json else set_as_text)(settings, heats).splitlines())
    for heat in heats if args.save else ():
        kept = keep_heat(heat, args.save)
        if isinstance(kept, str):
            complain(kept)
            return 1
    return 0
