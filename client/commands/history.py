"""racktempo history: report on your own heats as text, JSON or CSV, or delete them."""

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from client.commands.options import BadArgument
from client.console import ask, complain, is_terminal, say

if TYPE_CHECKING:
    from client.storage.history_db import History


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the output format and the options for deleting."""
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--csv", metavar="FILE", help="write every step of every heat as CSV; - is standard output")
    form.add_argument("--json", action="store_true", help="print the report as one JSON object")
    form.add_argument("--numbers", action="store_true", help="print all tables, with 95%% intervals and sources")
    form.add_argument("--delete", action="store_true", help="delete every heat, after asking")
    parser.add_argument("--yes", action="store_true", help="with --delete: do not ask")


def run(args: argparse.Namespace) -> int:
    """Report on the history, or delete it."""
    if args.yes and not args.delete:
        raise BadArgument("--yes needs --delete.")
    from client.storage.history_db import History, HistoryFault, history_path

    try:
        history = History(history_path())
    except HistoryFault as fault:
        complain(fault)
        return 1
    try:
        if history.notice:
            complain(history.notice)
        return _delete(history, args.yes) if args.delete else _tell(history, args)
    except HistoryFault as fault:
        complain(fault)
        return 1
    finally:
        history.close()


def _tell(history: "History", args: argparse.Namespace) -> int:
    from client.reports.history import WIDTH, heats_csv, report_json, report_lines
    from client.reports.history_lesson import lesson_report, sources
    from client.reports.history_stats import history_report
    from client.text import wrapped

    read = history.read()
    if args.csv:
        complain(*read.faults)
        return _write_csv(args.csv, heats_csv(read.entries))
    report = history_report(read)
    if args.json:
        say(*report_json(report).splitlines())
    elif args.numbers:
        say(*report_lines(report, _is_plain()), *(line for said in sources() for line in wrapped(said, WIDTH)))
    else:
        say(*lesson_report(report))
    return 0


def _is_plain() -> bool:
    """Say whether to draw in ASCII: for a file or a pipe, a terminal without UTF-8, or a player who wants it."""
    from client.storage.preferences import load_look

    return not is_terminal(sys.stdout) or not (sys.stdout.encoding or "").lower().startswith("utf") or load_look().ascii


def _write_csv(where: str, text: str) -> int:
    from client.storage.files import write_whole
    from shared.troubles import describe_error

    if where == "-":
        say(*text.splitlines())
        return 0
    try:
        # The byte order mark tells a spreadsheet that the text is UTF-8.
        write_whole(Path(where), text.encode("utf-8-sig"))
    except OSError as error:
        complain(f"{where} cannot be written: {describe_error(error)}.")
        return 1
    return 0


def _delete(history: "History", sure: bool) -> int:
    read = history.read()
    count = len(read.entries) + len(read.faults)
    if not sure:
        if not is_terminal(sys.stdin):
            raise BadArgument("There is no terminal to ask on; use racktempo history --delete --yes.")
        say(f"This deletes your history for good (heats: {count}). Saved heat files stay.")
        if not _says_yes():
            say("Nothing was deleted.")
            return 0
    say(f"Heats deleted: {history.delete_all()}.")
    for aside in sorted(history.path.parent.glob(f"{history.path.name}.damaged-*")):
        say(f"This copy of a damaged history is still there: {aside}")
    return 0


def _says_yes() -> bool:
    try:
        return ask("Type yes to delete it: ").strip().lower() == "yes"
    except EOFError:
        return False
