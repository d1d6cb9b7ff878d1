"""A result belongs to whoever played it: every order of coming and going, against a record of the test's own."""

from itertools import permutations

import pytest

from server.table.output import Output
from shared.rules.events import Offered, Passed, Planned, StepBegan, Voted
from shared.rules.intents import FreeChair, Leave, SeatBot, TakeSeat
from shared.rules.seats import chair_of
from shared.rules.settings import Settings
from shared.rules.steps import STEP_NAMES, StepName
from shared.wire.messages import OwnHeat
from tests.tables import Evening

HEATS = 3
SETTINGS = Settings(level_ms=100_000, bot_pace="quick", heats=HEATS + 1, second="always")
BOT = ""
PEOPLE = {"Ann", "Ben", "Cleo", "Dora", "Eve", "Finn"}
ORDERS = tuple(permutations(("leave", "come", "stand in", "take back", "send away")))
STEPS_A_HEAT = 8
"""Steps at which something can happen; every heat here has at least so many."""


class Recorded(Evening):
    """An evening with a record of its own: who sits where by what was done, and so who answered which step."""

    def __init__(self) -> None:
        self.sits: dict[int, str] = {}
        self.birds: set[str] = set()
        self.gone: dict[int, str] = {}
        self.played: dict[tuple[int, int], list[tuple[str, StepName]]] = {}
        self.dealt: dict[int, dict[int, str]] = {}
        self.own: dict[tuple[str, int], OwnHeat] = {}
        self.step: StepName | None = None
        super().__init__(SETTINGS, people=0)
        for name in ("Ann", "Ben", "Cleo"):
            self.arrive(name)

    # ---- what is done

    def arrive(self, name: str) -> None:
        """Somebody new comes in."""
        self.sits[self.join(name)] = name

    def chair(self, name: str) -> int:
        """Return where somebody sits."""
        return next(chair for chair, other in self.sits.items() if other == name)

    def act(self, what: str) -> None:
        """Do one thing, if it can be done now."""
        in_heat = self.table.record.phase == "heat"
        someone = next((name for name in ("Cleo", "Ben", "Dora", "Eve") if name in self.sits.values()), None)
        match what:
            case "leave" if someone:
                chair = self.chair(someone)
                if in_heat:
                    self.sits[chair] = BOT
                else:
                    del self.sits[chair]
                self.do(chair, Leave())
            case "come":
                taken = {*self.sits.values(), *self.gone.values()}
                name = next(name for name in ("Dora", "Eve", "Finn") if name not in taken)
                if {"nobody", "bot"} & {chair.sitter for chair in self.table.record.chairs}:
                    self.arrive(name)
            case "stand in" if someone and in_heat:
                chair = self.chair(someone)
                self.gone[chair], self.sits[chair] = someone, BOT
                self.do(0, SeatBot(chair=chair))
            case "take back" if self.gone:
                chair, name = self.gone.popitem()
                self.sits[chair] = name
                self.do(chair, TakeSeat())
            case "send away" if someone:
                chair = self.chair(someone)
                del self.sits[chair]
                self.do(0, FreeChair(chair=chair))

    # ---- what comes of it

    def take(self, out: Output) -> Output:
        """Write down who answered, by the chairs as this record has them."""
        head = self.table.record.sat[-1] if self.table.record.sat else None
        for event in out.events:
            if isinstance(event, StepBegan):
                self.step = event.step
            if isinstance(event, Passed | Voted | Offered | Planned) and self.step and head:
                chair = chair_of(event.seat, self.table.record.head.east if self.table.record.head else self.east)
                name = self.sits.get(chair) or (BOT if chair in self.sits else self.table.record.chairs[chair].name)
                runs = self.played.setdefault((out.heat, chair), [])
                if not runs or runs[-1][0] != name:
                    runs.append((name, self.step))
        if self.table.record.head:
            self.east = self.table.record.head.east
        taken = super().take(out)
        for chair, messages in self.sent.items():
            for message in messages:
                if isinstance(message, OwnHeat) and self.sits.get(chair, BOT):
                    self.own[self.sits[chair], message.heat.number] = message
            messages[:] = [message for message in messages if not isinstance(message, OwnHeat)]
        if out.finished:
            for chair in [chair for chair, name in self.sits.items() if name == BOT and chair not in self.gone]:
                del self.sits[chair]  # who left during the heat has given the chair up
        return taken

    def check(self) -> None:
        """Compare every screen's results with the record."""
        for chair, name in self.sits.items():
            if name == BOT:
                continue
            view = self.view(chair)
            for result in view.results:
                for seat in result.seats:
                    expected = self.played[result.number, seat.chair]
                    assert [(one.name, one.since) for one in seat.players] == expected
                    is_own = any(one.person == view.person > 0 for one in seat.players)
                    assert is_own == (name in dict(expected)), (name, result.number, seat.chair)
                    assert all((one.person > 0) == (one.name in PEOPLE) for one in seat.players)

    def check_own(self) -> None:
        """Compare the heats that people were given as their own with the record."""
        for (name, number), told in self.own.items():
            heat = told.heat
            chair = chair_of(heat.seat, next(one.east for one in self.finished if one.number == number))
            runs = self.played[number, chair]
            assert name in dict(runs) or self.dealt[number].get(chair) == name
            assert heat.names[heat.seat] == " + ".join(dict.fromkeys(one or "bot" for one, _ in runs))
            by_step = [(step.step, step.by) for step in heat.steps]
            for step, by in by_step:
                who = [one for one, since in runs if STEP_NAMES.index(since) <= STEP_NAMES.index(step)][-1]
                assert (by == "other") == (who in PEOPLE and who != name), (name, number, step, runs)
                assert by != "person" or who == name


