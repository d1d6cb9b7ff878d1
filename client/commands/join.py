"""racktempo join: join a table that somebody hosts."""

import argparse

from client.commands.options import BadArgument, card_of, name_of
from client.connection.address import BadAddress, read_address


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add address, name and code."""
    parser.add_argument("address", nargs="?", metavar="ADDRESS[:PORT]", help="the address on the host's screen")
    parser.add_argument("--name", metavar="NAME", help="your name at the table")
    parser.add_argument("--code", metavar="CODE", help="the code words on the host's screen")
    parser.add_argument(
        "--card",
        metavar="FILE",
        help="your own copy of a card that the table does not share: a file, or its name",
    )
    parser.add_argument("--watch", action="store_true", help="only watch; the table's chairs stay free for others")
    parser.add_argument("--plain", action="store_true", help="play in plain lines on standard input and output")


def run(args: argparse.Namespace) -> int:
    """Join, or show the form to fill in the rest."""
    if args.address:
        try:
            read_address(args.address)
        except BadAddress as error:
            raise BadArgument(str(error)) from error
    card, name = card_of(args), name_of(args)
    if not args.plain:
        from client.tui.ports import AtJoin
        from client.tui.run import show

        return show(AtJoin(args.address or "", args.code or "", args.card or "", args.watch), name)
    needed = {"ADDRESS": args.address, "--name": args.name, "--code": args.code}
    missing = [word for word, given in needed.items() if not given]
    if missing:
        raise BadArgument(f"racktempo join --plain needs {', '.join(missing)}.")
    from client.connection.join import open_join
    from client.plain.run import play_plainly

    return play_plainly(open_join(args.address, name, args.code, card, args.watch), None)
