"""What tables say about themselves is short and plain; what strangers say cannot act, and nonsense is nobody."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.wire.announce import SERVICE, Announcement, Found, instance_of, read_found, txt_of

TXT = {b"txtvers": b"1", b"protocol": b"1", b"kind": b"table", b"tls": b"0"}


def found(
    name: str = "Boathouse", addresses: tuple[str, ...] = ("192.168.1.7",), port: int | None = 15214
) -> Found | None:
    return read_found(f"{name}.{SERVICE}", addresses, port, TXT)


def test_the_service_type_is_what_the_standard_asks_for() -> None:
    # RFC 6763 section 7: an underscore and a service name of RFC 6335 section 5.1: at most 15 letters, digits, hyphens.
    name, protocol, domain = SERVICE.rstrip(".").split(".")
    assert (protocol, domain) == ("_tcp", "local")
    assert name.startswith("_")
    assert name[1:].isalnum()
    assert len(name[1:]) <= 15


@given(st.text(max_size=120))
def test_an_instance_name_fits_into_a_label_and_says_the_cleaned_name(name: str) -> None:
    label = instance_of(Announcement(name, 15214)).removesuffix(f".{SERVICE}")
    assert 1 <= len(label.encode()) <= 63
    assert not any(unicodedata.category(char).startswith("C") for char in label)


@given(st.sampled_from(("table", "club")), st.booleans(), st.integers(1, 65_535))
def test_what_is_announced_is_what_is_read(kind: str, private: bool, port: int) -> None:
    told = Announcement("Boathouse 1", port, kind, private)  # type: ignore[arg-type]
    txt: dict[bytes, bytes | None] = {key.encode(): value.encode() for key, value in txt_of(told).items()}
    read = read_found(instance_of(told), ["10.0.0.5"], port, txt)
    assert read is not None
    assert (read.name, read.port, read.kind, read.private, read.fits) == ("Boathouse 1", port, kind, private, True)
    assert read.address == f"{'wss://' if private else ''}10.0.0.5:{port}"


def test_a_txt_string_is_within_its_255_bytes_and_names_no_code() -> None:
    txt = txt_of(Announcement("Boathouse", 15214))
    assert all(len(f"{key}={value}".encode()) <= 255 for key, value in txt.items())
    assert set(txt) == {"txtvers", "protocol", "kind", "tls"}


@given(
    st.text(max_size=80),
    st.lists(st.text(max_size=45)),
    st.none() | st.integers(),
    st.dictionaries(st.binary(max_size=12) | st.sampled_from(list(TXT)), st.none() | st.binary(max_size=12)),
)
def test_whatever_a_stranger_says_is_clean_or_nobody(
    name: str, addresses: list[str], port: int | None, txt: dict[bytes, bytes | None]
) -> None:
    read = read_found(name, [*addresses, "10.0.0.5"], port, {**TXT, **txt})
    if read:
        assert len(read.name) <= 20
        assert not any(unicodedata.category(char).startswith("C") for char in read.name + read.address)
        assert 1 <= read.port <= 65_535


@pytest.mark.parametrize("port", [None, 0, -1, 65_536])
def test_a_port_that_cannot_be_is_nobody(port: int | None) -> None:
    assert found(port=port) is None


@pytest.mark.parametrize("address", ["boathouse.local", "", "0.0.0.0", "224.0.0.251", "fe80::1", "fe80::1%$(x)"])
def test_an_address_where_nobody_can_be_is_left_out(address: str) -> None:
    assert found(addresses=(address,)) is None


def test_version_four_comes_first_and_a_zone_stays() -> None:
    both = found(addresses=("fe80::1%eth0", "fd00::2", "192.168.1.7"))
    assert both is not None
    assert both.addresses == ("192.168.1.7", "fd00::2", "fe80::1%eth0")
    only_six = found(addresses=("fe80::1%eth0",))
    assert only_six is not None
    assert only_six.address == "[fe80::1%eth0]:15214"


def test_another_protocol_is_shown_as_not_fitting() -> None:
    other = read_found(f"Boathouse.{SERVICE}", ["10.0.0.5"], 15214, {**TXT, b"protocol": b"99"})
    assert other is not None
    assert (other.protocol, other.fits) == (99, False)
