"""A table with laid heats: each is played in its turn, its own settings rule, and it never says that it was dealt."""

from client.hosting.table import play_bots
from server.records import TableRecord
from server.table.output import Joined
from server.table.table import Table
from shared.rules.drills import Laid, lay, replay_from
from shared.rules.heat import HEAT, SavedHeat
from shared.rules.intents import Ready
from shared.rules.seats import Seat
from shared.rules.settings import Settings
from shared.rules.tiles import JOKER, full_set
from shared.rules.wall import Stream
from shared.wire.messages import Command
from tests.heats import faults


def laid_deal(what: str, level_ms: int = 60_000) -> Laid:
    pool = Stream(what.encode(), "test").shuffled(full_set())
    rest = [tile for tile in pool[14:] if tile != JOKER]
    comes = [tuple(rest[at : at + 3]) for at in range(0, 18, 3)]
    return lay(Settings(level_ms=level_ms), pool[:14], comes, b"key", what)


class Alone:
    """One person at a table of drills who lets the clock answer."""

    def __init__(self, *laid: Laid) -> None:
        record = TableRecord(
            id="t", name="Drill", code="", settings=laid[0].settings.model_copy(update={"heats": len(laid)})
        )
        self.table, self.now_ms, self.asked = Table(record, bytes, lambda: "2030-01-01T00:00:00Z", laid=laid), 0, 0
        joined = self.table.join("Anna", None, 0)
        assert isinstance(joined, Joined)
        self.heats: list[SavedHeat] = []

    def begin(self) -> None:
        self.asked += 1
        command = Command(id=self.asked, heat=0, intent=Ready())
        self.table.command(0, command, self.now_ms)

    def play(self) -> SavedHeat:
        self.begin()
        while (due_ms := self.table.next_deadline_ms()) is not None:
            self.now_ms = max(self.now_ms, due_ms)
            out = self.table.tick(self.now_ms)
            if out.finished:
                self.heats.append(out.finished)
        return self.heats[-1]


def test_laid_heats_are_played_one_after_the_other_each_by_its_own_settings() -> None:
    laid = laid_deal("one", 60_000), laid_deal("two", 90_000), laid_deal("three", 120_000)
    alone = Alone(*laid)
    heats = [alone.play() for _ in laid]
    assert [heat.settings.level_ms for heat in heats] == [60_000, 90_000, 120_000]
    assert [heat.events[0] for heat in heats] == [one.events[0] for one in laid]
    assert alone.table.record.phase == "over"


def test_nothing_is_promised_before_a_drill_and_its_file_says_what_it_is() -> None:
    alone = Alone(laid_deal("one"))
    alone.begin()
    assert alone.table.view(0, 0).commitment == ""
    alone = Alone(laid_deal("one"))
    heat = HEAT.unpack(HEAT.pack(alone.play()))
    (told,) = faults(heat, lambda card, rack: False)
    assert "drill" in told


def test_the_person_sits_where_they_sat_and_the_step_has_all_its_time() -> None:
    heat = play_bots(Settings(seed=11, heats=1))[0]
    laid = replay_from(heat, Seat.NORTH, "second left")
    assert isinstance(laid, Laid)
    alone = Alone(laid)
    alone.now_ms = 5_000
    alone.begin()
    view = alone.table.view(0, 5_000).heat
    assert view is not None
    assert (Seat(view.seat), view.step) == (Seat.NORTH, "second left")
    assert view.clock.left_ms == view.clock.budget_ms
    assert [step.state for step in view.route[:4]] == ["done"] * 4
