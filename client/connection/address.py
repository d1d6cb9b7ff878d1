"""Where a table is: what people type, and what a WebSocket needs.

Pure: nothing is looked up and nothing is opened here.
"""

import ipaddress
import re
from dataclasses import dataclass

from shared.wire.messages import PORT

_HOST = re.compile(r"[^\s/?#@\[\]\\]+")


class BadAddress(ValueError):
    """Text that is no address; the message is one sentence for a person."""


@dataclass(frozen=True, slots=True)
class Address:
    """A machine's name or number, a port, and whether the line is private (TLS).

    fingerprint is the beginning of the SHA-256 of the one certificate to accept, in hexadecimal digits; without it the
    machine's own list of authorities decides.
    """

    host: str
    port: int = PORT
    private: bool = False
    fingerprint: str = ""

    @property
    def url(self) -> str:
        """The address as a WebSocket client takes it."""
        return f"{'wss' if self.private else 'ws'}://{self}/"

    def __str__(self) -> str:
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{host}:{self.port}"


def read_address(text: str) -> Address:
    """Return the address that was typed: a name or number, a port after a colon if it is not the usual one.

    Raises:
        BadAddress: it is none.

    >>> str(read_address("boathouse.local")), read_address("192.168.1.7:15300").port, read_address("[::1]:9").host
    ('boathouse.local:15214', 15300, '::1')
    """
    bare, mark, fingerprint = text.strip().partition("#")
    scheme, _, rest = bare.rpartition("://")
    if scheme not in ("", "ws", "wss"):
        raise BadAddress(f"{text!r} is no address of a table: write a name or number, such as 192.168.1.7:{PORT}.")
    pin = _read_fingerprint(fingerprint, scheme) if mark else ""
    rest = rest.rstrip("/")
    bracketed = re.fullmatch(r"\[([^\]]+)\](?::(.*))?", rest)
    if bracketed:
        host, port = bracketed.groups()
    elif rest.count(":") > 1:
        host, port = rest, None
    else:
        host, colon, port_text = rest.partition(":")
        port = port_text if colon else None
    if not _HOST.fullmatch(host) or not (_is_number(host) if ":" in host else _is_name(host)):
        raise BadAddress(f"{text!r} is no address of a table: write a name or number, such as 192.168.1.7:{PORT}.")
    return Address(host, PORT if port is None else read_port(port), scheme == "wss", pin)


def _is_number(host: str) -> bool:
    """Say whether a host with colons in it is an IPv6 address, with or without a zone."""
    try:
        ipaddress.IPv6Address(host)
    except ValueError:
        return False
    return True


def _is_name(host: str) -> bool:
    """Say whether a host can be a name of the network: 1 to 63 signs between its dots."""
    try:
        host.encode("idna")
    except UnicodeError:
        return False
    return True


def _read_fingerprint(text: str, scheme: str) -> str:
    digits = re.sub(r"[:-]", "", text).lower()
    if scheme != "wss":
        raise BadAddress("A certificate's fingerprint, behind #, belongs to an address that begins with wss://.")
    if not re.fullmatch(r"[0-9a-f]{16,64}", digits):
        raise BadAddress(f"{text!r} is no fingerprint of a certificate: it has 16 to 64 digits of 0-9 and a-f.")
    return digits


def read_port(text: str) -> int:
    """Return a port.

    Raises:
        BadAddress: it is none.
    """
    if not (text.isascii() and text.isdigit() and 1 <= int(text[:6]) <= 65_535):
        raise BadAddress(f"{text!r} is no port: it must be a whole number from 1 to 65535.")
    return int(text)
