"""MessagePack bytes as the specification (github.com/msgpack/msgpack, spec.md) gives them, through our codec."""

import pytest

from shared.codec import BadFrame, Codec

ANYTHING: Codec[object] = Codec(object, 10_000)


@pytest.mark.parametrize(
    ("value", "written"),
    [
        (127, "7f"),  # positive fixint
        (128, "cc80"),  # uint 8
        (256, "cd0100"),  # uint 16
        (-32, "e0"),  # negative fixint
        (-33, "d0df"),  # int 8
        ({"compact": True, "schema": 0}, "82a7636f6d70616374c3a6736368656d6100"),  # the example on msgpack.org
        (None, "c0"),
        (False, "c2"),
        (b"\x01", "c40101"),  # bin 8
        ("", "a0"),  # fixstr
    ],
)
def test_values_have_the_bytes_of_the_specification(value: object, written: str) -> None:
    assert ANYTHING.pack(value) == bytes.fromhex(written)
    assert ANYTHING.unpack(bytes.fromhex(written)) == value


def test_the_byte_c1_is_never_used() -> None:
    with pytest.raises(BadFrame):
        ANYTHING.unpack(b"\xc1")


def test_extension_types_are_not_part_of_the_protocol() -> None:
    with pytest.raises(BadFrame):
        ANYTHING.unpack(bytes.fromhex("d40100"))  # fixext 1
    with pytest.raises(BadFrame):
        ANYTHING.unpack(bytes.fromhex("d6ff00000000"))  # timestamp 32
