"""racktempo rules: print the rules of the passing phase for a table's settings, and a glossary."""

import argparse

from client.commands.options import settings_of
from client.console import complain, say


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add a word to look up, and the preset."""
    parser.add_argument("word", nargs="?", default="", metavar="WORD", help="print only this word of the glossary")
    parser.add_argument("--preset", metavar="NAME", help="the rules for the settings saved under this name")
    parser.set_defaults(level=None, heats=None, seed=None)


def run(args: argparse.Namespace) -> int:
    """Print the rules and the glossary, or what the glossary says about a word."""
    from client.reports.rules import found_in, rules_of
    from client.text import wrapped

    found = found_in(args.word)
    if not found:
        complain(f"The glossary has no word like {args.word!r}; racktempo rules prints them all.")
        return 1
    for section in () if args.word else rules_of(settings_of(args)):
        say(section.title, *(f"  {line}" for text in section.lines for line in wrapped(text, 76)), "")
    say(*("Words",) * (not args.word))
    width = max(len(word) for word, _ in found) + 2
    for word, means in found:
        first, *more = wrapped(means, 78 - 2 - width)
        say(f"  {word:<{width}}{first}", *(f"  {'':<{width}}{line}" for line in more))
    return 0
