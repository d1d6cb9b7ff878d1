"""racktempo clock: the shared clock for people who have real tiles on a table."""

import argparse

from client.arguments import settings_of


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take what shapes a set."""
    parser.add_argument("--level", metavar="M:SS", help="time for a whole Charleston, such as 2:00")
    parser.add_argument("--heats", metavar="N", help="heats in a set, 1 to 12")
    parser.add_argument("--preset", metavar="NAME", help="settings kept under this name")
    parser.add_argument("--bell", action="store_true", help="one bell when the time of a step is up")
    # No tiles are dealt here, so that there is no seed to choose.
    parser.set_defaults(seed=None)


def run(args: argparse.Namespace) -> int:
    """Show the clock until the player quits."""
    settings = settings_of(args)
    from client.commands.screen import show
    from client.doors import AtClock

    return show(AtClock(settings, args.bell), "")
