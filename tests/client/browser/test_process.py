"""A visitor's process: what it is told, where it works, and that it is served after the host's own programs."""

import json
import os
from pathlib import Path

import pytest

from client.browser.process import clean_environment
from tests.client.browser.test_server import opened

TELLS = """
import json, os, sys
out = sys.stdout.buffer
def say(kind, data):
    out.write(kind + len(data).to_bytes(4, "big") + data)
    out.flush()
out.write(b"__GANGLION__\\n")
say(b"M", json.dumps({"type": "open_url", "url": "https://club.example/", "new_tab": True}).encode())
say(b"M", json.dumps({"type": "deliver_file_start", "key": "k", "path": "p", "open_method": "download",
    "mime_type": "text/plain", "encoding": "utf-8", "name": None}).encode())
say(b"D", json.dumps([os.getcwd(), os.nice(0)]).encode())
sys.stdin.buffer.read()
"""


async def test_a_process_works_in_its_folder_comes_after_others_and_opens_nothing_in_the_browser(
    tmp_path: Path,
) -> None:
    async with opened(tmp_path, TELLS) as browser, browser.line() as line:
        where, niceness = json.loads(await line.receive_bytes())
        assert [Path(where)] == browser.folders()
        assert niceness == min(os.nice(0) + 10, 19)


def test_a_process_is_told_where_programs_and_certificates_lie_its_folder_and_its_screen_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lent = {
        name: f"the host's {name}" for name in ("PATH", "LANG", "LC_ALL", "LC_CTYPE", "SSL_CERT_FILE", "SSL_CERT_DIR")
    }
    for name in list(os.environ):
        monkeypatch.delenv(name)
    for name, value in (lent | {"HOST_SECRET": "fish", "HOME": "/home/host", "COLUMNS": "7"}).items():
        monkeypatch.setenv(name, value)
    own = ("HOME", "TMPDIR", "XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME")
    assert clean_environment(tmp_path, 100, 30) == lent | dict.fromkeys(own, str(tmp_path)) | {
        "TEXTUAL_DRIVER": "textual.drivers.web_driver:WebDriver",
        "TEXTUAL_COLOR_SYSTEM": "truecolor",
        "COLUMNS": "100",
        "ROWS": "30",
        "OPENBLAS_NUM_THREADS": "1",
    }
    monkeypatch.delenv("LANG")
    assert "LANG" not in clean_environment(tmp_path)
