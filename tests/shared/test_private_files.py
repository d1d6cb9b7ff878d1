"""Files and folders that nobody but their owner may read, at any moment."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from shared.private_files import create_private, make_private_folder


@pytest.fixture(autouse=True)
def _umask_that_forbids_nothing() -> Iterator[None]:
    before = os.umask(0)
    yield
    os.umask(before)


def mode(path: Path) -> int:
    return path.stat().st_mode & 0o777


def test_a_file_and_all_its_new_folders_are_the_owners_alone(tmp_path: Path) -> None:
    tmp_path.chmod(0o755)
    file = tmp_path / "one" / "two" / "file"
    create_private(file)
    assert [mode(path) for path in (file, file.parent, file.parent.parent)] == [0o600, 0o700, 0o700]
    assert mode(tmp_path) == 0o755, "a folder that was there stays as it was"


def test_a_file_that_others_could_read_keeps_what_it_holds_and_is_closed_to_them(tmp_path: Path) -> None:
    file = tmp_path / "file"
    file.write_text("a running heat")
    file.chmod(0o644)
    create_private(file)
    assert mode(file) == 0o600
    assert file.read_text() == "a running heat"


def test_a_new_file_is_closed_to_others_from_the_first_moment(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Path, "chmod", lambda self, mode: None)
    create_private(tmp_path / "file")
    assert mode(tmp_path / "file") == 0o600


def test_a_folder_that_another_process_makes_first_is_no_trouble(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "one").mkdir()
    monkeypatch.setattr(Path, "exists", lambda self: self == tmp_path)
    make_private_folder(tmp_path / "one" / "two")
    assert (tmp_path / "one" / "two").is_dir()


def test_what_is_no_file_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(IsADirectoryError):
        create_private(tmp_path)
