"""racktempo host: open a table for others on this network, with or without a screen."""

import argparse
from functools import partial
from typing import TYPE_CHECKING

from client.commands.options import Hosting, add_hosting, add_settings, card_of, hosting_of, settings_of, yes
from client.console import complain

if TYPE_CHECKING:
    from shared.rules.settings import Settings


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the settings of the table, and how to open it."""
    add_settings(parser)
    parser.add_argument("--name", default="", metavar="NAME", help="your name; with --headless, the table's")
    parser.add_argument("--headless", action="store_true", help="no screen: print address and code, and serve")
    add_hosting(parser, "table")


def run(args: argparse.Namespace) -> int:
    """Host."""
    hosting, settings, card = hosting_of(args), settings_of(args), card_of(args)
    try:
        if args.headless:
            from client.hosting.table import host_headless

            return host_headless(settings, args.name, hosting.port, hosting.go_on, hosting.tls, card)
        return _with_screen(hosting, settings, card, args.name)
    except ValueError as error:
        complain(error)
        return 1


def _with_screen(hosting: Hosting, settings: "Settings", card: str, name: str) -> int:
    from client.hosting.table import left_unfinished, open_host
    from client.tui.ports import AtHost, AtSolo
    from client.tui.run import show

    go_on = hosting.go_on
    left = left_unfinished()
    if left and go_on == "ask":
        go_on = "resume" if yes(f"{left} Go on with it? ") else "fresh"
    host = partial(open_host, card=card, go_on=go_on, tls=hosting.tls)
    if left and go_on == "resume":
        # Skip the setup screen: the unfinished table has its settings.
        return show(AtSolo(settings), name, hosting.port, solo=lambda _, name: host(settings, name, hosting.port))
    return show(AtHost(settings), name, hosting.port, host=host)
