"""How a table announces itself on the local network, and how we parse the announcements of others.

We use DNS-based service discovery (RFC 6763): a service type, a readable instance name, and a short TXT record. Pure:
must never open a socket. An announcement must never hold a code, a token or a person's name. Incoming announcements are
untrusted: we clean them, and return None for anything malformed.
"""

import ipaddress
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal, get_args

from shared.names import clean_name
from shared.wire.messages import PROTOCOL

SERVICE = "_racktempo._tcp.local."
_LABEL_BYTES = 63
"""The longest instance name, RFC 6763 section 4.1.1."""
_NAME_CELLS = 20
"""Room for a name of sixteen cells and the number that the network appends to a duplicate."""
_MOST_ADDRESSES = 8
_ZONE = re.compile(r"[\w.-]{1,20}", re.ASCII)

Kind = Literal["table", "club"]


@dataclass(frozen=True, slots=True)
class Announcement:
    """What a table announces to everybody on the network: its name, port and protocol version."""

    name: str
    port: int
    kind: Kind = "table"
    private: bool = False
    protocol: int = PROTOCOL


@dataclass(frozen=True, slots=True)
class Found:
    """A table that announced itself. instance is its unique name on the network; name is clean and short.

    addresses are IP literals, IPv4 first, with a zone if the address needs one.
    """

    instance: str
    name: str
    addresses: tuple[str, ...]
    port: int
    kind: Kind
    private: bool
    protocol: int

    @property
    def fits(self) -> bool:
        """Whether it speaks this program's protocol."""
        return self.protocol == PROTOCOL

    @property
    def address(self) -> str:
        """Its first address, as a person would type it."""
        host = self.addresses[0]
        return f"{'wss://' if self.private else ''}{f'[{host}]' if ':' in host else host}:{self.port}"


def instance_of(announcement: Announcement) -> str:
    """Return the full service name: the cleaned name, cut to the longest label, and the service type."""
    label = clean_name(announcement.name, "table").encode()[:_LABEL_BYTES].decode(errors="ignore")
    return f"{label.strip()}.{SERVICE}"


def txt_of(announcement: Announcement) -> dict[str, str]:
    """Return the TXT record; txtvers is the record's own version (RFC 6763 section 6.7)."""
    return {
        "txtvers": "1",
        "protocol": str(announcement.protocol),
        "kind": announcement.kind,
        "tls": "1" if announcement.private else "0",
    }


def read_found(
    instance: str, addresses: Iterable[str], port: int | None, txt: Mapping[bytes, bytes | None]
) -> Found | None:
    """Return a stranger's announcement, cleaned, or None if it is malformed or has no usable address.

    >>> txt = {b"protocol": b"1", b"kind": b"club"}
    >>> read_found("Boathouse._racktempo._tcp.local.", ["192.168.1.7"], 15214, txt).address
    '192.168.1.7:15214'
    """
    words = {key.decode("ascii", "replace").lower(): value or b"" for key, value in txt.items()}
    protocol = words.get("protocol", b"")
    usable = _usable(addresses)
    kind: Kind | None = next((kind for kind in get_args(Kind) if words.get("kind") == kind.encode()), None)
    if not (1 <= (port or 0) <= 65_535 and usable and protocol.isdigit() and len(protocol) <= 6 and kind):
        return None
    return Found(
        instance=instance,
        name=clean_name(instance.removesuffix(f".{SERVICE}"), "table", _NAME_CELLS),
        addresses=usable,
        port=port or 0,
        kind=kind,
        private=words.get("tls") == b"1",
        protocol=int(protocol),
    )


def _usable(addresses: Iterable[str]) -> tuple[str, ...]:
    found = []
    for text in addresses:
        try:
            address = ipaddress.ip_address(text)
        except ValueError:
            continue
        zone = address.scope_id if isinstance(address, ipaddress.IPv6Address) else None
        # A link-local IPv6 address is useless without its zone, which names the network.
        reachable = _ZONE.fullmatch(zone) if zone else address.version == 4 or not address.is_link_local
        if reachable and not (address.is_multicast or address.is_unspecified):
            found.append(address)
    found.sort(key=lambda address: (address.version, address.is_link_local))
    return tuple(dict.fromkeys(map(str, found)))[:_MOST_ADDRESSES]
