"""racktempo desk: an evening of several tables, with a screen or run by a plan."""

import argparse
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from client.address import BadAddress, read_address, read_port
from client.arguments import BadArgument, add_settings, card_of, settings_of, yes
from shared.messages import PORT
from shared.names import shown

if TYPE_CHECKING:
    from client.desk_house import GoOn

_MOST = 60


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take how many tables there are, how they play, and where the evening is opened."""
    add_settings(parser)
    parser.add_argument("--tables", metavar="N", default="1", help=f"how many tables to begin with, 1 to {_MOST}")
    parser.add_argument("--name", default="Club night", metavar="NAME", help="what the evening is called")
    parser.add_argument("--same-deal", action="store_true", help="every table plays the same deal, seat for seat")
    parser.add_argument("--headless", metavar="PLAN", type=Path, help="no screen: the evening runs by this TOML plan")
    parser.add_argument("--at", metavar="ADDRESS[:PORT]", help="be the desk of an evening that another machine hosts")
    parser.add_argument("--code", metavar="CODE", help="with --at: the desk's code")
    parser.add_argument("--port", default=str(PORT), metavar="PORT", help=f"the port to open, {PORT} if not named")
    parser.add_argument("--resume", action="store_true", help="go on with the evening that was left unfinished")
    parser.add_argument("--fresh", action="store_true", help="begin anew and forget that evening")
    parser.add_argument("--tls-cert", metavar="FILE", type=Path, help="a certificate: the line is private (wss)")
    parser.add_argument("--tls-key", metavar="FILE", type=Path, help="the key of the certificate")


def run(args: argparse.Namespace) -> int:
    """Run an evening."""
    try:
        port = read_port(args.port)
        if args.at:
            read_address(args.at)
    except BadAddress as error:
        raise BadArgument(str(error)) from error
    if args.resume and args.fresh:
        raise BadArgument("Only one of --resume and --fresh can be.")
    if bool(args.tls_cert) != bool(args.tls_key):
        raise BadArgument("--tls-cert and --tls-key go together.")
    if bool(args.at) != bool(args.code):
        raise BadArgument("--at and --code go together.")
    if not re.fullmatch("[0-9]{1,3}", args.tables) or not 1 <= int(args.tables) <= _MOST:
        raise BadArgument(f"--tables is {args.tables!r}; it must be a whole number from 1 to {_MOST}.")
    try:
        return _headless(args, port) if args.headless else _with_screen(args, port)
    except ValueError as error:
        print(error, file=sys.stderr)
        return 1


def _headless(args: argparse.Namespace, port: int) -> int:
    from client.desk_house import UnfinishedEvening, run_plan
    from client.plan import read_plan

    try:
        plan = read_plan(args.headless.read_text("utf-8"))
    except OSError as error:
        raise ValueError(f"{args.headless} cannot be read: {error.strerror or error}.") from error
    except UnicodeDecodeError as error:
        raise ValueError(f"{args.headless} is not in UTF-8.") from error
    try:
        return run_plan(
            plan,
            port=port,
            card=card_of(args),
            go_on=_go_on(args),
            tls=_tls(args),
            say=lambda line: print(shown(line), flush=True),
        )
    except UnfinishedEvening as left:
        print(left, file=sys.stderr)
        return 2


def _with_screen(args: argparse.Namespace, port: int) -> int:
    from functools import partial

    from client.commands.screen import show
    from client.doors import AtDesk

    if args.at:
        from client.joining import open_far_desk

        return show(AtDesk(partial(open_far_desk, args.at, args.code)), "")
    from client.desk_house import left_unfinished, open_desk

    settings = settings_of(args)
    if args.same_deal:
        settings = settings.model_copy(update={"same_deal": True})
    go_on = _go_on(args)
    left = left_unfinished() if go_on == "ask" else ""
    if left:
        go_on = "resume" if yes(f"{left} Go on with it? ") else "fresh"
    tables = ("",) * int(args.tables)
    opening = partial(
        open_desk, settings, args.name, tables, port=port, card=card_of(args), go_on=go_on, tls=_tls(args)
    )
    return show(AtDesk(opening), "", port)


def _go_on(args: argparse.Namespace) -> "GoOn":
    return "resume" if args.resume else "fresh" if args.fresh else "ask"


def _tls(args: argparse.Namespace) -> tuple[Path, Path] | None:
    return (args.tls_cert, args.tls_key) if args.tls_cert else None
