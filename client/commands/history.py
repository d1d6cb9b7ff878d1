"""racktempo history: what one's own heats say, as text, JSON or CSV, and a way to delete them."""

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from client.commands.options import BadArgument
from client.console import ask, complain, is_terminal, say

if TYPE_CHECKING:
    from client.storage.history_db import History


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take the form of the answer, or the wish to delete."""
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--csv", metavar="FILE", help="every step of every heat for a spreadsheet; - is standard output")
    form.add_argument("--json", action="store_true", help="the report as one JSON object")
    form.add_argument("--delete", action="store_true", help="delete every heat, after asking")
    parser.add_argument("--yes", action="store_true", help="with --delete: do not ask")


def run(args: argparse.Namespace) -> int:
    """Do what was asked with the player's history."""
    if args.yes and not args.delete:
        raise BadArgument("--yes goes with --delete.")
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
    from client.reports.history import heats_csv, report_json, report_lines
    from client.reports.history_stats import history_report

    read = history.read()
    if args.csv:
        complain(*read.faults)
        return _write_csv(args.csv, heats_csv(read.entries))
    report = history_report(read)
    say(*(report_json(report).splitlines() if args.json else report_lines(report)))
    return 0


def _write_csv(where: str, text: str) -> int:
    from client.storage.files import write_whole
    from shared.troubles import describe_error

    if where == "-":
        say(*text.splitlines())
        return 0
    try:
        # The mark at the beginning tells a spreadsheet that the text is UTF-8.
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
            raise BadArgument("Nobody can be asked here; racktempo history --delete --yes deletes without asking.")
        say(f"This deletes your history for good (heats: {count}). Heat files saved on their own stay.")
        if not _says_yes():
            say("Nothing was deleted.")
            return 0
    say(f"Heats deleted: {history.delete_all()}.")
    for aside in sorted(history.path.parent.glob(f"{history.path.name}.damaged-*")):
        say(f"A damaged history was set aside and is still there: {aside}")
    return 0


def _says_yes() -> bool:
    try:
        return ask("Type yes to delete it: ").strip().lower() == "yes"
    except EOFError:
        return False
