"""Which decisions are drilled: one's own, made with a choice, that cost more than chance explains."""

from client.drilling import MOST, NONE_YET, NOT_KEPT, costliest, lay_costliest
from client.history import Entry, Read, StepLoss
from client.solo import play_bots
from shared.heat import SavedHeat, final_state
from shared.seat_heat import SeatHeat, seat_heat
from shared.seats import Seat
from shared.settings import Settings
from tests.client.heats import entry, heat, step


def loss(points: float, error: float = 0.1, forced: bool = False) -> StepLoss:
    return StepLoss(step="first right", points=points, error=error, luck=0.0, forced=forced)


def test_the_worst_come_first_and_what_chance_explains_does_not_come() -> None:
    entries = [
        entry(heat(1), [loss(1.0)]),
        entry(heat(2), [loss(3.0)]),
        entry(heat(3), [loss(0.5, error=0.4)]),
        entry(heat(4), [loss(2.0, forced=True)]),
        entry(heat(5, [step(by="timeout")]), [loss(5.0)]),
        entry(heat(6), [loss(9.0)], source="drill"),
    ]
    assert [(found.heat.number, found.points) for found in costliest(entries)] == [(2, 3.0), (1, 1.0)]


def test_nothing_to_drill_is_said_in_a_sentence() -> None:
    assert lay_costliest(Read((entry(heat(1)),)), lambda kept: None) == NONE_YET
    assert lay_costliest(Read((entry(heat(1), [loss(2.0)]),)), lambda kept: None) == NOT_KEPT


def test_each_is_laid_as_it_stood_and_no_more_than_a_few() -> None:
    heats = play_bots(Settings(seed=3, heats=7))
    whole: dict[int, SavedHeat] = {kept.number: kept for kept in heats}

    def own(kept: SavedHeat) -> SeatHeat:
        lived = seat_heat(kept, final_state(kept), Seat.EAST)
        return lived.model_copy(
            update={"steps": tuple(each.model_copy(update={"by": "person"}) for each in lived.steps)}
        )

    entries = [
        Entry(
            kept.number,
            own(kept),
            losses={"second left": StepLoss(step="second left", points=1.0 + kept.number, error=0.1, luck=0.0)},
        )
        for kept in heats
        if any(each.step == "second left" for each in own(kept).steps)
    ]
    found = lay_costliest(Read(tuple(entries)), lambda kept: whole[kept.number])
    assert isinstance(found, tuple)
    laid, card = found
    assert card == heats[0].card
    assert len(laid) == min(MOST, len(entries))
    assert {each.what for each in laid} == {"replay from second left"}
    worst = max(entries, key=lambda one: one.heat.number).heat.number
    assert laid[0].events == whole[worst].events[: len(laid[0].events)]
