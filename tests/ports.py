"""Ports of this machine, for tests."""

import socket


def free_port() -> int:
    """Return a port that nothing on this machine listens to."""
    with socket.create_server(("", 0)) as probe:
        return int(probe.getsockname()[1])
