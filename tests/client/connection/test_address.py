"""What people type when they mean a table."""

import doctest

import pytest
from hypothesis import given
from hypothesis import strategies as st

from client.connection import address
from client.connection.address import Address, BadAddress, read_address
from shared.wire.messages import PORT


@pytest.mark.parametrize(
    ("text", "host", "port", "private"),
    [
        ("boathouse.local", "boathouse.local", PORT, False),
        (" 192.168.1.7:15300 ", "192.168.1.7", 15300, False),
        ("[fe80::1%eth0]:99", "fe80::1%eth0", 99, False),
        ("fe80::1", "fe80::1", PORT, False),
        ("ws://boathouse:99/", "boathouse", 99, False),
        ("wss://boathouse", "boathouse", PORT, True),
    ],
)
def test_an_address_is_read(text: str, host: str, port: int, private: bool) -> None:
    assert read_address(text) == Address(host, port, private)


@pytest.mark.parametrize(
    "text",
    ["", ":", "a b", "host:", "host:0", "host:65536", "host:x", "http://host", "[::1]x", "a/b", "a..b", "\udcff"],
)
def test_what_is_no_address_is_told_in_a_sentence(text: str) -> None:
    with pytest.raises(BadAddress, match=r"\.$"):
        read_address(text)


@given(st.text(max_size=40))
def test_whatever_is_typed_is_an_address_or_a_sentence(text: str) -> None:
    try:
        read = read_address(text)
    except BadAddress:
        return
    assert read_address(str(read)) == Address(read.host, read.port)


def test_the_examples_are_true() -> None:
    assert doctest.testmod(address).failed == 0


def test_a_fingerprint_goes_with_a_private_address_and_may_be_grouped() -> None:
    assert read_address("wss://boathouse:99#3F9A:77c1-d2e4:f506").fingerprint == "3f9a77c1d2e4f506"
    assert str(read_address("wss://boathouse:99#3f9a77c1d2e4f506")) == "boathouse:99"


@pytest.mark.parametrize(
    "text", ["boathouse#3f9a77c1d2e4f506", "wss://boathouse#3f9a", "wss://boathouse#", "wss://b#zz"]
)
def test_what_is_no_fingerprint_is_told(text: str) -> None:
    with pytest.raises(BadAddress, match="fingerprint"):
        read_address(text)
