"""All output to standard output and standard error goes through here, line by line.

Much of it is text of others: names, cards, files, messages of a host. We replace every character that could control a
terminal or that the stream cannot encode. No other module may print (the linter checks); screens draw through
client.tui.widgets.canvas, by the same rule. Must never import anything slow, since every command uses it.
"""

import sys
import unicodedata
from typing import TextIO


class BadArgument(Exception):
    """The command line makes no sense; args are sentences for a person, a line each."""


def say(*lines: object) -> None:
    """Write lines to standard output at once."""
    for line in lines:
        _write(sys.stdout, f"{harmless(line)}\n")


def new_sheet() -> None:
    """Begin a new sheet of paper, where standard output goes to a printer or a file; on a terminal leave a gap."""
    _write(sys.stdout, "\n" if is_terminal(sys.stdout) else "\f")


def complain(*lines: object) -> None:
    """Write lines to standard error at once."""
    for line in lines:
        _write(sys.stderr, f"{harmless(line)}\n")


def ask(question: str) -> str:
    """Ask on the terminal and return the answer. Raises EOFError at the end of the input."""
    _write(sys.stdout, harmless(question))
    answer = sys.stdin.readline() if sys.stdin is not None else ""
    if not answer:
        raise EOFError
    return answer


def is_terminal(stream: TextIO | None) -> bool:
    """Say whether a standard stream exists and is a terminal."""
    return stream is not None and stream.isatty()


def show_progress(line: str) -> None:
    """Replace the current line of standard error, if that is a terminal; an empty line erases it."""
    if is_terminal(sys.stderr):
        _write(sys.stderr, f"\r{harmless(line)}\033[K")


def log_to_standard_error() -> None:
    """Send the log to standard error."""
    import logging

    class Harmless(logging.Formatter):
        def format(self, record: logging.LogRecord) -> str:
            return "\n".join(harmless(line) for line in super().format(record).split("\n"))

    handler = logging.StreamHandler()
    handler.setFormatter(Harmless("%(asctime)s %(levelname)s %(message)s"))
    logging.basicConfig(level=logging.INFO, handlers=[handler])


def harmless(text: object) -> str:
    """Return one line of text for a terminal, with every character that could control it replaced.

    >>> harmless("one\\x1b[2J\\u202etwo\\udcff\\n")
    'one�[2J�two��'
    """
    return "".join("\ufffd" if acts(char) else char for char in str(text))


def acts(char: str) -> bool:
    """Say whether a character could control a terminal: a control, format or line-ending one, or no character."""
    return unicodedata.category(char) in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")


def _write(stream: TextIO | None, text: str) -> None:
    if stream is not None:
        encoding = stream.encoding or "utf-8"
        stream.write(text.encode(encoding, "replace").decode(encoding))
        stream.flush()
