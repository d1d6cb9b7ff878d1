"""What a promise is, and how we find out whether its tests mean it: its code is changed, and a test must fail.

The project is copied aside once; nothing is changed here.
"""

import hashlib
import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
SECONDS = 100
"""How long the tests of a mutant may take; those of a mutant that waits for ever have failed."""


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
        self._sound: dict[tuple[str, ...], str] = {}
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
            self._sound[promise.tests] = self._run(promise.tests, 3 * SECONDS).text
        if self._sound[promise.tests] != "SURVIVED":
            return Outcome(f"WITHOUT ANY CHANGE: {self._sound[promise.tests]}")
        try:
            (self._copy / mutant.file).write_text(text.replace(mutant.cause, mutant.instead), "utf-8")
            return self._run(promise.tests, SECONDS)
        finally:
            (self._copy / mutant.file).write_text(text, "utf-8")

    def _run(self, tests: tuple[str, ...], seconds: int) -> Outcome:
        command = [sys.executable, "-B", "-m", "pytest", "-q", "-x", "-n0", "-p", "no:cacheprovider", *tests]
        environment = {**os.environ, "PYTHONPATH": str(self._copy)}
        with subprocess.Popen(
            command, cwd=self._copy, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=environment
        ) as process:
            try:
                said, _ = process.communicate(timeout=seconds)
            except subprocess.TimeoutExpired:
                process.kill()
                return Outcome("caught", "(it waits for ever)")
        failed = re.findall(r"^(?:FAILED|ERROR) \S+::(\w+)", said, re.MULTILINE)
        if process.returncode == 1 and failed:
            return Outcome("caught", failed[0])
        return Outcome("SURVIVED" if process.returncode == 0 else f"did not run: {said[-300:]!r}")


def fingerprint(promise: Promise, mutant: Mutant, root: Path = ROOT) -> str:
    """Return what changes whenever a mutant, its file or a test of the promise does."""
    files = (mutant.file, *(test.partition("::")[0] for test in promise.tests))
    texts = [(root / file).read_text("utf-8") for file in files if (root / file).is_file()]
    return hashlib.sha256(repr((promise.tests, mutant, texts)).encode()).hexdigest()[:24]
