"""Texts of ill will for tests, and a terminal of which every byte that a program writes to it is kept."""

import asyncio
import fcntl
import os
import pty
import struct
import subprocess
import sys
import termios
from collections.abc import AsyncIterator, Iterator, Sequence
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

M = TypeVar("M", bound=BaseModel)
ROOT = Path(__file__).parents[2]
SIGN = "EVIL"
EVIL = f"{SIGN}\x1b]777;own\x07\x9d777;own\x9c\x1b[31m\x9b31m\x1bP0q\x1b\\\x08\x7f\u202e\u2028[bold]"
EVIL_NAME = f"{SIGN}\x1b]0;o\x07\x9b31m\u202e"
"""As bad, and short enough to be somebody's name."""
ACTS = (
    b"\x1b]777",
    b"777;own\x07",
    b"\xc2\x9d",
    b"\xc2\x9b",
    b"\x1bP",
    b"EVIL\x1b",
    b"\xe2\x80\xae",
    b"\xe2\x80\xa8",
    b"\x7f",
)
"""What of it would act: a title or clipboard sequence, C1 controls, device strings, colours, text that runs back."""
CRASHES = (b"Traceback", b"Error:", b"Unhandled", b"Exception")


def spoilt(value: M, but: Sequence[str] = ()) -> M:
    """Return a value with ill words in every text field that may hold them, but the named ones."""
    plain: Any = value.model_dump()
    may_hold: dict[str, bool] = {}
    for path in _texts(plain):
        field = ".".join(str(part) for part in path if isinstance(part, str))
        if field not in may_hold:
            may_hold[field] = field not in but and _fits(value, plain, path)
        if may_hold[field]:
            plain = _put(plain, path, EVIL)
    return type(value).model_validate(plain)


def text_fields(value: BaseModel) -> set[str]:
    """Return the fields of a spoilt value in which the ill words stand."""
    plain: Any = value.model_dump()
    paths = [path for path in _texts(plain) if _get(plain, path) == EVIL]
    return {".".join(str(part) for part in path if isinstance(part, str)) for path in paths}


def _texts(plain: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    if isinstance(plain, str):
        yield path
    elif isinstance(plain, dict):
        for key, value in plain.items():
            yield from _texts(value, (*path, key))
    elif isinstance(plain, list | tuple):
        for number, value in enumerate(plain):
            yield from _texts(value, (*path, number))


def _get(plain: Any, path: tuple[str | int, ...]) -> Any:
    return _get(plain[path[0]], path[1:]) if path else plain


def _put(plain: Any, path: tuple[str | int, ...], text: str) -> Any:
    """Return the same with another text at a path."""
    if not path:
        return text
    if isinstance(plain, dict):
        return {key: _put(value, path[1:], text) if key == path[0] else value for key, value in plain.items()}
    return tuple(_put(value, path[1:], text) if at == path[0] else value for at, value in enumerate(plain))


def _fits(value: BaseModel, plain: Any, path: tuple[str | int, ...]) -> bool:
    try:
        type(value).model_validate(_put(plain, path, EVIL))
    except ValidationError:
        return False
    return True


def assert_harmless(written: bytes) -> None:
    """Hold that ill words were shown and that nothing of them acts, and nothing crashed."""
    assert SIGN.encode() in written, "nothing of the ill words was shown at all"
    assert [act for act in ACTS if act in written] == []
    assert [crash for crash in CRASHES if crash in written] == [], written[-3_000:].decode(errors="replace")


class Terminal:
    """A program that believes it has a terminal of 80 by 24; seen is all that it wrote."""

    def __init__(self, handle: int, process: subprocess.Popen[bytes]) -> None:
        self.seen = bytearray()
        self._handle, self._process = handle, process
        self._news = asyncio.Event()

    def take(self) -> None:
        """Take in what the program wrote."""
        try:
            self.seen.extend(os.read(self._handle, 65_536))
        except OSError:
            asyncio.get_running_loop().remove_reader(self._handle)  # the program has ended
        self._news.set()

    async def quiet(self, for_s: float = 0.35, at_most_s: float = 2.0) -> None:
        """Wait until nothing more is written; a running clock writes for ever, so that this has an end."""
        ends_s = asyncio.get_running_loop().time() + at_most_s
        while asyncio.get_running_loop().time() < ends_s:
            self._news.clear()
            try:
                async with asyncio.timeout(for_s):
                    await self._news.wait()
            except TimeoutError:
                return

    async def until(self, words: bytes, within_s: float = 30) -> None:
        """Wait until words were written."""
        async with asyncio.timeout(within_s):
            while words not in self.seen:
                self._news.clear()
                await self._news.wait()

    async def type(self, *keys: bytes) -> None:
        """Press keys, and wait after each until the program has answered."""
        for key in keys:
            self.press(key)
            await self.quiet(0.15, 0.3)

    def press(self, key: bytes) -> None:
        """Press a key."""
        os.write(self._handle, key)

    @property
    def pid(self) -> int:
        """The program's process."""
        return self._process.pid

    def has_ended(self) -> bool:
        return self._process.poll() is not None

    def end(self) -> None:
        self._process.kill()
        self._process.wait()
        os.close(self._handle)


def _started(command: list[str], terminal: int, environment: dict[str, str], folder: Path) -> subprocess.Popen[bytes]:
    return subprocess.Popen(command, stdin=terminal, stdout=terminal, stderr=terminal, env=environment, cwd=folder)


@asynccontextmanager
async def terminal_of(*words: str, home: Path) -> AsyncIterator[Terminal]:
    """Run racktempo with a terminal and with folders of its own."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    how = termios.tcgetattr(theirs)
    how[3] &= ~termios.ECHO
    termios.tcsetattr(theirs, termios.TCSANOW, how)
    homes = {name: str(home) for name in ("XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME")}
    environment = {**os.environ, **homes, "TERM": "xterm-256color", "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-m", "client.cli", *words]
    terminal = Terminal(ours, _started(command, theirs, environment, home))
    os.close(theirs)
    asyncio.get_running_loop().add_reader(ours, terminal.take)
    try:
        yield terminal
    finally:
        asyncio.get_running_loop().remove_reader(ours)
        terminal.end()
