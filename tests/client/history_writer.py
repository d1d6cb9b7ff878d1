"""A process that adds invented heats to a history without end, and says each number once it is kept.

Run as `python -m tests.client.history_writer FILE FIRST`; it is meant to be killed.
"""

import sys
from itertools import count
from pathlib import Path

from client.storage.history_db import History
from tests.client.heats import heat

if __name__ == "__main__":
    history = History(Path(sys.argv[1]))
    for number in count(int(sys.argv[2])):
        history.add(heat(number))
        print(number, flush=True)
