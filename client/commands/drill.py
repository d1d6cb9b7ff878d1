"""racktempo drill: practise a tempting deal, your costliest decisions, or a saved heat from any step."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from client.commands.options import BadArgument, card_of, settings_of
from client.console import complain
from shared.rules.drills import TEMPTING

if TYPE_CHECKING:
    from shared.rules.drills import Laid
    from shared.rules.steps import StepName

COSTLIEST = "costliest"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what to drill, and the clock."""
    parser.add_argument("what", metavar="WHAT", help=f"{', '.join(TEMPTING)}, {COSTLIEST}, or the file of a saved heat")
    parser.add_argument("--from", dest="step", metavar="STEP", help='with a file: the first step, such as "last right"')
    parser.add_argument("--level", metavar="M:SS", help="time for a whole Charleston, such as 3:00")
    parser.add_argument("--seed", metavar="N", help="a whole number; the same one gives the same deal")
    parser.add_argument("--card", metavar="FILE", help="the card to play by: a file, or a card's name")
    parser.add_argument("--name", default="You", metavar="NAME", help="your name at the table")
    parser.set_defaults(heats=None, preset=None)


def run(args: argparse.Namespace) -> int:
    """Lay the tiles, then play."""
    if args.step and args.what in (*TEMPTING, COSTLIEST):
        raise BadArgument("--from needs a file.")
    found = _laid(args)
    if isinstance(found, str):
        complain(found)
        return 1
    from client.tui.ports import AtDrill
    from client.tui.run import show

    return show(AtDrill(*found), args.name)


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
        return f"{args.what!r} is neither a drill ({', '.join((*TEMPTING, COSTLIEST))}) nor the file of a heat."
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
