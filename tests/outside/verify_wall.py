"""A verifier of walls in plain Python, written from "The wall" in DEVELOPERS.md alone. It imports nothing of racktempo.

python verify_wall.py FILE.heat says what does not fit; it needs the packages hashlib (Python's own) and msgpack.
"""

import hashlib
import sys
from typing import Any

import msgpack

SUITS = [f"{rank}{suit}" for suit in "bcd" for rank in range(1, 10)]
HONOURS = ["N", "E", "W", "S", "R", "G", "O"]


def length_prefixed(*parts: bytes) -> bytes:
    return b"".join(len(part).to_bytes(4, "big") + part for part in parts)


def numbers(key: bytes, label: str) -> Any:
    """Return a function that draws a whole number below a bound."""
    prefix = hashlib.sha256(len(key).to_bytes(4, "big") + key + label.encode()).digest()
    state = {"block": 0, "bytes": b""}

    def take(count: int) -> bytes:
        while len(state["bytes"]) < count:
            state["bytes"] += hashlib.sha256(prefix + state["block"].to_bytes(8, "big")).digest()
            state["block"] += 1
        taken, state["bytes"] = state["bytes"][:count], state["bytes"][count:]
        return taken

    def below(bound: int) -> int:
        width = (bound.bit_length() + 7) // 8
        fair = 256**width - 256**width % bound
        while True:
            drawn = int.from_bytes(take(width), "big")
            if drawn < fair:
                return drawn % bound

    return below


def wall(key: bytes, jokers: int, attempt: int) -> list[str]:
    tiles = [tile for tile in [*SUITS, *HONOURS] for _ in range(4)] + ["F"] * 8 + ["J"] * jokers
    below = numbers(key, f"wall {attempt}")
    for last in range(len(tiles) - 1, 0, -1):
        other = below(last + 1)
        tiles[last], tiles[other] = tiles[other], tiles[last]
    return tiles


def faults(data: bytes) -> list[str]:
    """Return what does not fit in the file of a heat whose wall was made in a round."""
    heat, found = msgpack.unpackb(data), []
    if heat["wall"] != "round":
        return ["The wall was not made in a round."]
    for attempt in heat["attempts"]:
        for chair in attempt["chairs"]:
            value = attempt["values"][chair]
            if not value and attempt["why"]:
                continue
            parts = length_prefixed(
                b"racktempo contribution\0",
                bytes.fromhex(attempt["commitment"]),
                bytes(attempt["chairs"]),
                heat["table_id"].encode(),
                heat["number"].to_bytes(8, "big"),
                attempt["number"].to_bytes(8, "big"),
                bytes([chair]),
                value,
            )
            if hashlib.sha256(parts).digest() != attempt["hashes"][chair]:
                found.append(f"chair {chair} in attempt {attempt['number']} opened something else than it promised")
    *burned, last = heat["attempts"]
    for secret, attempt in [(heat["secret"], last), *((one["secret"], one) for one in burned)]:
        if hashlib.sha256(b"racktempo wall\0" + secret).hexdigest() != attempt["commitment"]:
            found.append(f"the secret of attempt {attempt['number']} does not fit its commitment")
    if list(last["values"]) != list(heat["contributions"]):
        found.append("the wall is said to be made of other values than the round's")
    keyed = b"racktempo key\0" + heat["secret"]
    for value in last["values"]:
        keyed += len(value).to_bytes(1, "big") + value
    key = hashlib.sha256(keyed).digest()
    deals = [event for event in heat["events"] if event["kind"] == "dealt"]
    for attempt, event in enumerate(deals):
        made = wall(key, heat["settings"]["jokers"], attempt)
        racks = [made[start:end] for start, end in ((0, 14), (14, 27), (27, 40), (40, 53))]
        if [sorted(rack) for rack in event["racks"]] != [sorted(rack) for rack in racks]:
            found.append(f"deal {attempt} is not that of the wall")
        if list(event["wall"]) != made[53:]:
            found.append("the rest of the wall is another one")
    return found


if __name__ == "__main__":
    with open(sys.argv[1], "rb") as file:
        wrong = faults(file.read())
    print("\n".join(wrong) or "all fits")
    sys.exit(bool(wrong))
