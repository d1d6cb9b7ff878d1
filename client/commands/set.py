"""racktempo set: a set to take home: make one, play it, hand in what came of it, compare what others handed in."""

import argparse
import re
from pathlib import Path
from typing import TYPE_CHECKING

from client.commands.options import BadArgument, add_settings, card_of, settings_of
from client.console import complain, say, show_progress

if TYPE_CHECKING:
    from collections.abc import Sequence

    from client.coach.comparing import Comparing
    from client.storage.sets import KeptSet, Offered
    from shared.rules.set_result import Handed
    from shared.rules.settings import Settings

WHAT = ("new", "play", "hand-in", "compare", "list")
BOTS = {
    "simple": "simple",
    "distracted": "coach, distracted",
    "glance": "coach, at a glance",
    "ahead": "coach, thinking ahead",
}
"""The bots by one word each."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what to do, and the options of each."""
    parser.add_argument(
        "what",
        choices=WHAT,
        metavar="|".join(WHAT),
        help="new: make a set; play: play one, or go on with it; hand-in: write your result; "
        "compare: results side by side; list: the sets on this machine",
    )
    parser.add_argument("given", nargs="*", metavar="LINE|FILE", help="the line of a set, its file, or results")
    add_settings(parser)
    new = parser.add_argument_group("new (with the options above)")
    new.add_argument("--passes-from", choices=("wall", "racks"), help="where passes come from; default: wall")
    new.add_argument("--bots", choices=tuple(BOTS), help="how the bots play; default: glance")
    new.add_argument("--title", default="", metavar="TEXT", help="what the set is called; only its file tells it")
    new.add_argument("--opens", metavar="DATE", help="told to players: from this day on, such as 2026-12-01")
    new.add_argument("--closes", metavar="DATE", help="told to players: up to this day")
    new.add_argument("--file", metavar="FILE", type=Path, help="also write a small file that can be sent")
    new.add_argument("--picture", metavar="FILE", type=Path, help="also write the line as a picture for paper (SVG)")
    play = parser.add_argument_group("play, hand-in")
    play.add_argument("--name", default="", metavar="NAME", help="your name, as others will read it")
    play.add_argument("--again", action="store_true", help="play: begin another try, which is marked as one")
    play.add_argument("--plain", action="store_true", help="play: in plain lines, without the full screen")
    play.add_argument("--try", dest="number", default="1", metavar="N", help="hand-in: which try; default: the first")
    play.add_argument("--out", metavar="FILE", type=Path, help="hand-in: where to write; default: the current folder")
    compare = parser.add_argument_group("compare")
    compare.add_argument("--page", metavar="FILE", type=Path, help="write a page to open in a browser or to print")
    compare.add_argument("--csv", metavar="FILE", type=Path, help="write one row for each heat of each player")
    compare.add_argument("--times", action="store_true", help="seconds only, at once: no coach looks at the heats")


def run(args: argparse.Namespace) -> int:
    """Do it."""
    try:
        return {"new": _new, "play": _play, "hand-in": _hand_in, "compare": _compare, "list": _list}[args.what](args)
    except ValueError as error:
        complain(*str(error).splitlines())
        return 1


def _new(args: argparse.Namespace) -> int:
    import secrets

    from client.reports.set_paper import line_picture, set_in_words
    from client.storage.sets import made_here, set_file
    from shared.cards.owned import told_card
    from shared.cards.play import shipped_text
    from shared.rules.set_line import TakeHome, taken_home

    if args.given:
        raise BadArgument("racktempo set new takes options only; see racktempo set --help.")
    settings, card = _settings(args), card_of(args) or shipped_text()
    seed = secrets.randbelow(1 << 32) if settings.seed is None else settings.seed
    told = told_card(card)
    taken = taken_home(settings, told.digest, seed, _day(args, "opens"), _day(args, "closes"))
    if not isinstance(taken, TakeHome):
        raise BadArgument(taken)
    made_here(taken, secrets.token_hex(8), args.title, card)
    for path, data in ((args.file, set_file(taken, args.title, card)), (args.picture, line_picture(taken, args.title))):
        if path:
            _write(path, data)
    say(taken.line, "", *set_in_words(taken, told.title))
    if not told.text:
        say("The card is not shared: players need a copy of their own.")
    say("Others play it with: racktempo set play LINE")
    return 0


def _settings(args: argparse.Namespace) -> "Settings":
    settings = settings_of(args)
    usual = {} if args.preset else {"incoming": "wall", "bot_pace": "no wait"}
    chosen = {"incoming": args.passes_from, "bot_skill": BOTS.get(args.bots or "")}
    return settings.model_copy(update={**usual, **{name: value for name, value in chosen.items() if value}})


def _day(args: argparse.Namespace, name: str) -> int:
    from datetime import date

    text = getattr(args, name)
    try:
        return date.fromisoformat(text).toordinal() if text else 0
    except ValueError:
        raise BadArgument(f"--{name} is {text!r}; it must be a day such as 2026-12-01.") from None


