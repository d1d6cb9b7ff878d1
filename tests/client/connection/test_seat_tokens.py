"""A client that is started again finds the token of its seat."""

import os
import sys
from pathlib import Path

import pytest

from client.connection.address import Address
from client.connection.seat_tokens import derived_token, fresh_token, recall, remember, token_path


def test_a_token_is_found_again_by_address_code_and_name(tmp_path: Path) -> None:
    path = token_path(tmp_path, Address("boathouse"), "maple-otter-lemon-07", "Ann")
    remember(path, bytes(range(16)))
    again = token_path(tmp_path, Address("boathouse"), "Maple Otter Lemon 07", "Ann")
    assert recall(again) == bytes(range(16))
    assert path.stat().st_mode & 0o077 == 0


def test_two_people_on_one_machine_have_two_seats(tmp_path: Path) -> None:
    paths = {
        token_path(tmp_path, Address(host, port), code, name)
        for host in ("boathouse", "shed")
        for port in (1, 2)
        for code in ("maple-otter-lemon-07", "maple-otter-lemon-08")
        for name in ("Ann", "Bo")
    }
    assert len(paths) == 16


def test_the_code_cannot_be_read_off_the_file(tmp_path: Path) -> None:
    path = token_path(tmp_path, Address("boathouse"), "maple-otter-lemon-07", "Ann")
    assert "maple" not in str(path)


def test_a_token_that_cannot_be_read_is_as_good_as_none(tmp_path: Path) -> None:
    path = tmp_path / "token"
    assert recall(path) is None
    for content in (b"", b"zz", b"00" * 15, b"\xff" * 32):
        path.write_bytes(content)
        assert recall(path) is None


def test_a_token_that_cannot_be_kept_is_no_trouble(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    remember(tmp_path / "file" / "token", bytes(16))


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pipes among its files")
def test_a_pipe_in_place_of_a_token_is_as_good_as_none_and_nobody_waits_for_it(tmp_path: Path) -> None:
    path = tmp_path / "token"
    os.mkfifo(path)
    assert recall(path) is None
    remember(path, bytes(16))
    assert path.is_fifo()


def test_a_fresh_token_is_sixteen_bytes_and_another_every_time() -> None:
    assert len(fresh_token()) == 16
    assert fresh_token() != fresh_token()


def test_a_browsers_secret_leads_to_the_same_token_for_the_same_seat_and_to_no_other() -> None:
    secret, here = bytes(range(16)), Address("boathouse")
    token = derived_token(secret, here, "maple-otter-lemon-07", "Ann")
    assert len(token) == 16
    assert derived_token(secret, here, "Maple Otter Lemon 07", "Ann") == token
    others = {
        derived_token(bytes(16), here, "maple-otter-lemon-07", "Ann"),
        derived_token(secret, Address("shed"), "maple-otter-lemon-07", "Ann"),
        derived_token(secret, here, "maple-otter-lemon-08", "Ann"),
        derived_token(secret, here, "maple-otter-lemon-07", "Bo"),
    }
    assert len(others | {token}) == 5
