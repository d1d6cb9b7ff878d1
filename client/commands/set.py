"""racktempo set: a set to take home: make one, play it, hand in what came of it, compare what others handed in."""

import argparse
import re
from pathlib import Path
from typing import TYPE_CHECKING

from client.commands.options import BadArgument, add_settings, card_of, settings_of
from client.console import complain, say, show_progress

if TYPE_CHECKING:
    from client.reports.set_compare import Compared
    from client.storage.sets import Results
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
    play.add_argument("--line", action="store_true", help="hand-in: print one line to paste, and write no file")
    compare = parser.add_argument_group("compare (files, folders, pasted lines, and .txt files of such lines)")
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
    from client.hosting.take_home import make, write
    from client.reports.set_paper import line_picture, set_in_words
    from client.storage.sets import set_file
    from shared.cards.owned import told_card
    from shared.cards.play import shipped_text

    if args.given:
        raise BadArgument("racktempo set new takes options only; see racktempo set --help.")
    settings, card = _settings(args), card_of(args) or shipped_text()
    taken = make(settings, card, args.title, _day(args, "opens"), _day(args, "closes"))
    for path, data in ((args.file, set_file(taken, args.title, card)), (args.picture, line_picture(taken, args.title))):
        if path:
            write(path, data)
    told = told_card(card)
    say(taken.line, "", *set_in_words(taken, told.title))
    if not told.text:
        say("The card is not shared: players need a copy of their own.")
    say("Others play it with: racktempo set play LINE")
    for path in filter(None, (args.file, args.picture)):
        say(f"Written: {path}")
    return 0


def _settings(args: argparse.Namespace) -> "Settings":
    from client.hosting.take_home import USUAL

    chosen = {"incoming": args.passes_from, "bot_skill": BOTS.get(args.bots or "")}
    usual = {} if args.preset else USUAL
    return settings_of(args).model_copy(update={**usual, **{name: value for name, value in chosen.items() if value}})


def _day(args: argparse.Namespace, name: str) -> int:
    from datetime import date

    text = getattr(args, name)
    try:
        return date.fromisoformat(text).toordinal() if text else 0
    except ValueError:
        raise BadArgument(f"--{name} is {text!r}; it must be a day such as 2026-12-01.") from None


def _play(args: argparse.Namespace) -> int:
    from functools import partial

    from client.hosting.take_home import look, play

    text, again = _text(args), args.again
    shown, opening = look(text), play(text, args.name, again)
    if args.plain:
        from client.plain.run import play_plainly
        from client.plain.session import say_whole_words

        for line in shown.words:
            say_whole_words(line)
        return play_plainly(opening, None, "take home")
    from client.tui.ports import AtDesk
    from client.tui.run import show

    return show(AtDesk(partial(play, text, args.name, again)), args.name)


def _hand_in(args: argparse.Namespace) -> int:
    from client.hosting.result_lines import line_of
    from client.hosting.take_home import result_here, what_it_holds, write_result
    from client.storage.sets import result_name

    if not re.fullmatch("[0-9]{1,4}", args.number):
        raise BadArgument(f"--try is {args.number!r}; it must be a whole number.")
    kept, result = result_here(_text(args), args.name, int(args.number))
    say("The result holds:", *(f"  {line}" for line in what_it_holds(result, args.line)))
    if args.line:
        say("", line_of(result), "", "Copy the line as a whole and send it to whoever compares.")
        return 0
    path = write_result(kept, result, args.out or Path(result_name(kept, result)))
    say(f"Written to {path}. Send it to whoever compares.")
    return 0


def _text(args: argparse.Namespace) -> str:
    """Return the line or the file that the arguments name; a line may be typed with spaces between its groups."""
    if not args.given:
        raise BadArgument(f"racktempo set {args.what} needs the line of a set, or its file.")
    return " ".join(args.given)


def _list(args: argparse.Namespace) -> int:
    from client.hosting.take_home import listed

    found = listed()
    for shown in found:
        say(shown.line, f"  {shown.called}: {shown.stands}")
    if not found:
        say("No set was made or played on this machine yet.")
    return 0


def _compare(args: argparse.Namespace) -> int:
    from datetime import date

    from client.hosting.take_home import results_of, write
    from client.reports.evening_csv import ENCODING, heats_csv
    from client.reports.set_compare import compared_lines, compared_page

    if not args.given:
        raise BadArgument("racktempo set compare needs results: files, a folder of them, or pasted lines.")
    show_progress("reading the results")
    try:
        results = results_of(args.given)
    finally:
        show_progress("")
    shown, rest = _look_at(results, not args.times)
    if args.page:
        write(args.page, compared_page(shown, date.today().isoformat()).encode())
    if args.csv:
        write(args.csv, heats_csv(shown.played).encode(ENCODING))
    say(*compared_lines(shown))
    if rest:
        say("", rest)
    return 0


def _look_at(results: "Results", with_coach: bool) -> "tuple[Compared, str]":
    """Let the coach look at all heats and show how far it is; ctrl-c stops it. Return also a sentence on the rest."""
    import asyncio
    from contextlib import aclosing

    from client.coach.comparing import Comparing, Sight
    from client.hosting.take_home import looked_at
    from client.storage.sets import card_for

    sight, now = Sight.here(results), Comparing()

    async def look() -> None:
        nonlocal now
        async with aclosing(looked_at(results, with_coach)) as growing:
            async for now in growing:
                if with_coach:
                    show_progress(f"heat {now.done} of {now.every}; ctrl-c stops, what is done is kept")

    try:
        asyncio.run(look())
    except KeyboardInterrupt:
        complain("Stopped.")
    show_progress("")
    rest = f"{now.done} of {now.every} heats were looked at; compare again to go on." if now.done < now.every else ""
    if with_coach and not card_for(results.handed[0].taken):
        rest = "This machine does not have the card of this set, so that there are seconds only."
    return sight.shown(now), rest if with_coach else ""
