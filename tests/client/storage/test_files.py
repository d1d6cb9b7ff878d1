"""A file is written whole or not at all."""

import os
from pathlib import Path

import pytest

from client.storage.files import write_whole
from tests.client.full_disk import full_disk


def test_a_file_is_written_for_its_owner_only_and_nothing_else_is_left(tmp_path: Path) -> None:
    write_whole(tmp_path / "new" / "file", b"one")
    write_whole(tmp_path / "new" / "file", b"two")
    assert (tmp_path / "new" / "file").read_bytes() == b"two"
    assert os.listdir(tmp_path / "new") == ["file"]
    assert (tmp_path / "new" / "file").stat().st_mode & 0o077 == 0


def test_what_cannot_be_written_leaves_the_old_content(tmp_path: Path) -> None:
    write_whole(tmp_path / "file", b"old")
    with full_disk(), pytest.raises(OSError, match="too large"):
        write_whole(tmp_path / "file", b"new" * 10)
    assert os.listdir(tmp_path) == ["file"]
    assert (tmp_path / "file").read_bytes() == b"old"
