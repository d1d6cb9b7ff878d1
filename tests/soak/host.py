"""The host of a soak, as a process of its own: python -m tests.soak.host FILE resume|fresh PORT.

It is the product's table behind the product's listener, on this machine only. Twice a second it says how many tasks and
lines it has, and it ends by itself when whoever started it is gone.
"""

import asyncio
import json
import logging
import os
import sys
from pathlib import Path

from server.host import clear, host_table, unfinished
from server.store import Store
from shared.rules.settings import Settings

SETTINGS = Settings(level_ms=30_000, plan_ms=5_000, heats=12, bot_pace="quick")
BEAT_S = 0.5


async def serve(path: Path, go_on: str, port: int) -> None:
    """Open the table, new or where it was left, and report until told to stop."""
    logging.disable(logging.CRITICAL)
    parent = os.getppid()
    store = Store.open(path)
    if go_on == "fresh":
        clear(store)
    async with host_table(store, SETTINGS, "Soak", unfinished(store), host="127.0.0.1", port=port) as hosted:
        print(json.dumps({"port": hosted.listener.port, "code": hosted.record.code}), flush=True)
        while os.getppid() == parent:
            await asyncio.sleep(BEAT_S)
            report = {"tasks": len(asyncio.all_tasks()), "lines": len(hosted.keeper.lines)}
            print(json.dumps(report), flush=True)


if __name__ == "__main__":
    asyncio.run(serve(Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])))
