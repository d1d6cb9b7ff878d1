"""Seat tokens: with one, a restarted client gets its seat back. One small file each, readable only by the player.

A lost token costs only the seat, so file errors are ignored.
"""

import contextlib
import hashlib
import hmac
import secrets
from pathlib import Path

from client.connection.address import Address
from client.storage.files import read_at_most, write_whole
from shared.codes import one_reading

_TOKEN_BYTES = 16


def token_path(folder: Path, address: Address, code: str, name: str) -> Path:
    """Return the file of a seat's token. It depends on the name too, so that two people can share one machine."""
    return folder / "seats" / hashlib.sha256(_seat(address, code, name)).hexdigest()[:32]


def derived_token(secret: bytes, address: Address, code: str, name: str) -> bytes:
    """Derive a seat's token from a secret, for clients without files: the same secret gives the same seat."""
    return hmac.digest(secret, _seat(address, code, name), "sha256")[:_TOKEN_BYTES]


def fresh_token() -> bytes:
    """Return a random token for a new seat."""
    return secrets.token_bytes(_TOKEN_BYTES)


def recall(path: Path) -> bytes | None:
    """Read a token from its file; None if there is none."""
    try:
        token = bytes.fromhex(read_at_most(path, 2 * _TOKEN_BYTES).decode("ascii"))
    except (OSError, ValueError):
        return None
    return token if len(token) == _TOKEN_BYTES else None


def _seat(address: Address, code: str, name: str) -> bytes:
    return "\0".join((str(address), one_reading(code), name)).encode(errors="replace")


def remember(path: Path, token: bytes) -> None:
    """Write a token to its file."""
    with contextlib.suppress(OSError):
        if path.is_file() or not path.exists():  # writing to a pipe waits until somebody reads it
            write_whole(path, token.hex().encode())
