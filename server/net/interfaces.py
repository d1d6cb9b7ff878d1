"""Every address of this machine, network by network, for a host who chooses which to show.

Asked of the operating system by ifaddr, which comes with the extra "lan"; without it the addresses that the standard
library can tell. Sends nothing.
"""

import ipaddress
from dataclasses import dataclass

from server.net.addresses import own_addresses, with_port


@dataclass(frozen=True, slots=True)
class MachineAddress:
    """An address as a person types it, and the name of the network interface it belongs to ("" if unknown)."""

    text: str
    interface: str


def machine_addresses() -> tuple[MachineAddress, ...]:
    """Return all addresses of this machine, the ones that others most likely reach first, its own loopback last."""
    try:
        import ifaddr
    except ImportError:
        return tuple(MachineAddress(text, "") for text in own_addresses())
    found = {}
    for adapter in ifaddr.get_adapters():
        for ip in adapter.ips:
            found[_text(ip.ip)] = adapter.nice_name
    usual = own_addresses()
    order = sorted(found, key=lambda text: (_rank(text), usual.index(text) if text in usual else len(usual), text))
    return tuple(MachineAddress(text, found[text]) for text in order)


def typed_addresses(port: int) -> dict[str, str]:
    """Return every address of this machine as one types it with a port, and the network interface it belongs to."""
    return {with_port(address.text, port): address.interface for address in machine_addresses()}


def _text(ip: str | tuple[str, int, int]) -> str:
    """Return an address, with its zone (this machine's number of the network, RFC 4007) where it needs one."""
    if isinstance(ip, str):
        return ip
    text, _, zone = ip
    return f"{text}%{zone}" if ipaddress.ip_address(text).is_link_local else text


def _rank(text: str) -> tuple[bool, bool, int]:
    address = ipaddress.ip_address(text)
    return address.is_loopback, address.is_link_local, address.version
