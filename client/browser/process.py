"""A visitor's process as the page's server starts it: by itself, without a shell, in an environment of its own.

Nothing of the host's environment reaches the process, not even where the system keeps what a program began with.
"""

import asyncio
import os
from collections.abc import Awaitable, Callable, Sequence
from pathlib import Path

from textual_serve.app_service import AppService
from textual_serve.download_manager import DownloadManager

_KEPT = ("PATH", "LANG", "LC_ALL", "LC_CTYPE", "SSL_CERT_FILE", "SSL_CERT_DIR", "SYSTEMROOT")
_BEHIND = ("nice", "-n", "10")
"""Visitors come after the host's own programs, from the first moment on: beginning costs a second of a core."""
_HOMES = ("HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME", "TMPDIR")


def clean_environment(folder: Path, width: int = 80, height: int = 24) -> dict[str, str]:
    """Return what a visitor's process is told: where programs and certificates lie, its folder, and its screen."""
    kept = {name: os.environ[name] for name in _KEPT if name in os.environ}
    screen = {
        "TEXTUAL_DRIVER": "textual.drivers.web_driver:WebDriver",
        "TEXTUAL_COLOR_SYSTEM": "truecolor",
        "COLUMNS": str(width),
        "ROWS": str(height),
    }
    # By default numpy takes memory for as many threads as the machine has cores.
    return kept | dict.fromkeys(_HOMES, str(folder)) | screen | {"OPENBLAS_NUM_THREADS": "1"}


class VisitorProcess(AppService):
    """The process of one visitor, whose folder this is; what the library starts by a shell is started by itself."""

    def __init__(
        self,
        program: Sequence[str],
        folder: Path,
        write: Callable[[bytes], Awaitable[None]],
        hang_up: Callable[[], Awaitable[None]],
    ) -> None:
        # What is said to the page's script would offer downloads and open addresses.
        super().__init__(
            "", write_bytes=write, write_str=_say_nothing, close=hang_up, download_manager=DownloadManager()
        )
        self._program, self._folder = program, folder

    @property
    def process(self) -> asyncio.subprocess.Process:
        """The process, once it was started."""
        assert self._process is not None
        return self._process

    async def _open_app_process(self, width: int = 80, height: int = 24) -> asyncio.subprocess.Process:
        pipe = asyncio.subprocess.PIPE
        self._process = await asyncio.create_subprocess_exec(
            *_BEHIND,
            *self._program,
            cwd=self._folder,
            env=clean_environment(self._folder, width, height),
            stdin=pipe,
            stdout=pipe,
            stderr=pipe,
        )
        self._stdin = self._process.stdin
        return self._process


async def _say_nothing(text: str) -> None:
    """Drop a message for the page's script."""
