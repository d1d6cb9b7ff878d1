"""racktempo review FILE: review a heat step by step, without a screen."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from client.commands.options import BadArgument
from client.console import complain, say, show_progress

if TYPE_CHECKING:
    from shared.coach.heats import ToReview
    from shared.coach.review import Review
    from shared.rules.seat_heat import SeatHeat

WINDS = ("east", "south", "west", "north")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the heat, the seat, and the output format."""
    parser.add_argument("file", nargs="?", metavar="FILE", type=Path, help="a saved heat (.heat)")
    parser.add_argument("--last", action="store_true", help="the latest heat of your history instead of a file")
    parser.add_argument("--seat", choices=WINDS, help="whose seat to review; default: the first person's")
    parser.add_argument("--card", metavar="FILE", help="the card, if the heat does not hold it: a file, or its name")
    parser.add_argument("--json", action="store_true", help="print the review as one JSON object")


def run(args: argparse.Namespace) -> int:
    """Review."""
    if bool(args.file) == args.last:
        raise BadArgument("racktempo review needs FILE or --last; see racktempo review --help.")
    if args.last and args.seat:
        raise BadArgument("--seat needs FILE: your history has only your own seat.")
    from client.commands.options import card_of
    from client.reports.review import review_json, review_lines
    from client.storage.card_files import text_for
    from client.storage.history_db import HistoryFault
    from client.storage.journal import disk_journal
    from shared.coach.heats import NoReview, to_review

    card = card_of(args)
    try:
        heat = _last() if args.last else _in_file(args.file, args.seat)
        found = to_review(heat, card or text_for(heat))
    except (NoReview, HistoryFault) as error:
        complain(error)
        return 1
    review = _whole(found)
    say(*([review_json(found.heat, review)] if args.json else review_lines(found.heat, review)))
    trouble = disk_journal().add_review(found.heat, review) if args.last else ""
    if trouble:
        complain(trouble)
    return 0


def _in_file(path: Path, seat: str | None) -> "SeatHeat":
    from client.storage.reviews import heat_in_file
    from shared.rules.seats import Seat

    return heat_in_file(path, Seat(WINDS.index(seat)) if seat else None)


def _last() -> "SeatHeat":
    from client.storage.history_db import History, history_path
    from client.storage.reviews import last_heat

    history = History(history_path())
    try:
        return last_heat(history).heat
    finally:
        history.close()


def _whole(found: "ToReview") -> "Review":
    """Return the finished review. On a terminal it shows its progress, and ctrl-c ends it."""
    from shared.coach.heats import review_heat

    for seen in review_heat(found):
        last = seen
        show_progress(f"reviewed {seen.done:.0%}" if seen.done < 1 else "")
    return last
