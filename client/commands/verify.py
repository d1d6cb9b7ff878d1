"""racktempo verify FILE [FILE]: check that a saved heat was fair and played by the rules, and what people saw of it."""

import argparse
from pathlib import Path

from client.console import say
from client.storage.verify import look_into


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the files."""
    parser.add_argument("file", metavar="FILE", type=Path, help="a whole heat (.heat) or one seat's (.seat)")
    parser.add_argument("other", metavar="FILE", type=Path, nargs="?", help="another seat's, or a seat's whole heat")


def run(args: argparse.Namespace) -> int:
    """Print all faults, or what there is to say if there are none."""
    found = look_into(args.file, args.other)
    if found.faults:
        say(*found.faults)
        return 1
    say(f"{args.file}: no faults. The wall fits its commitment, and every event follows the rules.")
    say(*found.told)
    return 0
