"""racktempo drills: one decision at a time, or whole heats: tempting deals, costliest decisions, a saved heat."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, get_args

from client.commands.options import BadArgument, card_of, settings_of
from client.console import complain, say
from shared.rules.decisions import DRILLS, Drill
from shared.rules.drills import TEMPTING

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable

    from client.coach.drilling import Drilling
    from client.coach.queue import Coaching
    from client.storage.journal import Journal
    from shared.rules.drills import Laid
    from shared.rules.seat_heat import SeatHeat
    from shared.rules.steps import StepName
    from shared.rules.tiles import Rack

COSTLIEST = "costliest"
_NAMES: dict[str, Drill] = {drill.replace(" ", "-"): drill for drill in get_args(Drill)}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what to drill, and the clock."""
    decisions = f"{', '.join(_NAMES)}: one decision at a time; {', '.join(TEMPTING)}: a whole heat"
    parser.add_argument("what", metavar="WHAT", nargs="?", help=f"{decisions}; or the file of a saved heat")
    parser.add_argument("tiles", metavar="TILES", nargs="*", help="with rack: its tiles, such as 1123b 567c 9d NE FF J")
    parser.add_argument("--whole", action="store_true", help="with costliest: whole heats, played on with bots")
    parser.add_argument("--decisions", action="store_true", help="with a file: each of its decisions, and no heat")
    parser.add_argument("--from", dest="step", metavar="STEP", help='with a file: the first step, such as "last right"')
    parser.add_argument("--level", metavar="M:SS", help="time for a whole Charleston, such as 3:00")
    parser.add_argument("--seed", metavar="N", help="a whole number; the same one gives the same deals")
    parser.add_argument("--card", metavar="FILE", help="the card to play by: a file, or a card's name")
    parser.add_argument("--name", default="You", metavar="NAME", help="your name at the table")
    parser.add_argument("--plain", action="store_true", help="decisions in plain lines on standard input and output")
    parser.set_defaults(heats=None, preset=None)


def run(args: argparse.Namespace) -> int:
    """Lay the tiles, then play."""
    if args.what is None:
        say(
            "Name a drill:",
            *(f"  {name:<10} {DRILLS[drill].title}: {DRILLS[drill].about}" for name, drill in _NAMES.items()),
            f"Or a whole heat: {', '.join(TEMPTING)}, or the file of a saved heat.",
        )
        return 0
    if args.step and args.what in (*TEMPTING, *_NAMES):
        raise BadArgument("--from needs a file.")
    if args.tiles and args.what != "rack":
        raise BadArgument("Only rack takes tiles.")
    if args.decisions or (args.what in _NAMES and not args.whole):
        made = _decisions(args)
        if args.what == COSTLIEST and (fault := _no_history()):
            complain(fault)
            return 1
        return _decide(args, made)
    if args.plain:
        raise BadArgument("Whole heats have no plain lines here; racktempo solo --plain plays a set.")
    found = _laid(args)
    if isinstance(found, str):
        complain(found)
        return 1
    from client.tui.ports import AtDrill
    from client.tui.run import show

    return show(AtDrill(*found), args.name)


def _decide(args: argparse.Namespace, made: "Callable[[Coaching, Journal], Awaitable[Drilling | str]]") -> int:
    """Play a round of decisions, on the screen or in plain lines."""
    if args.plain:
        from client.plain.decisions import decide_plainly

        return decide_plainly(made)
    from client.tui.ports import AtDecisions
    from client.tui.run import show

    return show(AtDecisions(made), args.name)


def _no_history() -> str:
    """Return why the history cannot be read; empty if it can."""
    from client.storage.journal import disk_journal

    read = disk_journal().read()
    return "" if read.entries else " ".join(read.faults)


