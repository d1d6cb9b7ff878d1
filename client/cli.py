"""The command line: which commands there are, and how a bad word on it is answered.

Every command lives in a module of its own under client/commands and is imported only when it is called, so
that `racktempo --help` answers at once. Nothing here opens a screen, a socket or a file.
"""

import os
import sys
from collections.abc import Sequence
from importlib import import_module

from client.commands.options import BadArgument, Parser
from client.console import complain, say

COMMANDS = {
    "solo": "play with three bots at once, alone",
    "host": "open a table for others on this network",
    "desk": "run an evening of several tables: seats, starts, standings",
    "join": "sit down at a table that somebody hosts",
    "web": "serve a page on which visitors of one table need nothing but a browser",
    "clock": "time people who have real tiles on a table: the step, its clock, the heats of a set",
    "drill": "deals that tempt, your costliest decisions, or a saved heat from any step",
    "review": "look at a heat again: seconds, losses and luck, step by step",
    "read": "read a rack of real tiles: the hands it is near, every pass ranked",
    "rules": "the rules of the passing as a table plays them, and what the words mean",
    "card": "check a card of hands, or show it",
    "history": "what your own heats say: times, losses, and a clock for the next set",
    "verify": "check a saved heat: its wall, and every event against the rules",
    "messages": "print the protocol as JSON Schema",
}
"""What can be called, in the order in which help lists it; each is a module of client.commands."""

OLD_NAMES = {"browser": "web"}
"""What a command was called in the version before this one; the old name still works."""

ABOUT = """\
racktempo: a timed table and a coach for the passing phase of American mahjong.

Usage: racktempo                    the home screen
       racktempo COMMAND [OPTIONS]  racktempo COMMAND --help tells its options
       racktempo --version

Commands:
"""


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command and return its exit code: 0 well, 1 it found fault, 2 the command line made no sense."""
    words = list(sys.argv[1:] if argv is None else argv)
    first = words[0] if words else "home"
    try:
        if first in ("-h", "--help", "help"):
            say(*ABOUT.splitlines(), *(f"  {name:<10} {told}" for name, told in COMMANDS.items()))
            return 0
        if first == "--version":
            return _version()
        first = OLD_NAMES.get(first, first)
        if words and first not in COMMANDS:
            raise BadArgument(f"There is no command {first!r}; racktempo --help lists them all.")
        command = import_module(f"client.commands.{first}")
        parser = Parser(first, COMMANDS.get(first, ""))
        command.add_arguments(parser)
        exit_code: int = command.run(parser.parse_args(words[1:]))
    except BadArgument as error:
        complain(*error.args)
        return 2
    except KeyboardInterrupt:
        return 130
    except OSError as error:
        return _unsaid(error)
    return exit_code


def _unsaid(error: OSError) -> int:
    """Return the exit code where the system refuses something that nobody expected, or takes no more of our words."""
    from shared.troubles import describe_error

    if error.filename is not None:
        complain(f"{error.filename} cannot be used: {describe_error(error)}.")
        return 1
    if not isinstance(error, BrokenPipeError):
        complain(f"What there is to say cannot be written: {describe_error(error)}.")
    # Python would complain once more when it flushes what is left.
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return 1


def _version() -> int:
    from importlib.metadata import version

    say(f"racktempo {version('racktempo')}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
