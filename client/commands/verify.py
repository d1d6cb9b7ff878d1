"""racktempo verify FILE: whether a saved heat was fair and played by the rules."""

import argparse
from pathlib import Path

from client.console import say
from client.storage.verify import verify


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take the file."""
    parser.add_argument("file", metavar="FILE", type=Path, help="a heat as racktempo saves it (.heat)")


def run(args: argparse.Namespace) -> int:
    """Print what does not fit, or one line when all is well."""
    faults = verify(args.file)
    say(*faults)
    if not faults:
        say(f"{args.file}: all is well. The wall is the one that was promised, and every event follows the rules.")
    return 1 if faults else 0
