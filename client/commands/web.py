"""racktempo web: a page on which visitors sit down at a table with nothing but a browser."""

import argparse

from client.commands.options import BadArgument
from client.connection.address import BadAddress, read_address, read_port
from client.console import say
from shared.wire.messages import PORT

PAGE_PORT = 15280
NOT_INSTALLED = "racktempo web needs the extra web: python -m pip install '.[web]' installs it."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take which table, and where the page is served."""
    table = f"127.0.0.1:{PORT}"
    parser.add_argument(
        "address", nargs="?", default=table, metavar="ADDRESS[:PORT]", help=f"the table, {table} if not named"
    )
    parser.add_argument(
        "--bind",
        default="127.0.0.1",
        metavar="ADDRESS",
        help="the address of this machine at which the page is served; 0.0.0.0 is every one, and if none is named "
        "only this machine reaches the page",
    )
    parser.add_argument(
        "--port", default=str(PAGE_PORT), metavar="PORT", help=f"the page's own port, {PAGE_PORT} if not named"
    )


def run(args: argparse.Namespace) -> int:
    """Serve the page until a signal comes."""
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
