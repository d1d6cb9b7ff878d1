"""The end of a heat in words: true of the heat, and where something is missing it says so."""

import re
from functools import cache

import pytest

from client.models.heat_end import (
    LOOKING,
    NO_HINTS,
    NO_RECORD,
    NOT_PLAYED,
    NOTHING_COSTLY,
    LastHeats,
    balance,
    heat_end,
    set_end,
)
from client.target import Named
from shared.coach.heats import review_heat, to_review
from shared.coach.ledger import Ledger, LedgerEntry
from shared.coach.ranking import RankedPass
from shared.coach.review import Review
from shared.rules.heat import final_state
from shared.rules.seat_heat import AnsweredBy, SeatHeat, seat_heat
from shared.rules.seats import SEATS, Seat
from shared.rules.settings import Settings
from tests.client.heats import bots_heat


def lived(seat: Seat = Seat.EAST, by: AnsweredBy = "person") -> SeatHeat:
    """Return a seat of a whole heat of bots as if a person, or another, had answered all of it."""
    whole = bots_heat()
    own = seat_heat(whole, final_state(whole), seat)
    return own.model_copy(update={"steps": tuple(step.model_copy(update={"by": by}) for step in own.steps)})


@cache
def reviewed(seat: Seat = Seat.EAST, by: AnsweredBy = "person") -> Review:
    *_, last = review_heat(to_review(lived(seat, by)))
    return last


def figures(text: str) -> list[float]:
    return [float(found) for found in re.findall(r"[+-]?\d+\.\d", text)]


@pytest.mark.parametrize("seat", SEATS)
def test_the_costliest_decision_is_the_one_with_the_greatest_sure_loss_and_its_hand_is_named(seat: Seat) -> None:
    end = heat_end(lived(seat), reviewed(seat))
    sure = [
        (step.verdict.loss, step.lived.step.step)
        for step in reviewed(seat).steps
        if step.verdict and step.verdict.is_own and not step.verdict.too_close and step.verdict.own.place
    ]
    if not sure:
        assert (end.costly, end.said) == (None, NOTHING_COSTLY)
        return
    assert end.costly
    assert (end.costly.lost, end.costly.step) == max(sure)
    assert end.costly.heading.startswith(f"{end.costly.step}, ")
    assert end.costly.why
    assert end.costly.name
    assert end.costly.drawn


def test_the_balance_adds_up_as_it_is_printed() -> None:
    for seat in SEATS:
        ledger = reviewed(seat).ledger
        assert ledger
        dealt, *parts, now = figures(balance(ledger))
        assert dealt + sum(parts) == pytest.approx(now, abs=0.001)


def test_what_the_clock_lost_stands_apart_from_ones_own() -> None:
    def entry(by: AnsweredBy, loss: float) -> LedgerEntry:
        ranked = RankedPass((), 0, 10.0, 0.1)
        return LedgerEntry("first right", by, False, ranked, ranked, loss, 0.1, 2.0)

    ledger = Ledger(20.0, (entry("person", 1.5), entry("timeout", 3.0), entry("other", 0.5)), 21.0)
    assert balance(ledger) == (
        "dealt 20.0 in 100   luck +6.0   your choices -1.5   by the clock -3.0   by somebody else -0.5   now 21.0"
    )


def test_what_the_clock_did_is_told_with_its_tiles() -> None:
    end = heat_end(
        lived(by="timeout").model_copy(update={"steps": _one_answered(lived(by="timeout"))}), reviewed(by="timeout")
    )
    assert end.costly
    assert end.costly.why.startswith("Time ran out: ")


def _one_answered(heat: SeatHeat) -> tuple[object, ...]:
    return (heat.steps[0].model_copy(update={"by": "person"}), *heat.steps[1:])


def test_time_stands_beside_the_level_and_the_last_heats() -> None:
    end = heat_end(lived(), None, (), LastHeats(5, 141_000, 9.04))
    assert re.fullmatch(r"\d:\d\d of 3:00, in time", end.time)
    assert end.before == "your last 5 heats: 2:21, lost 9.0"
    assert heat_end(lived(), None, (), LastHeats(1, 141_000)).before == "the heat before: 2:21"
    assert heat_end(lived()).before == ""
    slowest = lived().steps[end.slowest or 0]
    assert slowest.spent_ms == max(step.spent_ms for step in lived().steps)


def test_what_is_missing_is_said_in_a_sentence() -> None:
    own = lived()
    assert heat_end(None).said == NO_RECORD
    assert heat_end(own).said == LOOKING
    assert heat_end(own, None, missing="No card.").said == "No card."
    silent = own.model_copy(update={"settings": Settings(hints="none")})
    end = heat_end(silent, reviewed())
    assert (end.said, end.points, end.costly) == (NO_HINTS, "", None)
    assert heat_end(lived(by="timeout"), reviewed(by="timeout")).said == NOT_PLAYED


def test_the_target_is_told_before_the_review_is_whole_and_judged_after() -> None:
    named = (Named(step="first right", after_ms=1, words=reviewed().steps[0].verdict.hands[0].family),)  # type: ignore[union-attr]
    before, after = heat_end(lived(), None, named), heat_end(lived(), reviewed(), named)
    assert before.target == f"You named {named[0].words} at first right."
    assert after.target.startswith(f"You named {named[0].words} at first right and stayed with it")


def test_a_set_stands_beside_the_last_ones() -> None:
    assert set_end(None, LastHeats(3, 1)) == ()
    assert set_end(LastHeats(3, 128_000, 6.2), LastHeats(14, 141_000)) == (
        "This set: usually 2:08 a heat, 6.2 points lost on average.",
        "Your last sets (14 heats): usually 2:21 a heat.",
    )
    assert set_end(LastHeats(1, 5_000), LastHeats(1, 7_000, 2.0))[1] == "The heat before: 0:07, 2.0 points lost."