def _play(args: argparse.Namespace) -> int:
    from functools import partial

    from client.hosting.set_table import open_set
    from client.reports.set_paper import set_in_words
    from client.storage.sets import card_wanted, kept_set

    offered = _offered(args)
    taken = offered.taken
    card = card_wanted(taken, offered.card)
    kept = kept_set(taken.line)
    name = args.name or (kept.name if kept else "") or "You"
    opening = partial(open_set, taken, name, card, offered.title, again=args.again)
    if args.plain:
        from client.plain.run import play_plainly
        from client.plain.session import say_whole_words
        from shared.cards.owned import told_card

        for line in set_in_words(taken, told_card(card).title):
            say_whole_words(line)
        return play_plainly(opening(), None, "alone")
    from client.tui.ports import AtDesk
    from client.tui.run import show

    return show(AtDesk(opening), args.name)


def _hand_in(args: argparse.Namespace) -> int:
    from client.storage.history_db import History, HistoryFault, history_path
    from client.storage.sets import card_for, result_name, result_of
    from shared.cards.owned import told_card
    from shared.rules.set_result import RESULT, holds

    if not re.fullmatch("[0-9]{1,4}", args.number):
        raise BadArgument(f"--try is {args.number!r}; it must be a whole number.")
    kept = _kept(args)
    try:
        history = History(history_path())
        try:
            before = [(entry.heat.commitment, entry.heat.played_at) for entry in history.read().entries]
        finally:
            history.close()
    except HistoryFault as fault:
        complain(fault)
        before = []
    result = result_of(kept, args.name or kept.name, int(args.number), before)
    if isinstance(result, str):
        raise ValueError(result)
    shared = bool(told_card(card_for(_offered(args).taken)).text)
    path = args.out or Path(result_name(kept, result))
    say("The result holds:", *(f"  {line}" for line in holds(result, shared)))
    _write(path, RESULT.pack(result))
    say(f"Written to {path}. Send it to whoever compares.")
    return 0


def _kept(args: argparse.Namespace) -> "KeptSet":
    from client.storage.sets import kept_set

    kept = kept_set(_offered(args).taken.line)
    if kept is None:
        raise ValueError("This set was not played on this machine.")
    return kept


def _offered(args: argparse.Namespace) -> "Offered":
    """Return the set that the arguments name; a line may be typed with spaces between its groups."""
    from client.storage.sets import read_offer

    if not args.given:
        raise BadArgument(f"racktempo set {args.what} needs the line of a set, or its file.")
    offered = read_offer(" ".join(args.given))
    if isinstance(offered, str):
        raise ValueError(offered)
    return offered


def _list(args: argparse.Namespace) -> int:
    from client.hosting.set_table import where_it_stands
    from client.storage.sets import kept_sets

    found = kept_sets()
    for kept in found:
        say(kept.line, f"  {kept.called}: {where_it_stands(kept)}")
    if not found:
        say("No set was made or played on this machine yet.")
    return 0


def _compare(args: argparse.Namespace) -> int:
    from datetime import date

    from client.coach.comparing import known_already, shown_here
    from client.reports.evening_csv import ENCODING, heats_csv
    from client.reports.set_compare import compared_lines, compared_page
    from client.storage.sets import read_results, result_files

    if not args.given:
        raise BadArgument("racktempo set compare needs results: files, or a folder of them.")
    results = read_results(result_files(map(Path, args.given)))
    if not results.handed:
        for name, why in results.refused:
            complain(f"{name}: {why}")
        raise ValueError("There is no result to compare.")
    comparing = known_already(results.handed)
    stopped = not args.times and not _look_at(results.handed, comparing)
    shown = shown_here(results, comparing)
    if args.page:
        _write(args.page, compared_page(shown, date.today().isoformat()).encode())
    if args.csv:
        _write(args.csv, heats_csv(shown.played).encode(ENCODING))
    say(*compared_lines(shown))
    if stopped:
        say("", f"Stopped after {comparing.done} of {comparing.every} heats; compare again to go on.")
    return 0


def _look_at(handed: "Sequence[Handed]", comparing: "Comparing") -> bool:
    """Let the coach look at all heats; show how far it is; ctrl-c stops it. Say whether it has seen all."""
    import asyncio

    from client.coach.comparing import compare_all
    from client.storage.sets import card_for

    card = card_for(handed[0].taken)
    if not card:
        complain("This machine does not have the card of this set, so that there are seconds only.")
        return True

    async def look() -> None:
        async for now in compare_all(handed, card, comparing):
            show_progress(f"heat {now.done} of {now.every}; ctrl-c stops, what is done is kept")

    try:
        asyncio.run(look())
    except KeyboardInterrupt:
        return False
    finally:
        show_progress("")
    return True


def _write(path: Path, data: bytes) -> None:
    from client.storage.files import write_whole
    from shared.troubles import describe_error

    try:
        write_whole(path, data)
    except OSError as error:
        raise ValueError(f"{path} cannot be written: {describe_error(error)}.") from error