@pytest.mark.parametrize("start", range(HEATS * STEPS_A_HEAT))
def test_every_order_of_coming_and_going_leaves_each_result_with_who_played_it(start: int) -> None:
    for order in ORDERS[start :: HEATS * STEPS_A_HEAT]:
        evening, todo, at = Recorded(), list(order), 0
        while len(evening.finished) < HEATS or todo:
            if evening.table.record.phase != "heat":
                if at >= start and todo:
                    evening.act(todo.pop(0))  # between two heats
                evening.check()
                evening.ready()
                evening.dealt[evening.table.record.number] = {
                    chair: name for chair, name in evening.sits.items() if name
                }
            before = evening.heat().step
            if at >= start and todo:
                evening.act(todo.pop(0))
            while evening.table.record.phase == "heat" and evening.heat().step == before:
                evening.people_answer()
                evening.wait(1_000)
            at += 1
            evening.check()
        evening.check_own()


def test_a_seat_played_by_two_names_both_and_belongs_to_both_with_each_ones_steps() -> None:
    evening = Recorded()
    evening.ready()
    evening.people_answer()
    evening.wait(60_000)
    evening.act("send away")
    evening.act("come")
    while evening.table.record.phase == "heat":
        evening.people_answer()
        evening.wait(1_000)
    seat = next(seat for seat in evening.view().results[0].seats if len(seat.players) > 1)
    assert seat.players[0].name == "Cleo"
    assert seat.players[-1].name == "Dora"
    dora = evening.own["Dora", 1].heat
    assert {step.by for step in dora.steps} >= {"other", "person"}


@pytest.mark.parametrize("open_racks", [False, True])
def test_who_left_is_told_the_heat_that_another_finished_there_once_it_is_open_to_all(open_racks: bool) -> None:
    settings = SETTINGS.model_copy(update={"heats": 2, "open_racks": open_racks})
    evening = Evening(settings, people=4)
    token = evening.tokens[1]
    evening.ready()
    evening.people_answer()
    evening.do(1, Leave())
    assert evening.join("Dora") == 1
    evening.play_heat()
    (played,) = [seat for seat in evening.view().results[0].seats if seat.chair == 1]
    assert [player.name for player in played.players] == ["Person 2", "Dora"]
    evening.do(3, Leave())
    evening.sent.clear()
    assert evening.join("Person 2", token) == 3
    told = [message for message in evening.sent[3] if isinstance(message, OwnHeat)]
    assert bool(told) == open_racks
    evening.play_heat()
    assert evening.view().phase == "over"
    told += [message for message in evening.sent[3] if isinstance(message, OwnHeat) and message.heat.number == 1]
    assert told, "open to all now"
