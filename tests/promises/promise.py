"""What a promise is, and how we find out whether its tests mean it: its code is changed, and a test must fail.

The project is copied aside once; nothing is changed here.
"""

import faulthandler
import hashlib
import os
import re
import shutil
import signal
import sys
import tempfile
import time
import traceback
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import NoReturn

import pytest

ROOT = Path(__file__).parents[2]
_OURS = ("client", "server", "shared", "tests")
for _library in ("msgpack", "numpy", "pydantic", "trustme", "websockets.asyncio.client"):
    import_module(_library)  # once, and not in the process of every mutant
SECONDS = 100
"""How long the tests of a mutant may take at least; those of a mutant that waits for ever have failed."""
SOUND_SECONDS, SLOWER = 1_200, 4
"""How long they may take without a mutant, and how many times as long with one: the machine may have other work."""


@dataclass(frozen=True)
class Mutant:
    """A change that breaks a promise: a text that stands once in a file, and what stands there instead."""

    file: str
    cause: str
    instead: str


@dataclass(frozen=True)
class Promise:
    """What is promised, the tests that show it, and changes that break it, each of which a test must notice."""

    what: str
    tests: tuple[str, ...]
    mutants: tuple[Mutant, ...]

    @property
    def files(self) -> tuple[str, ...]:
        """The files that keep it."""
        return tuple(dict.fromkeys(mutant.file for mutant in self.mutants))


@dataclass(frozen=True)
class Outcome:
    """How the tests ended, and the first that failed."""

    text: str
    by: str = ""

    @property
    def is_caught(self) -> bool:
        """Say whether a test noticed."""
        return self.text == "caught"


class Copy:
    """A copy of the project, in which tests are run and code is changed. A folder that exists is used as it is."""

    def __init__(self, folder: Path, root: Path = ROOT) -> None:
        self._root, self._copy = root, folder
        self._sound: dict[tuple[str, ...], tuple[str, float]] = {}
        ignored = shutil.ignore_patterns(".git", ".*_cache", "__pycache__", ".hypothesis", "*.egg-info")
        shutil.copytree(root, folder, ignore=ignored, dirs_exist_ok=True)

    def without(self, promise: Promise, mutant: Mutant) -> Outcome:
        """Return what the promise's tests say of a mutant."""
        for test in promise.tests:
            if not (self._root / test.partition("::")[0]).is_file():
                return Outcome(f"THERE IS NO {test}")
        text = (self._root / mutant.file).read_text("utf-8")
        if text.count(mutant.cause) != 1:
            return Outcome(f"THE CAUSE STANDS {text.count(mutant.cause)} TIMES in {mutant.file}")
        if promise.tests not in self._sound:
            began_s = time.monotonic()
            self._sound[promise.tests] = self._run(promise.tests, SOUND_SECONDS).text, time.monotonic() - began_s
        said, took_s = self._sound[promise.tests]
        if said != "SURVIVED":
            return Outcome(f"WITHOUT ANY CHANGE: {said}")
        try:
            (self._copy / mutant.file).write_text(text.replace(mutant.cause, mutant.instead), "utf-8")
            return self._run(promise.tests, max(SECONDS, SLOWER * took_s))
        finally:
            (self._copy / mutant.file).write_text(text, "utf-8")

    def _run(self, tests: tuple[str, ...], seconds: float) -> Outcome:
        """Run tests in a process of their own, which has the libraries already but nothing of the project."""
        faulthandler.cancel_dump_traceback_later()  # a child would wait for ever for the thread that watches us
        with tempfile.TemporaryFile("w+") as said:
            child = os.fork()
            if not child:
                _test(self._copy, tests, said.fileno())
            until_s = time.monotonic() + seconds
            while not (ended := os.waitpid(child, os.WNOHANG))[0]:
                if time.monotonic() > until_s:
                    os.killpg(child, signal.SIGKILL)
                    os.waitpid(child, 0)
                    return Outcome("caught", "(it waits for ever)")
                time.sleep(0.05)
            said.seek(0)
            text, code = said.read(), os.waitstatus_to_exitcode(ended[1])
        failed = re.findall(r"^(?:FAILED|ERROR) \S+::(\w+)", text, re.MULTILINE)
        if code == 1 and failed:
            return Outcome("caught", failed[0])
        return Outcome("SURVIVED" if code == 0 else f"did not run ({code}): {text[-300:]!r}")


def _test(copy: Path, tests: tuple[str, ...], said: int) -> NoReturn:
    """Be the process of some tests; never return."""
    code = 70
    try:
        os.setsid()
        os.chdir(copy)
        sys.stdout = sys.stderr = os.fdopen(said, "w", encoding="utf-8")
        for stream in (1, 2):
            os.dup2(said, stream)
        for name in [name for name in sys.modules if name.partition(".")[0] in _OURS]:
            del sys.modules[name]
        elsewhere = (str(ROOT), "")
        sys.path[:] = [str(copy), *(path for path in sys.path if path not in elsewhere)]
        os.environ["PYTHONPATH"] = str(copy)
        sys.dont_write_bytecode = True
        code = pytest.main(["-q", "-x", "-n0", "-p", "no:cacheprovider", *tests])
    except BaseException:
        traceback.print_exc()
    finally:
        sys.stdout.flush()
        os._exit(code)


def fingerprint(promise: Promise, mutant: Mutant, root: Path = ROOT) -> str:
    """Return what changes whenever a mutant, its file or a test of the promise does."""
    files = (mutant.file, *(test.partition("::")[0] for test in promise.tests))
    texts = [(root / file).read_text("utf-8") for file in files if (root / file).is_file()]
    return hashlib.sha256(repr((promise.tests, mutant, texts)).encode()).hexdigest()[:24]
