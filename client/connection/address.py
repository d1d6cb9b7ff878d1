"""A table's address: parse what people type, and make the URL of its WebSocket.

Pure: must never look a name up or open a socket.
"""

import ipaddress
import re
from dataclasses import dataclass

from shared.wire.messages import PORT

_HOST = re.compile(r"[^\s/?#@\[\]\\]+")


class BadAddress(ValueError):
    """The text is not an address; the message is one sentence for the player."""


@dataclass(frozen=True, slots=True)
class Address:
    """A host name or IP address, a port, and whether the connection is encrypted (TLS).

    fingerprint is the beginning of the SHA-256 of the only certificate to accept, in hexadecimal digits; without it the
    system's certificate authorities decide.
    """

    host: str
    port: int = PORT
    private: bool = False
    fingerprint: str = ""

    @property
    def url(self) -> str:
        """The URL for a WebSocket client."""
        return f"{'wss' if self.private else 'ws'}://{self}/"

    def __str__(self) -> str:
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{host}:{self.port}"


def read_address(text: str) -> Address:
    """Parse an address: a host name or IP address, and a colon and port if it is not the default one.

    Raises:
        BadAddress: the text is not an address.

    >>> str(read_address("boathouse.local")), read_address("192.168.1.7:15300").port, read_address("[::1]:9").host
    ('boathouse.local:15214', 15300, '::1')
    """
    bare, mark, fingerprint = text.strip().partition("#")
    scheme, _, rest = bare.rpartition("://")
    if scheme not in ("", "ws", "wss"):
        raise BadAddress(f"{text!r} is not an address: write a host name or IP address, such as 192.168.1.7:{PORT}.")
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
        raise BadAddress(f"{text!r} is not an address: write a host name or IP address, such as 192.168.1.7:{PORT}.")
    return Address(host, PORT if port is None else read_port(port), scheme == "wss", pin)


def _is_number(host: str) -> bool:
    """Say whether a host that contains colons is an IPv6 address, with or without a zone."""
    try:
        ipaddress.IPv6Address(host)
    except ValueError:
        return False
    return True


def _is_name(host: str) -> bool:
    """Say whether a host can be a host name: 1 to 63 characters between its dots."""
    try:
        host.encode("idna")
    except UnicodeError:
        return False
    return True


def _read_fingerprint(text: str, scheme: str) -> str:
    digits = re.sub(r"[:-]", "", text).lower()
    if scheme != "wss":
        raise BadAddress("A fingerprint after # needs an address that begins with wss://.")
    if not re.fullmatch(r"[0-9a-f]{16,64}", digits):
        raise BadAddress(f"{text!r} is not a certificate's fingerprint: write 16 to 64 digits of 0-9 and a-f.")
    return digits


def read_port(text: str) -> int:
    """Parse a port.

    Raises:
        BadAddress: the text is not a port.
    """
    if not (text.isascii() and text.isdigit() and 1 <= int(text[:6]) <= 65_535):
        raise BadAddress(f"{text!r} is not a port: write a whole number from 1 to 65535.")
    return int(text)
