"""racktempo host: open a table for others on this network, with or without a screen."""

import argparse
from typing import TYPE_CHECKING

from client.commands.options import (
    Hosting,
    add_hosting,
    add_settings,
    card_named,
    card_of,
    hosting_of,
    name_of,
    settings_of,
    yes,
)
from client.console import complain

if TYPE_CHECKING:
    from client.connection.opened import Opening
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

            return host_headless(settings, name_of(args), hosting.port, hosting.go_on, hosting.tls, card)
        return _with_screen(args, hosting, settings, card)
    except ValueError as error:
        complain(error)
        return 1


def _with_screen(args: argparse.Namespace, hosting: Hosting, settings: "Settings", text: str) -> int:
    from client.hosting.table import left_unfinished, open_host
    from client.tui.ports import AtHost, AtSolo
    from client.tui.run import show

    go_on, name = hosting.go_on, name_of(args)
    left = left_unfinished()
    if left and go_on == "ask":
        go_on = "resume" if yes(f"{left} Go on with it? ") else "fresh"

    def host(settings: "Settings", name: str, port: int, card: str) -> "Opening":
        return open_host(settings, name, port, card=card, go_on=go_on, tls=hosting.tls)

    if left and go_on == "resume":
        # Skip the setup screen: the unfinished table has its settings.
        return show(
            AtSolo(settings, text),
            name,
            hosting.port,
            solo=lambda _, name, card: host(settings, name, hosting.port, card),
        )
    return show(AtHost(settings, card_named(args)), name, hosting.port, host=host)
