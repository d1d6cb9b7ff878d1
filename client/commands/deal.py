"""racktempo deal: a deal to lay out with real tiles, as a sheet to print."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from client.commands.options import BadArgument, card_of, settings_of
from client.console import complain, new_sheet, say
from shared.rules.drills import TEMPTING

if TYPE_CHECKING:
    from shared.rules.laid_out import LaidOut


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what to lay out, and for how many people."""
    what = f"a drill ({', '.join(TEMPTING)}) or the file of a heat; default: a fresh deal"
    parser.add_argument("what", metavar="WHAT", nargs="?", help=what)
    parser.add_argument("--seed", metavar="N", help="a whole number; the same one gives the same deal")
    parser.add_argument("--real", action="store_true", help="for tiles on a table, which is what the sheet is for")
    parser.add_argument("--heat", default="1", metavar="N", help="with a seed: which heat of its set, 1 to 12")
    parser.add_argument("--tiles", default="14", metavar="N", help="14 for the dealer (default), or 13")
    parser.add_argument("--people", default="1", metavar="N", help="how many sheets, 1 or 2: each plays the same deal")
    parser.add_argument("--card", metavar="FILE", help="for a drill: a card's file or name; default: the practice card")
    parser.set_defaults(level=None, heats=None, preset=None)


def run(args: argparse.Namespace) -> int:
    """Print the sheets."""
    from client.reports.deal_sheet import NEXT_SHEET, sheets

    people = _one_of("--people", args.people, ("1", "2"))
    _one_of("--tiles", args.tiles, ("13", "14"))
    heat = _one_of("--heat", args.heat, tuple(map(str, range(1, 13))))
    if args.what and (args.tiles != "14" or args.heat != "1"):
        raise BadArgument("--tiles and --heat are for deals from a seed.")
    laid = _laid(args, heat)
    if isinstance(laid, str):
        complain(laid)
        return 1
    for number, sheet in enumerate(sheets(laid, people).split(NEXT_SHEET)):
        if number:
            new_sheet()
        say(*sheet.splitlines())
    return 0


def _laid(args: argparse.Namespace, heat: int) -> "LaidOut | str":
    from secrets import randbelow

    from shared.rules.laid_out import of_heat, of_seed
    from shared.rules.seats import Seat

    settings = settings_of(args)
    seed = randbelow(1_000_000) if settings.seed is None else settings.seed
    if args.what in TEMPTING:
        return _drill(args, seed)
    if args.what:
        from client.storage.reviews import heat_in_file
        from shared.coach.heats import NoReview

        try:
            return of_heat(heat_in_file(Path(args.what), None))
        except NoReview as error:
            return str(error)
    return of_seed(seed, heat, Seat.EAST if args.tiles == "14" else Seat.SOUTH)


def _drill(args: argparse.Namespace, seed: int) -> "LaidOut | str":
    from client.coach.jobs import lay_drill
    from shared.cards.play import shipped_text
    from shared.rules.laid_out import of_drill
    from shared.rules.settings import Settings
    from shared.rules.wall import seeded_secret

    try:
        laid = lay_drill(card_of(args) or shipped_text(), args.what, Settings(), seeded_secret(seed, 1))
    except ValueError as error:
        return str(error)
    return of_drill(laid, f"deal {seed}")


def _one_of(option: str, text: str, allowed: tuple[str, ...]) -> int:
    if text not in allowed:
        which = " or ".join(allowed) if len(allowed) == 2 else f"{allowed[0]} to {allowed[-1]}"
        raise BadArgument(f"{option} is {text!r}; it must be {which}.")
    return int(text)
