"""A file is written whole or not at all."""

import os
import stat
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from client.storage.files import write_whole
from client.storage.history_db import History
from server.store import Database
from tests.client.full_disk import full_disk
from tests.client.heats import heat


def test_a_file_is_written_for_its_owner_only_and_nothing_else_is_left(tmp_path: Path) -> None:
    write_whole(tmp_path / "new" / "file", b"one")
    write_whole(tmp_path / "new" / "file", b"two")
    assert (tmp_path / "new" / "file").read_bytes() == b"two"
    assert os.listdir(tmp_path / "new") == ["file"]
    assert (tmp_path / "new" / "file").stat().st_mode & 0o077 == 0


@pytest.fixture
def no_umask() -> Iterator[None]:
    before = os.umask(0)
    yield
    os.umask(before)


@pytest.mark.usefixtures("no_umask")
@pytest.mark.parametrize(
    "make",
    [
        lambda path: write_whole(path, b"one"),
        lambda path: History(path).add(heat(1)),
        lambda path: Database(path).close(),
    ],
    ids=["a file of the player's", "the history", "the tables"],
)
def test_without_a_umask_all_that_is_made_is_its_owners_alone(tmp_path: Path, make: Callable[[Path], object]) -> None:
    path = tmp_path / "one" / "two" / "file"
    make(path)
    modes = {made.name: stat.S_IMODE(made.stat().st_mode) for made in (path.parents[1], path.parent, path)}
    assert modes == {"one": 0o700, "two": 0o700, "file": 0o600}


def test_what_cannot_be_written_leaves_the_old_content(tmp_path: Path) -> None:
    write_whole(tmp_path / "file", b"old")
    with full_disk(), pytest.raises(OSError, match="too large"):
        write_whole(tmp_path / "file", b"new" * 10)
    assert os.listdir(tmp_path) == ["file"]
    assert (tmp_path / "file").read_bytes() == b"old"
