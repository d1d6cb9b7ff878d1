"""Which addresses this machine has, for people who want to join and for telling our own host names from strangers'."""

import contextlib
import ipaddress
import socket
from collections.abc import Collection
from urllib.parse import urlsplit


def own_addresses() -> tuple[str, ...]:
    """Return the machine's addresses on its networks, the one that others most likely reach first.

    Nothing is sent: a UDP socket that is only connected tells which address a packet would leave from. The two
    far ends are set aside for documentation (RFC 5737, RFC 3849).
    """
    found: list[str] = []
    for family, far in ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1")):
        with contextlib.suppress(OSError), socket.socket(family, socket.SOCK_DGRAM) as probe:
            probe.connect((far, 9))
            found.append(probe.getsockname()[0])
    with contextlib.suppress(OSError):
        found += [str(info[4][0]) for info in socket.getaddrinfo(socket.gethostname(), None)]
    outside = [address for address in found if not ipaddress.ip_address(address.partition("%")[0]).is_loopback]
    return tuple(dict.fromkeys(outside)) or ("127.0.0.1",)


def is_own_name(host: str) -> bool:
    """Say whether a host name can only mean this machine: an IP literal, localhost, or the machine's own name.

    A page on the web can make its own name lead here, but not one of these.
    """
    with contextlib.suppress(ValueError):
        return bool(ipaddress.ip_address(host.partition("%")[0]))
    own = socket.gethostname().lower().partition(".")[0]
    return host.lower() in ("localhost", own, f"{own}.local", socket.gethostname().lower())


def is_own_host(header: str, names: Collection[str]) -> bool:
    """Say whether the Host that an HTTP request names is this machine, whose further names are in lower case."""
    try:
        name = urlsplit(f"//{header}").hostname or ""
    except ValueError:
        return False
    return name in names or is_own_name(name)


def with_port(address: str, port: int) -> str:
    """Return address and port as one types them."""
    return f"[{address}]:{port}" if ":" in address else f"{address}:{port}"


def network_of(address: str) -> str:
    """Return the address, or the network of 2^64 addresses that one IPv6 machine can usually choose from."""
    try:
        parsed = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return address
    if parsed.version == 4:
        return str(parsed)
    return str(parsed.ipv4_mapped or ipaddress.ip_network((parsed, 64), strict=False))
