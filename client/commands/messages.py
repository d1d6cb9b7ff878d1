"""racktempo messages: print the protocol as JSON Schema, so that others can write a client."""

import argparse
import json

from client.console import say
from shared.wire.messages import schemas


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take no options."""


def run(args: argparse.Namespace) -> int:
    """Print the schemas."""
    say(*json.dumps(schemas(), indent=2).splitlines())
    return 0
