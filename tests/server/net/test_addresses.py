"""Which addresses this machine names, and which host names can only mean it."""

import socket
from types import TracebackType

import pytest

from server.net import addresses
from server.net.addresses import is_own_name, own_addresses


class Network:
    """Stands in for the module socket on a machine with other networks: what a packet to outside leaves from by family,
    and what the machine's own name is looked up as, None if that fails."""

    AF_INET, AF_INET6, SOCK_DGRAM = socket.AF_INET, socket.AF_INET6, socket.SOCK_DGRAM

    def __init__(self, leaves: dict[int, str], known_as: list[str] | None) -> None:
        self._leaves, self._known_as, self._family = leaves, known_as, 0

    def socket(self, family: int, kind: int) -> "Network":
        assert kind == socket.SOCK_DGRAM, "nothing may be sent"
        self._family = family
        return self

    def __enter__(self) -> "Network":
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        pass

    def connect(self, far: tuple[str, int]) -> None:
        assert (
            far[0] == {socket.AF_INET: "192.0.2.1", socket.AF_INET6: "2001:db8::1"}[socket.AddressFamily(self._family)]
        )
        if self._family not in self._leaves:
            raise OSError("no such network")

    def getsockname(self) -> tuple[object, ...]:
        return self._leaves[self._family], 40_000, 0, 0

    def gethostname(self) -> str:
        return "Boathouse.example"

    def getaddrinfo(self, host: str, port: None) -> list[tuple[object, ...]]:
        if self._known_as is None:
            raise OSError("unknown name")
        return [(socket.AF_INET, socket.SOCK_DGRAM, 17, "", (address, 0)) for address in self._known_as]


V4, V6 = socket.AF_INET, socket.AF_INET6


@pytest.mark.parametrize(
    ("leaves", "known_as", "own"),
    [
        ({V4: "192.168.7.7"}, ["127.0.1.1", "192.168.7.7", "10.0.0.3"], ("192.168.7.7", "10.0.0.3")),
        ({V4: "192.168.7.7", V6: "fe80::1%eth0"}, None, ("192.168.7.7", "fe80::1%eth0")),
        ({V6: "2001:db8::7"}, ["192.168.7.7"], ("2001:db8::7", "192.168.7.7")),
        ({}, ["127.0.1.1", "::1"], ("127.0.0.1",)),
        ({V4: "127.0.0.1"}, None, ("127.0.0.1",)),
    ],
)
def test_the_machines_own_addresses_begin_with_the_one_that_others_reach(
    leaves: dict[int, str], known_as: list[str] | None, own: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(addresses, "socket", Network(leaves, known_as))
    assert own_addresses() == own


@pytest.mark.parametrize(
    ("host", "is_own"),
    [
        ("192.0.2.7", True),
        ("fe80::1%eth0", True),
        ("LocalHost", True),
        ("boathouse", True),
        ("BOATHOUSE.local", True),
        ("boathouse.example", True),
        ("boathouse.elsewhere", False),
        ("regatta.local", False),
        ("example", False),
        ("", False),
    ],
)
def test_only_some_host_names_can_mean_nothing_but_this_machine(
    host: str, is_own: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(addresses, "socket", Network({}, None))
    assert is_own_name(host) is is_own
