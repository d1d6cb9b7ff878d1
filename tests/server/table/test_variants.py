"""House variants at a table: bots that keep to them, and a heat that East wins before anything is passed."""

from typing import Any

import pytest

from client.models.heat_end import heat_end
from client.reports.history_stats import history_report
from client.storage.history_db import Read
from server.records import TableRecord
from server.table import bots
from server.table.coaches import thinker
from shared.cards.play import shipped_text
from shared.coach.lived import lived
from shared.measures.standings import from_seat_heat, standings
from shared.rules.events import Offered, Passed, Voted
from shared.rules.heat import final_state
from shared.rules.intents import Plan
from shared.rules.settings import Settings
from shared.rules.tiles import JOKER
from shared.rules.wall import Stream
from shared.rules.wall_seen import read_aloud, seen_faults
from shared.wire.messages import HeatFile, OwnHeat
from shared.wire.views import HeatView
from tests.client.heats import entry
from tests.heats import HOUSE_RULES, faults
from tests.tables import QUICK, Evening, never


def table(**settings: Any) -> Settings:
    return QUICK.model_copy(update=settings)


@pytest.mark.parametrize("skill", ["simple", "coach, at a glance"])
def test_bots_keep_to_every_variant(skill: str) -> None:
    """No answer of theirs is refused: then a clock would have answered instead."""
    settings = table(**HOUSE_RULES, bot_skill=skill, heats=1)
    heat = Evening(settings, people=1, think=thinker(settings, shipped_text())).play_heat()
    assert faults(heat, never) == ()
    answers = [event for event in heat.events if isinstance(event, Passed | Voted | Offered)]
    assert {event.by for event in answers} == {"bot", "person"}
    assert {event.to for event in answers if isinstance(event, Offered)} - {"across"}
    state = final_state(heat)
    assert sum(tile == JOKER for rack in (*state.racks, state.wall) for tile in rack) == 10


def test_a_bot_that_fails_is_silent_and_silence_stops() -> None:
    """Its seat's clock answers for it; at a table where silence means stop, that ends the passing."""

    def mute(view: HeatView, stream: Stream) -> Any:
        return Plan(hand="", discards=()) if view.step == "go on" else bots.choose(view, stream)

    for silence, is_played in (("stop", False), ("go on", True)):
        evening = Evening(table(silence=silence, heats=1), people=1, think=mute)
        heat = evening.play_heat()
        votes = [event for event in heat.events if isinstance(event, Voted)]
        assert {event.by for event in votes} == {"person", "timeout"}
        assert ("second left" in [done.step for done in final_state(heat).done]) == is_played


# ---- East wins


def complete(card: str, rack: object) -> bool:
    return True


@pytest.mark.parametrize("people", [1, 2, 4])
def test_a_heat_that_east_wins_is_over_at_once_told_to_all_and_belongs_to_who_sat_there(people: int) -> None:
    evening = Evening(table(east_complete="wins", heats=2), people=people, complete=complete)
    evening.ready()
    view = evening.view()
    assert (view.phase, view.heat) == ("between", None)
    (result,) = view.results
    assert result.east_won
    assert [seat.spent for seat in result.seats] == [(), (), (), ()]
    persons = {seat.chair: seat.players[0].person for seat in result.seats}
    assert persons == {chair: chair + 1 if chair < people else 0 for chair in range(4)}
    (heat,) = evening.finished
    assert [event.kind for event in heat.events] == ["dealt", "east won", "heat ended"]
    assert faults(heat, complete) == ()
    assert faults(heat, never)
    for chair in range(people):
        (own,) = [message.heat for message in evening.sent[chair] if isinstance(message, OwnHeat)]
        assert own.east_won
        assert own.dealt == own.final == final_state(heat).dealt[own.seat]
        assert any(isinstance(message, HeatFile) for message in evening.sent[chair])
        assert not isinstance(lived(own), str)
        seen = evening.watch(chair).seen["t1", heat.number]
        assert seen_faults(seen, heat) == ()
        assert read_aloud(seen) == read_aloud(evening.watch(0).seen["t1", heat.number])


def test_the_set_goes_on_after_it_with_the_next_east() -> None:
    evening = Evening(table(east_complete="wins", heats=2), people=2, complete=complete)
    evening.ready()
    first = evening.view().results[0]
    evening.ready()
    assert evening.view().phase == "over"
    assert len(evening.finished) == 2
    assert first.seats[0].chair != evening.view().results[1].seats[0].chair


def test_a_hand_of_a_card_that_is_not_shared_wins_nothing() -> None:
    """Nobody else could check it; so the heat is played."""
    record = TableRecord(
        id="t1", name="Boathouse", code="tern-12", settings=table(east_complete="wins"), card_digest="ab" * 32
    )
    evening = Evening(people=1, complete=complete, record=record)
    evening.ready()
    assert evening.heat().step == "first right"


def test_such_a_heat_counts_in_no_standing_and_no_history_of_decisions() -> None:
    evening = Evening(table(east_complete="wins", heats=1), people=2, complete=complete)
    evening.ready()
    owns = [message.heat for chair in (0, 1) for message in evening.sent[chair] if isinstance(message, OwnHeat)]
    played = [from_seat_heat(own, own.names[own.seat], "a deal", 1) for own in owns]
    assert [one.bot for one in played] == [True, True]
    assert standings(played).speed == ()
    report = history_report(Read([entry(own) for own in owns], ()))
    assert (report.heats, report.not_played, report.overall) == (0, 2, None)
    for own in owns:
        end = heat_end(own)
        assert "dealt a complete hand, which wins the heat" in end.said
        assert end.said.startswith("You were" if own.seat == 0 else "East was")
