"""A client that was written from the printed protocol alone plays a whole heat at a real port."""

import asyncio
import json
import sys
from pathlib import Path

from shared.rules.settings import Settings
from shared.wire.messages import schemas
from tests.server.players import CODE, open_house

CLIENT = Path(__file__).with_name("example_client.py")


def test_it_imports_nothing_of_ours() -> None:
    text = CLIENT.read_text()
    assert not any(f"{how} {room}" in text for how in ("import", "from") for room in ("client", "server", "shared"))


async def test_it_plays_a_heat_from_hello_to_the_result_and_nothing_is_refused() -> None:
    settings = Settings(heats=1, level_ms=120_000, bot_pace="no wait", bot_skill="simple", second="always")
    async with open_house(settings) as house:
        play = await asyncio.create_subprocess_exec(
            sys.executable, str(CLIENT), f"ws://127.0.0.1:{house.listener.port}/", CODE,
            stdin=asyncio.subprocess.PIPE, stdout=asyncio.subprocess.PIPE,
        )  # fmt: skip
        out, _ = await play.communicate(json.dumps(schemas()).encode())
        assert play.returncode == 0
        told = json.loads(out)
        (kept,) = house.table._finished
        assert told["heat"] == kept.number == 1
        assert told["refused"] == []
        heat = kept.heat()
        answers = [event for event in heat.events if getattr(event, "by", "") == "person"]
        passed = [event.kind for event in answers]
        assert passed.count("passed") == 6, "every pass was its own, none the clock's"
        assert told["answered"] == sorted(
            {
                "first right",
                "first across",
                "first left",
                "second left",
                "second across",
                "last right",
                "courtesy offer",
            }
        )
