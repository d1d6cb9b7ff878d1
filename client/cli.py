"""The command line: lists the commands, runs one, and reports bad arguments.

Every command is a module in client/commands, imported only when it runs, so that `racktempo --help` is fast. This
module must never open a screen, a socket or a file.
"""

import os
import sys
from collections.abc import Sequence
from importlib import import_module

from client.commands.options import BadArgument, Parser
from client.console import complain, say

COMMANDS = {
    "solo": "play alone with three bots",
    "host": "open a table for others on this network",
    "desk": "run an evening of several tables: seats, starts, standings",
    "join": "join a table that somebody hosts",
    "web": "serve a web page where others can join a table with only a browser",
    "clock": "time a Charleston with real tiles, step by step, for a set of heats",
    "deal": "lay out a deal with real tiles: a sheet to print, for one or two people",
    "set": "a set to take home: make one, play it alone, hand in, compare",
    "drills": "practise one decision at a time, or whole heats that tempt you",
    "review": "review a heat step by step: times, losses and luck",
    "ask": "ask the coach about a rack of real tiles: what to pass, keep or discard",
    "rules": "the rules of the passing phase, and a glossary",
    "card": "write a card of hands, check one, or show it",
    "history": "your own heats: times, losses, and a clock for the next set",
    "verify": "check that a saved heat was fair: its wall, and every event by the rules",
    "messages": "print the protocol as JSON Schema",
}
"""The commands, in the order of the help; each is a module of client.commands."""

OLD_NAMES = {"browser": "web", "read": "ask", "drill": "drills"}
"""The names of commands in the version before this one; they still work."""

ABOUT = """\
racktempo: a timed table and a coach for the passing phase of American mahjong.

Usage: racktempo                    the home screen
       racktempo COMMAND [OPTIONS]  racktempo COMMAND --help lists its options
       racktempo --version

Commands:
"""


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command and return its exit code: 0 success, 1 it failed or found faults, 2 bad command line."""
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
        exit_code: int = command.run(parser.parse_intermixed_args(words[1:]))
    except BadArgument as error:
        complain(*error.args)
        return 2
    except KeyboardInterrupt:
        return 130
    except OSError as error:
        return _unsaid(error)
    return exit_code


def _unsaid(error: OSError) -> int:
    """Report an unexpected error of the system, or a failed write to standard output, and return the exit code."""
    from shared.troubles import describe_error

    if error.filename is not None:
        complain(f"{error.filename} cannot be used: {describe_error(error)}.")
        return 1
    if not isinstance(error, BrokenPipeError):
        complain(f"The output cannot be written: {describe_error(error)}.")
    # Otherwise Python reports the error again when it flushes standard output at exit.
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return 1


def _version() -> int:
    from importlib.metadata import version

    say(f"racktempo {version('racktempo')}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
