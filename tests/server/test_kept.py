"""Finished heats as a table keeps them: the same heat in a small part of the room."""

import gc
import tracemalloc

from server.kept import KeptHeat
from server.records import TableRecord
from shared.cards.play import shipped_text
from shared.rules.heat import HEAT
from shared.rules.settings import Settings
from tests.tables import Evening

RECORD = TableRecord(
    id="t", name="Boathouse", code="c", settings=Settings(level_ms=100_000, heats=4), card=shipped_text()
)


def test_what_is_kept_is_the_heat_to_the_byte() -> None:
    heat = Evening(record=RECORD, people=2).play_heat()
    kept = KeptHeat.of(heat)
    assert KeptHeat.read(HEAT.pack(heat)) == kept
    assert kept.heat() == heat
    assert kept.data == HEAT.pack(heat)
    assert (kept.number, kept.east, kept.names, kept.settings) == (heat.number, heat.east, heat.names, heat.settings)
    assert len(kept.packed) * 3 < len(kept.data)


def test_a_heat_that_has_ended_takes_little_room() -> None:
    """Unpacked a heat takes 85 KiB and more; what its table shows of it is kept beside it and takes 20."""
    evening = Evening(record=RECORD, people=4)

    def memory() -> int:
        evening.play_heat()
        for chair in range(4):
            evening.table.view(chair, evening.now_ms)
        for kept in (evening.events, evening.finished, evening.sent):
            kept.clear()
        for replies in evening.table._replies:
            replies.clear()
        gc.collect()
        return tracemalloc.get_traced_memory()[0]

    tracemalloc.start()
    try:
        room = [memory() for _ in range(3)]
    finally:
        tracemalloc.stop()
    assert room[2] - room[1] < 60 * 1024
