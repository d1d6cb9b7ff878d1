"""racktempo desk: run an evening of several tables, from a screen or by a plan."""

import argparse
import re
from pathlib import Path
from typing import TYPE_CHECKING

from client.commands.options import (
    BadArgument,
    Hosting,
    add_hosting,
    add_settings,
    card_of,
    hosting_of,
    settings_of,
    yes,
)
from client.connection.address import BadAddress, read_address
from client.console import complain, say

if TYPE_CHECKING:
    from client.hosting.evening_plan import Plan

_MOST = 60


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the number of tables, their settings, and how to open the evening."""
    add_settings(parser)
    parser.add_argument("--tables", metavar="N", default="1", help=f"how many tables to open, 1 to {_MOST}; default: 1")
    parser.add_argument("--name", default="Club night", metavar="NAME", help="the name of the evening")
    parser.add_argument("--same-deal", action="store_true", help="every table plays the same deal, seat for seat")
    parser.add_argument("--headless", metavar="PLAN", type=Path, help="no screen: run the evening by this TOML plan")
    parser.add_argument("--plan-example", action="store_true", help="print a plan with comments, to begin from")
    parser.add_argument(
        "--wall", action="store_true", help="with --at: a screen for the wall of the room, by the guests' code"
    )
    parser.add_argument("--at", metavar="ADDRESS[:PORT]", help="run an evening that another machine hosts")
    parser.add_argument("--code", metavar="CODE", help="with --at: the desk's code, or with --wall the guests'")
    add_hosting(parser, "evening")


def run(args: argparse.Namespace) -> int:
    """Run an evening."""
    if args.plan_example:
        from client.hosting.evening_plan import EXAMPLE

        say(*EXAMPLE.splitlines())
        return 0
    hosting = hosting_of(args)
    try:
        if args.at:
            read_address(args.at)
    except BadAddress as error:
        raise BadArgument(str(error)) from error
    if bool(args.at) != bool(args.code):
        raise BadArgument("--at and --code go together.")
    if args.wall and not args.at:
        raise BadArgument("--wall needs --at and --code; at the desk itself, w shows the wall's screen.")
    if not re.fullmatch("[0-9]{1,3}", args.tables) or not 1 <= int(args.tables) <= _MOST:
        raise BadArgument(f"--tables is {args.tables!r}; it must be a whole number from 1 to {_MOST}.")
    try:
        return (_headless if args.headless else _with_screen)(args, hosting)
    except ValueError as error:
        complain(error)
        return 1


def _headless(args: argparse.Namespace, hosting: Hosting) -> int:
    from client.hosting.evening import Unfinished, run_plan

    plan = _plan_in(args.headless)
    try:
        return run_plan(
            plan,
            port=hosting.port,
            card=card_of(args, plan.card),
            go_on=hosting.go_on,
            tls=hosting.tls,
            say=say,
        )
    except Unfinished as left:
        complain(left)
        return 2


def _plan_in(path: Path) -> "Plan":
    from client.hosting.evening_plan import MOST_BYTES, read_plan
    from client.storage.files import read_at_most
    from shared.troubles import describe_error

    try:
        return read_plan(read_at_most(path, MOST_BYTES))
    except OSError as error:
        raise ValueError(f"{path} cannot be read: {describe_error(error)}.") from error


def _with_screen(args: argparse.Namespace, hosting: Hosting) -> int:
    from functools import partial

    from client.tui.ports import AtDesk
    from client.tui.run import show

    if args.at:
        from client.connection.join import open_beside

        return show(AtDesk(partial(open_beside, args.at, args.code, "watcher" if args.wall else "desk"), args.wall), "")
    from client.hosting.evening import left_unfinished, open_desk

    settings = settings_of(args)
    if args.same_deal:
        settings = settings.model_copy(update={"same_deal": True})
    go_on = hosting.go_on
    left = left_unfinished() if go_on == "ask" else ""
    if left:
        go_on = "resume" if yes(f"{left} Go on with it? ") else "fresh"
    tables = ("",) * int(args.tables)
    opening = partial(
        open_desk, settings, args.name, tables, port=hosting.port, card=card_of(args), go_on=go_on, tls=hosting.tls
    )
    return show(AtDesk(opening), "", hosting.port)
