"""What goes wrong with files, disks and databases, in words: no numbers, and no names that only the system knows."""

import errno
import os
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from shared.troubles import describe_error, quoted


def of_sqlite(name: str) -> sqlite3.Error:
    """Return an error as SQLite names it, with what it adds to the name to say where it was."""
    error = sqlite3.OperationalError("disk I/O error")
    error.sqlite_errorname = name
    return error


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOSPC, "the disk is full"),
        (errno.EPERM, "you have no permission"),
        (errno.EMFILE, "too many files are open"),
        (errno.EADDRINUSE, "it is in use by another program"),
        (errno.EADDRNOTAVAIL, "this machine has no such address"),
    ],
)
def test_what_the_system_refuses_is_told_without_its_numbers(number: int, words: str) -> None:
    assert describe_error(OSError(number, os.strerror(number), "tables.sqlite3")) == words


def test_what_we_have_no_words_for_is_told_in_those_of_the_system() -> None:
    assert describe_error(OSError(errno.ETXTBSY, "Text file busy")) == "Text file busy"
    assert describe_error(OSError()) == "the system gives no reason"


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("SQLITE_FULL", "the disk is full"),
        ("SQLITE_IOERR_WRITE", "the disk reports an error"),
        ("SQLITE_BUSY_SNAPSHOT", "another program is using it"),
        ("SQLITE_READONLY_DBMOVED", "it is read-only"),
        ("SQLITE_SCHEMA", "its content is not what it should be"),
    ],
)
def test_what_sqlite_refuses_is_told_by_its_kind(name: str, words: str) -> None:
    assert describe_error(of_sqlite(name)) == words


def test_a_file_that_is_no_database_is_told_as_one(tmp_path: Path) -> None:
    (tmp_path / "letter").write_bytes(b"a letter to my aunt, rather long " * 20)
    with closing(sqlite3.connect(tmp_path / "letter")) as database, pytest.raises(sqlite3.Error) as fault:
        database.execute("SELECT 1 FROM sqlite_master")
    assert describe_error(fault.value) == "it is not a database"


def test_text_that_is_none_is_told_and_what_has_words_of_its_own_keeps_them() -> None:
    with pytest.raises(UnicodeError) as fault:
        b"\xff".decode()
    assert describe_error(fault.value) == "its content is not what it should be"
    assert describe_error(ValueError("a heat has 152 tiles")) == "a heat has 152 tiles"


@pytest.mark.parametrize(("signs", "shown"), [(1, 1), (58, 58), (59, 59), (200, 59)])
def test_of_a_long_value_only_the_beginning_is_quoted(signs: int, shown: int) -> None:
    whole = f"'{'x' * signs}'"
    assert quoted("x" * signs) == (whole if signs <= 58 else f"'{'x' * shown} ...")
