"""A client of one file that plays one heat, written from what `racktempo messages` prints and from nothing else:

    racktempo messages | python example_client.py ws://HOST:PORT/ CODE

It knows nothing of racktempo's code. It passes the first tiles that may go, votes to go on and offers none.
"""

import asyncio
import json
import os
import sys
from typing import Any

import msgpack
from websockets.asyncio.client import ClientConnection, connect


class Client:
    """One player on one line. spec is the printed protocol."""

    def __init__(self, spec: dict[str, Any], line: ClientConnection) -> None:
        self.spec, self.line = spec, line
        self.next_id = 1
        self.heat_number = 0
        self.answered: set[str] = set()
        self.refused: list[str] = []

    async def say(self, message: dict[str, Any]) -> None:
        """Send a message: one binary frame, one MessagePack map."""
        await self.line.send(msgpack.packb(message))

    async def hear(self) -> dict[str, Any]:
        """Return the next message."""
        frame = await self.line.recv()
        assert isinstance(frame, bytes)
        message: dict[str, Any] = msgpack.unpackb(frame)
        return message

    async def ask(self, intent: dict[str, Any]) -> None:
        """Send a command."""
        await self.say({"kind": "command", "id": self.next_id, "heat": self.heat_number, "intent": intent})
        self.next_id += 1

    async def play(self, name: str, code: str) -> dict[str, Any]:
        """Come in, play one heat and return its result."""
        hello = {"kind": "hello", "protocol": self.spec["protocol"], "name": name, "code": code}
        await self.say({**hello, "token": os.urandom(16)})
        welcome = await self.hear()
        assert welcome["kind"] == "welcome", welcome
        assert welcome["chair"] != self.spec["constants"]["no_chair"]
        self.next_id = welcome["last_id"] + 1
        is_ready = False
        while True:
            message = await self.hear()
            if message["kind"] == "refused":
                self.refused.append(message["text"])
            if message["kind"] != "view":
                continue
            self.heat_number = message["heat_number"]
            heat = message["heat"]
            if heat is None and message["results"]:
                result: dict[str, Any] = message["results"][-1]
                return result
            if heat is None and not is_ready:
                is_ready = True
                await self.ask({"kind": "ready"})
            elif heat and heat["owes"] and not heat["paused"] and heat["step"] not in self.answered:
                self.answered.add(heat["step"])
                await self.ask(self.answer(heat))

    def answer(self, heat: dict[str, Any]) -> dict[str, Any]:
        """Return what to answer to the running step."""
        asks = self.spec["constants"]["steps"][heat["step"]]
        if asks == "vote":
            return {"kind": "vote", "go_on": True}
        if asks == "offer":
            return {"kind": "offer", "count": 0, "to": "right" if heat["step"] == "side offer" else "across"}
        if asks == "plan":
            return {"kind": "plan", "hand": "", "discards": []}
        free = [tile for tile in heat["rack"] if tile != self.spec["constants"]["joker"]]
        return {"kind": "pass", "step": heat["step"], "tiles": free[: heat["give"]]}


async def main(url: str, code: str) -> int:
    """Play one heat and print what it took."""
    spec = json.load(sys.stdin)
    async with connect(url, compression=None, max_size=spec["view_limit_bytes"]) as line:
        client = Client(spec, line)
        result = await client.play("Example", code)
    print(json.dumps({"heat": result["number"], "answered": sorted(client.answered), "refused": client.refused}))
    return 0


if __name__ == "__main__":
    sys.exit(asyncio.run(main(*sys.argv[1:3])))
