"""The key by which the page for browsers proves for whom it asks, and what it proves."""

import stat
from pathlib import Path

import pytest

from shared.visitors import KEY_BYTES, is_our_page, page_key, visitor_proof

KEY, OTHER = b"k" * KEY_BYTES, b"o" * KEY_BYTES


def test_the_key_is_made_once_and_only_its_owner_can_read_it(tmp_path: Path) -> None:
    path = tmp_path / "data" / "page.key"
    assert page_key(path, KEY) == KEY
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700
    assert page_key(path, OTHER) == KEY


@pytest.mark.parametrize("damaged", [b"", b"k" * (KEY_BYTES - 1), b"k" * (KEY_BYTES + 1)])
def test_a_key_of_another_length_is_made_anew(tmp_path: Path, damaged: bytes) -> None:
    path = tmp_path / "page.key"
    path.write_bytes(damaged)
    assert page_key(path, KEY) == KEY
    assert path.read_bytes() == KEY
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_where_no_file_can_be_made_there_is_no_key_and_nothing_is_proved(tmp_path: Path) -> None:
    assert page_key(tmp_path, KEY) == b""
    assert not is_our_page(b"", "192.0.2.1", visitor_proof(b"", "192.0.2.1"))


def test_a_proof_is_good_for_one_address_and_one_key() -> None:
    proof = visitor_proof(KEY, "192.0.2.1")
    assert is_our_page(KEY, "192.0.2.1", proof)
    assert not is_our_page(KEY, "192.0.2.11", proof)
    assert not is_our_page(OTHER, "192.0.2.1", proof)
    for place in range(len(proof)):
        assert not is_our_page(KEY, "192.0.2.1", proof[:place] + bytes([proof[place] ^ 1]) + proof[place + 1 :])
    assert not is_our_page(KEY, "192.0.2.1", proof[:-1])
    assert not is_our_page(KEY, "192.0.2.1", b"")
