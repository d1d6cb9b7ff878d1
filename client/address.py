"""Where a table is: what people type, and what a WebSocket needs.

Pure: nothing is looked up and nothing is opened here.
"""

import re
from dataclasses import dataclass

from shared.messages import PORT

_HOST = re.compile(r"[^\s/?#@\[\]\\]+")


class BadAddress(ValueError):
    """Text that is no address; the message is one sentence for a person."""


@dataclass(frozen=True, slots=True)
class Address:
    """A machine's name or number, a port, and whether the line is private (TLS)."""

    host: str
    port: int = PORT
    private: bool = False

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
    scheme, _, rest = text.strip().rpartition("://")
    if scheme not in ("", "ws", "wss"):
        raise BadAddress(f"{text!r} is no address of a table: write a name or number, such as 192.168.1.7:{PORT}.")
    rest = rest.rstrip("/")
    bracketed = re.fullmatch(r"\[([^\]]+)\](?::(.*))?", rest)
    if bracketed:
        host, port = bracketed.groups()
    elif rest.count(":") > 1:
        host, port = rest, None
    else:
        host, colon, port_text = rest.partition(":")
        port = port_text if colon else None
    if not _HOST.fullmatch(host):
        raise BadAddress(f"{text!r} is no address of a table: write a name or number, such as 192.168.1.7:{PORT}.")
    return Address(host, PORT if port is None else read_port(port), scheme == "wss")


def read_port(text: str) -> int:
    """Return a port.

    Raises:
        BadAddress: it is none.
    """
    if not (text.isascii() and text.isdigit() and 1 <= int(text[:6]) <= 65_535):
        raise BadAddress(f"{text!r} is no port: it must be a whole number from 1 to 65535.")
    return int(text)
