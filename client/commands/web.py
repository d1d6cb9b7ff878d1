"""racktempo web: serve a web page where others can join a table with only a browser."""

import argparse

from client.commands.options import BadArgument
from client.connection.address import BadAddress, read_address, read_port
from client.console import say
from shared.wire.messages import PORT

PAGE_PORT = 15280
NOT_INSTALLED = "racktempo web needs the extra web: python -m pip install '.[web]' installs it."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add which table, and where to serve the page."""
    table = f"127.0.0.1:{PORT}"
    parser.add_argument(
        "address", nargs="?", default=table, metavar="ADDRESS[:PORT]", help=f"the table; default: {table}"
    )
    parser.add_argument(
        "--bind",
        default="127.0.0.1",
        metavar="ADDRESS",
        help="this machine's address to serve the page at; 0.0.0.0 is all of them; default: 127.0.0.1, which only this "
        "machine can reach",
    )
    parser.add_argument(
        "--port", default=str(PAGE_PORT), metavar="PORT", help=f"the port of the page; default: {PAGE_PORT}"
    )


def run(args: argparse.Namespace) -> int:
    """Serve the page until a signal ends the process."""
    try:
        read_address(args.address)
        port = read_port(args.port)
    except BadAddress as error:
        raise BadArgument(str(error)) from error
    try:
        from client.browser.server import serve
    except ModuleNotFoundError as error:
        if error.name not in ("textual_serve", "aiohttp"):
            raise
        raise BadArgument(NOT_INSTALLED) from error
    return serve(args.address, args.bind, port, say)
