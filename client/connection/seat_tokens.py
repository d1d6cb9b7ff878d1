"""The tokens with which a relaunched client regains its seat, one small file each, readable by the player only.

A token that is lost costs only the seat, so no trouble with a file is ever more than forgetting it.
"""

import contextlib
import hashlib
import hmac
import secrets
from pathlib import Path

from client.connection.address import Address
from client.storage.files import write_whole

_TOKEN_BYTES = 16


def token_path(folder: Path, address: Address, code: str, name: str) -> Path:
    """Return the file of a seat's token. The name counts, so that two people can share one machine."""
    return folder / "seats" / hashlib.sha256(_seat(address, code, name)).hexdigest()[:32]


def derived_token(secret: bytes, address: Address, code: str, name: str) -> bytes:
    """Return the token of a seat for somebody who keeps one secret and no files: the same secret, the same seat."""
    return hmac.digest(secret, _seat(address, code, name), "sha256")[:_TOKEN_BYTES]


def fresh_token() -> bytes:
    """Return a token for a seat that is still to be had."""
    return secrets.token_bytes(_TOKEN_BYTES)


def recall(path: Path) -> bytes | None:
    """Return the token that a file holds, or None."""
    try:
        token = bytes.fromhex(path.read_text("ascii"))
    except (OSError, ValueError):
        return None
    return token if len(token) == _TOKEN_BYTES else None


def _seat(address: Address, code: str, name: str) -> bytes:
    bare = "".join(char for char in code.lower() if char.isalnum())
    return "\0".join((str(address), bare, name)).encode(errors="replace")


def remember(path: Path, token: bytes) -> None:
    """Write a token down."""
    with contextlib.suppress(OSError):
        write_whole(path, token.hex().encode())
