"""The host is shown every address of the machine, the useful ones first."""

import ipaddress
import socket
import sys

import pytest

from server.net.interfaces import MachineAddress, machine_addresses


def can_be_bound(address: str) -> bool:
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as door:
        door.bind(socket.getaddrinfo(address, 0, family, socket.SOCK_STREAM)[0][4])
    return True


def test_every_address_listed_is_this_machines_own() -> None:
    # Only an address that an interface has can be bound: the operating system is the judge.
    assert all(can_be_bound(one.text) for one in machine_addresses())


def test_each_address_is_listed_once_and_loopback_is_among_them_at_the_end() -> None:
    texts = [one.text for one in machine_addresses()]
    assert len(set(texts)) == len(texts)
    loopback = [ipaddress.ip_address(text).is_loopback for text in texts]
    assert loopback == sorted(loopback)
    assert "127.0.0.1" in texts


def test_without_the_extra_the_standard_library_still_names_some(monkeypatch: pytest.MonkeyPatch) -> None:
    all_of_them = {one.text for one in machine_addresses()}
    monkeypatch.setitem(sys.modules, "ifaddr", None)
    fewer = machine_addresses()
    assert fewer
    assert all(one == MachineAddress(one.text, "") for one in fewer)
    assert {one.text.partition("%")[0] for one in fewer} <= {text.partition("%")[0] for text in all_of_them}
