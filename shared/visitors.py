"""How our own page for browsers proves for whom it asks, so that each visitor is counted by their own address.

Host and page run on one machine for one user: the key lies in a file that only this user can read. Whoever has no key
is counted by the address of their line.
"""

import hashlib
import hmac
from pathlib import Path

from shared.private_files import create_private

KEY_BYTES = 32
KEY_FILE = "page.key"
"""In the user's data folder."""
_DOMAIN = b"racktempo visitor\0"


def page_key(path: Path, fresh: bytes) -> bytes:
    """Return the key in a file, or make the file with this fresh one; empty if the file cannot be used."""
    try:
        create_private(path)
        known = path.read_bytes()
        if len(known) != KEY_BYTES:
            path.write_bytes(fresh)
            return fresh
    except OSError:
        return b""
    return known


def visitor_proof(key: bytes, address: str) -> bytes:
    """Return what proves that a page with this key shows the table to a browser at an address."""
    return hmac.digest(key, _DOMAIN + address.encode(), hashlib.sha256)


def is_our_page(key: bytes, address: str, proof: bytes) -> bool:
    """Say whether a proof was made with this key; without a key no proof holds."""
    return bool(key) and hmac.compare_digest(visitor_proof(key, address), proof)
