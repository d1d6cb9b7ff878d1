"""What is thought ahead while a heat runs is what its review asks: nothing is worked out twice, and nothing changes."""

from shared.coach.engine import Engine
from shared.coach.known import Known
from shared.coach.lived import LivedHeat, lived
from shared.coach.review import look_ahead, review, seed_of
from shared.rules.heat import final_state
from shared.rules.seat_heat import seat_heat
from shared.rules.seats import Seat
from shared.rules.steps import STEPS
from tests.client.heats import bots_heat
from tests.shared.coach.lives import coach


def test_a_review_after_a_look_ahead_ranks_nothing_anew_and_says_the_same(monkeypatch) -> None:  # type: ignore[no-untyped-def]
    whole = bots_heat()
    heat = seat_heat(whole, final_state(whole), Seat.EAST)
    told = lived(heat)
    assert isinstance(told, LivedHeat)
    coached, seed = coach(), seed_of(heat)
    fresh = list(review(coached, told, seed))
    known = Known()
    for each in told.steps:
        if STEPS[each.step.step].ask in ("pass", "give", "offer"):
            assert each.position
            look_ahead(coached, each.step, each.position, seed, known)
        elif STEPS[each.step.step].ask == "vote":
            now = told.final.__class__(each.rack, each.passed, 0, (), False, told.final.looks, told.final.jokers)
            look_ahead(coached, each.step, now, seed, known)
    asked = []
    rank = Engine.rank
    monkeypatch.setattr(
        Engine, "rank", lambda self, *given, **more: (asked.append(given), rank(self, *given, **more))[1]
    )
    assert list(review(coached, told, seed, known=known)) == fresh
    assert asked == []


def test_the_oldest_answers_go_first() -> None:
    known, made = Known(), list[int]()

    def answer(number: int) -> int:
        return known.once(number, lambda: made.append(number) or number)

    for number in range(200):
        assert answer(number) == number
    assert answer(199) == 199
    assert answer(0) == 0
    assert made == [*range(200), 0]
