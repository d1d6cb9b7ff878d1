"""racktempo verify FILE: check that a saved heat was fair and played by the rules."""

import argparse
from pathlib import Path

from client.console import say
from client.storage.verify import verify


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the file."""
    parser.add_argument("file", metavar="FILE", type=Path, help="a saved heat (.heat)")


def run(args: argparse.Namespace) -> int:
    """Print all faults, or one line if there are none."""
    faults = verify(args.file)
    say(*faults)
    if not faults:
        say(f"{args.file}: no faults. The wall fits its commitment, and every event follows the rules.")
    return 1 if faults else 0
