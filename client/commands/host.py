"""racktempo host: open a table for others on this network, with a screen or without one."""

import argparse
import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from client.address import BadAddress, read_port
from client.arguments import BadArgument, add_settings, card_of, settings_of, yes
from shared.messages import PORT

if TYPE_CHECKING:
    from client.solo import GoOn, Tls
    from shared.settings import Settings


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take where the table is opened and how it plays."""
    add_settings(parser)
    parser.add_argument("--port", default=str(PORT), metavar="PORT", help=f"the port to open, {PORT} if not named")
    parser.add_argument("--name", default="", metavar="NAME", help="your name; without a screen, the table's")
    parser.add_argument("--headless", action="store_true", help="without a screen: print address and code, and serve")
    parser.add_argument("--resume", action="store_true", help="go on with the table that was left unfinished")
    parser.add_argument("--fresh", action="store_true", help="begin anew and forget that table")
    parser.add_argument("--tls-cert", metavar="FILE", type=Path, help="a certificate: the line is private (wss)")
    parser.add_argument("--tls-key", metavar="FILE", type=Path, help="the key of the certificate")


def run(args: argparse.Namespace) -> int:
    """Host."""
    try:
        port = read_port(args.port)
    except BadAddress as error:
        raise BadArgument(str(error)) from error
    if args.resume and args.fresh:
        raise BadArgument("Only one of --resume and --fresh can be.")
    if bool(args.tls_cert) != bool(args.tls_key):
        raise BadArgument("--tls-cert and --tls-key go together.")
    settings, card = settings_of(args), card_of(args)
    tls = (args.tls_cert, args.tls_key) if args.tls_cert else None
    try:
        if args.headless:
            from client.solo import host_headless

            return host_headless(settings, args.name, port, _go_on(args), tls, card)
        return _with_screen(args, settings, card, port, tls)
    except ValueError as error:
        print(error, file=sys.stderr)
        return 1


def _with_screen(args: argparse.Namespace, settings: "Settings", card: str, port: int, tls: "Tls | None") -> int:
    from client.commands.screen import show
    from client.doors import AtHost, AtSolo
    from client.solo import left_unfinished, open_host

    go_on = _go_on(args)
    left = left_unfinished()
    if left and go_on == "ask":
        go_on = "resume" if yes(f"{left} Go on with it? ") else "fresh"
    host = partial(open_host, card=card, go_on=go_on, tls=tls)
    if left and go_on == "resume":
        # Nothing is to be set up: the table opens at once, by the settings it was left with.
        return show(AtSolo(settings), args.name, port, solo=lambda _, name: host(settings, name, port))
    return show(AtHost(settings), args.name, port, host=host)


def _go_on(args: argparse.Namespace) -> "GoOn":
    return "resume" if args.resume else "fresh" if args.fresh else "ask"
