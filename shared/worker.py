"""A worker: a Python process of our own that takes jobs through one pipe and sends answers through another.

Both ends are here: Worker for the side that asks, work for the process. Nothing is started here; the side that needs a
worker hands in how a process is started. A job and each of its answers is a frame, its length before it; a frame of no
bytes ends the answers to a job.
"""

import contextlib
import sys
from collections.abc import AsyncGenerator, Awaitable, Callable, Iterator, Sequence
from typing import Protocol

_LENGTH_BYTES = 8
_NO_MORE = b""


class Reader(Protocol):
    """The end of a pipe that is read."""

    async def readexactly(self, n: int) -> bytes:
        """Return so many bytes. Raises EOFError if there are fewer."""


class Writer(Protocol):
    """The end of a pipe that is written to."""

    def write(self, data: bytes) -> None:
        """Take bytes."""

    async def drain(self) -> None:
        """Wait while too much is unread. Raises OSError."""


class Process(Protocol):
    """A process with a pipe each way."""

    @property
    def stdin(self) -> Writer | None:
        """Where it reads."""

    @property
    def stdout(self) -> Reader | None:
        """Where it writes."""

    @property
    def pid(self) -> int:
        """Its number."""

    @property
    def returncode(self) -> int | None:
        """How it ended, or None while it runs."""

    def kill(self) -> None:
        """End it at once."""

    async def wait(self) -> int:
        """Return once it has ended."""


Spawn = Callable[[Sequence[str], Sequence[str]], Awaitable[Process]]
"""Starts a command that finds Python modules on a path and nowhere else. Raises OSError."""


class WorkerEnded(Exception):
    """The process ended before it had answered; another may be asked."""


def own_path() -> list[str]:
    """Return where our own modules are found, for a process that must not look into the folder it is started in."""
    return [folder for folder in sys.path if folder]


class Worker:
    """Runs a module as a process that does one job at a time. The first job starts it; it stays for the next one, and
    is started again after its end. Close it."""

    def __init__(self, module: str, spawn: Spawn) -> None:
        """Start nothing yet."""
        self._module, self._spawn = module, spawn
        self._process: Process | None = None

    @property
    def pid(self) -> int | None:
        """The number of the process, if there is one."""
        return self._process.pid if self._process else None

    async def answers(self, job: bytes) -> AsyncGenerator[bytes, None]:
        """Yield the answers to a job as they come. Closing the generator early, or cancelling, ends the process.

        Raises:
            OSError: the process could not be started.
            WorkerEnded: it ended in the middle.
        """
        process, is_done = await self._started(), False
        assert process.stdin is not None
        assert process.stdout is not None
        try:
            process.stdin.write(_framed(job))
            await process.stdin.drain()
            while answer := await _frame(process.stdout):
                yield answer
            is_done = True
        except (OSError, EOFError) as error:
            raise WorkerEnded(type(error).__name__) from error
        finally:
            if not is_done:
                await self.close()

    async def close(self) -> None:
        """End the process, wherever it is."""
        process, self._process = self._process, None
        if process is None:
            return
        if process.returncode is None:
            process.kill()
        await process.wait()

    async def _started(self) -> Process:
        if self._process is None or self._process.returncode is not None:
            # -P: without it Python would look for modules in the working directory first.
            self._process = await self._spawn((sys.executable, "-P", "-m", self._module), own_path())
        return self._process


def work(do: Callable[[bytes], Iterator[bytes]]) -> None:
    """Be a worker: do every job that comes, until nobody is left who could send one. No answer may be empty.

    Standard output is the pipe: what is printed goes to standard error.
    """
    jobs, answers, sys.stdout = sys.stdin.buffer, sys.stdout.buffer, sys.stderr
    with contextlib.suppress(BrokenPipeError):
        while length := jobs.read(_LENGTH_BYTES):
            for answer in do(jobs.read(int.from_bytes(length, "big"))):
                answers.write(_framed(answer))
                answers.flush()
            answers.write(_framed(_NO_MORE))
            answers.flush()


def _framed(data: bytes) -> bytes:
    return len(data).to_bytes(_LENGTH_BYTES, "big") + data


async def _frame(pipe: Reader) -> bytes:
    length = int.from_bytes(await pipe.readexactly(_LENGTH_BYTES), "big")
    return await pipe.readexactly(length)
