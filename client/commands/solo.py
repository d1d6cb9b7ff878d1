"""racktempo solo: play with three bots in this process, or let four bots play a set by themselves."""

import argparse
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from client.commands.options import BadArgument, add_settings, card_of, settings_of, yes
from client.console import complain, is_terminal, say

if TYPE_CHECKING:
    from shared.rules.settings import Settings


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the settings of the table, and the ways to play."""
    add_settings(parser)
    parser.add_argument("--name", default="You", metavar="NAME", help="your name at the table")
    parser.add_argument("--resume", action="store_true", help="go on with the set that you left unfinished")
    parser.add_argument("--fresh", action="store_true", help="start a new set without asking")
    parser.add_argument("--guided", action="store_true", help="one heat without a clock, with a word at each step")
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
    if not args.preset:
        from client.setup import ALONE

        its_own = {name: getattr(ALONE, name) for name in ("bot_pace", "plan", "plan_ms")}
        settings = settings.model_copy(update=its_own)
    from client.hosting.alone import open_solo

    goes_on = not args.guided and _goes_on(args)
    if args.plain:
        from client.plain.run import play_plainly
        from client.plain.session import say_whole_words
        from client.storage.journal import disk_journal

        if args.guided:
            from client.models.guided import CARD, SETTINGS
            from shared.cards.play import shipped_text

            return play_plainly(open_solo(SETTINGS, args.name, shipped_text(CARD), kept=False), args.save, "guided")
        if not disk_journal().read().entries:
            say_whole_words("First time? racktempo solo --plain --guided plays one heat without a clock, step by step.")
        return play_plainly(open_solo(settings, args.name, card, go_on=goes_on), args.save, "alone")
    from client.tui.ports import AtGuided, AtSolo, AtWaiting
    from client.tui.run import show

    start = AtGuided() if args.guided else AtWaiting() if goes_on else AtSolo(settings, card)
    return show(start, args.name, folder=args.save)


def _goes_on(args: argparse.Namespace) -> bool:
    """Say whether to go on with the set that waits; a person at a terminal is asked if the arguments do not say."""
    from client.hosting.alone import waiting_set

    if args.resume and args.fresh:
        raise BadArgument("Use only one of --resume and --fresh.")
    waiting = None if args.fresh else waiting_set()
    if args.resume and waiting is None:
        raise BadArgument("No set waits to be gone on with.")
    if waiting is None or args.resume:
        return waiting is not None
    return is_terminal(sys.stdin) and yes(f"You left a set: {waiting.words}. Go on with it? ")


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
