"""Options that several commands share, and one sentence for every bad argument.

Must never import anything slow at its head: every command makes a parser first.
"""

import argparse
import os
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, NoReturn

from client.console import BadArgument as BadArgument
from client.console import ask

if TYPE_CHECKING:
    from client.setup import Setup
    from shared.rules.settings import Settings


@dataclass(frozen=True, slots=True)
class Hosting:
    """How to open a table or an evening: the port, whether to resume an unfinished one, and certificate with key."""

    port: int
    go_on: Literal["resume", "fresh", "ask"]
    tls: tuple[Path, Path] | None


class Parser(argparse.ArgumentParser):
    """A parser that raises BadArgument with one sentence instead of exiting."""

    def __init__(self, command: str, told: str) -> None:
        super().__init__(f"racktempo {command}", description=told[:1].upper() + told[1:] + ".", allow_abbrev=False)

    def error(self, message: str) -> NoReturn:
        """Raise BadArgument with argparse's message in plain words."""
        found = re.fullmatch(r"argument ([^:]+): expected one argument", message)
        if found:
            raise BadArgument(f"{found[1].split('/')[-1]} needs a value; see {self.prog} --help.")
        found = re.fullmatch(r"unrecognized arguments: (.+)", message)
        if found:
            raise BadArgument(f"{self.prog} does not know {found[1]!r}; see {self.prog} --help.")
        found = re.fullmatch(r"the following arguments are required: (.+)", message)
        if found:
            raise BadArgument(f"{self.prog} needs {found[1]}; see {self.prog} --help.")
        found = re.fullmatch(r"argument ([^:]+): ignored explicit argument .*", message)
        if found:
            raise BadArgument(f"{found[1].split('/')[-1]} takes no value; see {self.prog} --help.")
        found = re.fullmatch(r"argument ([^:]+): invalid choice: ('.*') \(choose from (.+)\)", message)
        if found:
            choices = found[3].replace("'", "")
            raise BadArgument(f"{found[1]} cannot be {found[2]}; it is one of {choices}.")
        raise BadArgument(f"{message[:1].upper()}{message[1:]}; see {self.prog} --help.")


def name_of(args: argparse.Namespace) -> str:
    """Return the name that somebody wants at a table. Raises BadArgument if it would be cut."""
    from shared.names import too_long

    name: str = args.name or ""
    if cut := too_long(name):
        raise BadArgument(cut)
    return name


def add_settings(parser: argparse.ArgumentParser) -> None:
    """Add the options that every new table takes."""
    parser.add_argument("--level", metavar="M:SS", help="time for a whole Charleston, such as 3:00")
    parser.add_argument("--heats", metavar="N", help="heats in a set, 1 to 12")
    parser.add_argument("--seed", metavar="N", help="a whole number; the same one gives the same deals")
    parser.add_argument("--preset", metavar="NAME", help="use the settings saved under this name")
    parser.add_argument("--card", metavar="FILE", help="the card to play by: a file, or a card's name")


def add_hosting(parser: argparse.ArgumentParser, what: str) -> None:
    """Add the options for opening something that others can join; what is its name in the help."""
    from shared.wire.messages import PORT

    parser.add_argument("--port", metavar="PORT", help=f"the port to open; default: {PORT}")
    parser.add_argument("--resume", action="store_true", help=f"go on with the unfinished {what}")
    parser.add_argument("--fresh", action="store_true", help=f"start a new {what} and forget the unfinished one")
    parser.add_argument("--tls-cert", metavar="FILE", type=Path, help="a certificate, for encrypted connections (wss)")
    parser.add_argument("--tls-key", metavar="FILE", type=Path, help="the private key of the certificate")


def hosting_of(args: argparse.Namespace) -> Hosting:
    """Return the options of add_hosting.

    Raises:
        BadArgument: one is wrong, or they contradict each other.
    """
    from client.connection.address import BadAddress, read_port
    from shared.wire.messages import PORT

    try:
        port = PORT if args.port is None else read_port(args.port)
    except BadAddress as error:
        raise BadArgument(str(error)) from error
    if args.resume and args.fresh:
        raise BadArgument("Use only one of --resume and --fresh.")
    if bool(args.tls_cert) != bool(args.tls_key):
        raise BadArgument("--tls-cert and --tls-key go together.")
    tls = (args.tls_cert, args.tls_key) if args.tls_cert else None
    return Hosting(port, "resume" if args.resume else "fresh" if args.fresh else "ask", tls)


def settings_of(args: argparse.Namespace) -> "Settings":
    """Return the settings from the options of add_settings.

    Raises:
        BadArgument: one of them is wrong.
    """
    from shared.rules.settings import Settings, read_settings
    from shared.times import read_time_ms

    values: dict[str, Any] = _preset(args.preset).settings.model_dump() if args.preset else {}
    if args.level is not None:
        level_ms = read_time_ms(args.level)
        if level_ms is None:
            raise BadArgument(f"--level is {args.level!r}; it must be a time such as 3:00, or seconds.")
        values["level_ms"] = level_ms
    for field in ("heats", "seed"):
        text = getattr(args, field)
        if text is not None:
            values[field] = int(text) if re.fullmatch("[0-9]{1,20}", text) else text
    settings = read_settings(values)
    if isinstance(settings, Settings):
        return settings
    raise BadArgument(" ".join(re.sub("^level is [^;]+;", f"--level is {args.level!r};", told) for told in settings))


def card_of(args: argparse.Namespace, otherwise: str = "") -> str:
    """Return the text of the card that --card names, else the preset's, else another; empty for the practice card.

    Raises:
        BadArgument: the card has faults; args lists all of them.
    """
    from client.storage.card_files import BadCard, table_card

    try:
        return table_card(card_named(args) or otherwise or None)
    except BadCard as error:
        raise BadArgument(*error.faults) from error


def card_named(args: argparse.Namespace) -> str:
    """Return the file or name of the card that --card names, else the preset; empty if neither does."""
    preset = getattr(args, "preset", None)
    return args.card or (_preset(preset).card if preset else "")


def yes(question: str) -> bool:
    """Ask on the terminal until the answer is yes or no. Raises ValueError at the end of the input."""
    while True:
        try:
            answer = ask(f"{question}(yes or no) ").strip().lower()
        except EOFError:
            raise ValueError("Use --resume or --fresh.") from None
        if answer in ("y", "yes", "n", "no"):
            return answer.startswith("y")


def _preset(name: str) -> "Setup":
    from client.storage.presets import BadPreset, preset_path, presets_folder, read_preset

    try:
        path = preset_path(presets_folder(), name)
        if not os.path.lexists(path):
            raise BadArgument(f"There is no preset named {name!r} in {presets_folder()}.")
        return read_preset(path)
    except BadPreset as error:
        raise BadArgument(str(error)) from error
