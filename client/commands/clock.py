"""racktempo clock: the shared clock for people with real tiles, on one machine or on one each."""

import argparse
from functools import partial
from typing import TYPE_CHECKING

from client.commands.options import BadArgument, Hosting, add_hosting, hosting_of, name_of, settings_of, yes
from client.console import complain

if TYPE_CHECKING:
    from shared.rules.settings import Settings

_ONLY_TOGETHER = ("name", "port", "resume", "fresh", "tls_cert")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the settings of the set, and the options for joining."""
    parser.add_argument("--level", metavar="M:SS", help="time for a whole Charleston, such as 2:00")
    parser.add_argument("--heats", metavar="N", help="heats in a set, 1 to 12")
    parser.add_argument("--preset", metavar="NAME", help="use the settings saved under this name")
    parser.add_argument("--bell", action="store_true", help="ring once when the time of a step is up")
    parser.add_argument("--together", action="store_true", help="others join from their own machines (racktempo join)")
    parser.add_argument("--name", default="", metavar="NAME", help="with --together: your name")
    add_hosting(parser, "shared clock")
    # No deal, so no seed; settings_of expects the field.
    parser.set_defaults(seed=None)


def run(args: argparse.Namespace) -> int:
    """Show the clock until the player quits."""
    settings, hosting = settings_of(args), hosting_of(args)
    alone = [word for word in _ONLY_TOGETHER if getattr(args, word) and not args.together]
    if alone:
        raise BadArgument(f"--{alone[0].replace('_', '-')} needs --together.")
    if not args.together:
        from client.tui.ports import AtClock
        from client.tui.run import show

        return show(AtClock(settings, args.bell), "")
    try:
        return _together(hosting, settings, name_of(args), args.bell)
    except ValueError as error:
        complain(error)
        return 1


def _together(hosting: Hosting, settings: "Settings", name: str, bell: bool) -> int:
    from client.hosting.table import clocks_path, left_unfinished, open_together
    from client.tui.ports import AtClock
    from client.tui.run import show

    go_on = hosting.go_on
    if go_on == "ask" and (left := left_unfinished(clocks_path())):
        go_on = "resume" if yes(f"{left} Go on with it? ") else "fresh"
    together = partial(open_together, go_on=go_on, tls=hosting.tls)
    return show(AtClock(settings, bell, together=True), name, hosting.port, together=together)
