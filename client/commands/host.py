"""racktempo host: open a table for others on this network, with a screen or without one."""

import argparse

from client.address import BadAddress, read_port
from client.arguments import BadArgument, add_settings, settings_of
from shared.messages import PORT


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take where the table is opened and how it plays."""
    add_settings(parser)
    parser.add_argument("--port", default=str(PORT), metavar="PORT", help=f"the port to open, {PORT} if not named")
    parser.add_argument(
        "--name", default="", metavar="NAME", help="your name at the table; without a screen, the table's"
    )
    parser.add_argument("--headless", action="store_true", help="without a screen: print address and code, and serve")


def run(args: argparse.Namespace) -> int:
    """Host."""
    try:
        port = read_port(args.port)
    except BadAddress as error:
        raise BadArgument(str(error)) from error
    settings = settings_of(args)
    if args.headless:
        from client.solo import host_headless

        return host_headless(settings, args.name, port)
    from client.commands.screen import show
    from client.doors import AtHost

    return show(AtHost(settings), args.name, port)