def _decisions(args: argparse.Namespace) -> "Callable[[Coaching, Journal], Awaitable[Drilling | str]]":
    """Return what makes a round, once there are a coach and a journal.

    Raises:
        BadArgument: an argument is wrong.
    """
    from datetime import UTC, datetime
    from secrets import token_bytes

    from client.coach import drilling
    from shared.cards.play import shipped_text
    from shared.rules.wall import seeded_secret

    settings, card = settings_of(args), card_of(args) or shipped_text()
    drill, seed = _NAMES.get(args.what), settings.seed
    rack, heat = _rack(args) if drill == "rack" else (), _seat_heat(args) if drill is None else None

    def now() -> datetime:
        return datetime.now(UTC)

    async def made(coaching: "Coaching", journal: "Journal") -> "Drilling | str":
        if heat is not None:
            return drilling.every_choice(coaching, heat)
        if drill == "rack":
            return await drilling.of_rack(coaching, rack, settings, card)
        if drill == "costliest" or drill is None:
            return await drilling.own_costliest(coaching, journal, now)
        key = token_bytes(32) if seed is None else seeded_secret(seed, 1)
        return drilling.fresh(coaching, journal, drill, settings, card, key, now)

    return made


def _rack(args: argparse.Namespace) -> "Rack":
    from shared.rules.typed_tiles import read_tiles

    typed = read_tiles(" ".join(args.tiles))
    if typed.faults:
        raise BadArgument(*map(str, typed.faults))
    if len(typed.tiles) not in (13, 14):
        raise BadArgument(f"A rack has 13 or 14 tiles; these are {len(typed.tiles)}.")
    return typed.tiles


def _seat_heat(args: argparse.Namespace) -> "SeatHeat":
    from client.storage.reviews import heat_in_file
    from shared.coach.heats import NoReview

    try:
        return heat_in_file(Path(args.what), None)
    except NoReview as error:
        raise BadArgument(str(error)) from error


def _laid(args: argparse.Namespace) -> "tuple[tuple[Laid, ...], str] | str":
    if args.what in TEMPTING:
        return _tempting(args)
    if args.what == COSTLIEST:
        from client.storage.costliest import lay_costliest
        from client.storage.journal import disk_journal

        journal = disk_journal()
        return lay_costliest(journal.read(), journal.whole)
    return _replay(args)


def _tempting(args: argparse.Namespace) -> "tuple[tuple[Laid, ...], str] | str":
    from secrets import token_bytes

    from client.coach.jobs import lay_drill
    from shared.cards.play import shipped_text
    from shared.rules.wall import seeded_secret

    settings, card = settings_of(args), card_of(args) or shipped_text()
    key = token_bytes(32) if settings.seed is None else seeded_secret(settings.seed, 1)
    try:
        return (lay_drill(card, args.what, settings, key),), card
    except ValueError as error:
        return str(error)


def _replay(args: argparse.Namespace) -> "tuple[tuple[Laid, ...], str] | str":
    from client.storage.card_files import text_for
    from client.storage.verify import read_heat
    from shared.cards.owned import another_card, copy_wanted, is_copy
    from shared.rules.drills import Laid, replay_from
    from shared.rules.seats import seat_of

    path = Path(args.what)
    heat = read_heat(path)
    if isinstance(heat, str) and not path.exists() and len(path.parts) == 1 and not path.suffix:
        drills, whole = ", ".join(_NAMES), ", ".join(TEMPTING)
        return f"{args.what!r} is neither a drill ({drills}), nor a whole heat ({whole}), nor the file of a heat."
    if isinstance(heat, str):
        return heat
    people = [chair for chair, sitter in enumerate(heat.sitters) if sitter == "person"]
    seat = seat_of([*people, 0][0], heat.east)
    laid = replay_from(heat, seat, _step(args.step), settings_of(args) if args.level else None)
    if not isinstance(laid, Laid):
        return laid
    card = heat.card or card_of(args) or text_for(heat)
    if not heat.card and heat.card_digest and not is_copy(card, heat.card_digest):
        return another_card(heat.card_title) if card else copy_wanted(heat.card_title)
    return (laid,), card


def _step(text: str | None) -> "StepName":
    from shared.rules.steps import STEP_NAMES, step_named

    step = step_named(text) if text else STEP_NAMES[0]
    if step is None:
        raise BadArgument(f"--from is {text!r}; it must be one of {', '.join(STEP_NAMES)}.")
    return step
