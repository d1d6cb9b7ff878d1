"""Which decisions are drilled: one's own, made with a choice, that cost more than chance explains."""

from dataclasses import replace

import pytest

from client.hosting.table import play_bots
from client.storage.costliest import MOST, NONE_YET, NOT_KEPT, costliest, how_it_went, lay_costliest
from client.storage.history_db import HistoryEntry, Read, StepLoss
from shared.cards.play import shipped_text
from shared.coach.heats import review_heat, to_review
from shared.coach.review import Review
from shared.rules.drills import Laid
from shared.rules.heat import SavedHeat, final_state
from shared.rules.seat_heat import SeatHeat, seat_heat
from shared.rules.seats import Seat
from shared.rules.settings import Settings
from shared.rules.steps import StepName
from shared.versions import COACH
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
        HistoryEntry(
            kept.number,
            own(kept),
            coach=COACH,
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
    assert {(each.what, each.step) for each in laid} == {("replay from second left", "second left")}
    points = [entry.losses["second left"].points for entry in entries]
    assert [each.lost for each in laid] == sorted(points, reverse=True)[:MOST]
    worst = max(entries, key=lambda one: one.heat.number).heat.number
    assert laid[0].events == whole[worst].events[: len(laid[0].events)]


@pytest.fixture(scope="module")
def review() -> Review:
    """A review of a heat whose answers were all a person's."""
    (kept,) = play_bots(Settings(seed=5, heats=1, bot_skill="simple"), card=shipped_text("first-evening"))
    lived = seat_heat(kept, final_state(kept), Seat.EAST)
    steps = tuple(each.model_copy(update={"by": "person"}) for each in lived.steps)
    *_, whole = review_heat(to_review(lived.model_copy(update={"steps": steps})))
    return whole


def again(step: StepName | None, lost: float | None = None) -> Laid:
    return Laid(Settings(), (), Seat.EAST, "a test", step, lost)


def test_a_decision_made_again_is_set_beside_the_best_and_the_time_before(review: Review) -> None:
    for each in review.steps:
        if verdict := each.verdict:
            said = how_it_went(again(each.lived.step.step, 16.04), review)
            assert said.startswith(f"{each.lived.step.step.capitalize()} again: ")
            assert said.endswith("; 16.0 less before.")
            assert len(said) <= 76
            assert ("the best answer" in said) == (verdict.own.place == 0)
            assert (f"{verdict.loss:.1f} less than the best" in said) == (verdict.own.place > 0)
            assert ("too close" in said) == (verdict.own.place > 0 and verdict.too_close)
    assert how_it_went(again("first left"), review).endswith((" best.", " answer.", " close."))


def test_what_somebody_else_answered_is_said_to_be_theirs(review: Review) -> None:
    first, *rest = review.steps
    assert first.verdict
    for by, who in (("timeout", "the clock"), ("bot", "a bot")):
        late = replace(first.verdict, judged=replace(first.verdict.judged, by=by))
        found = replace(review, steps=(replace(first, verdict=late), *rest))
        said = how_it_went(again("first right", 2.0), found)
        assert said == f"First right again: {who} answered for you; 2.0 less before."


def test_of_a_whole_deal_it_is_told_what_all_decisions_lost_once_all_are_judged(review: Review) -> None:
    lost = {each.lived.step.step: each.verdict.loss for each in review.steps if each.verdict and each.verdict.is_own}
    most = max(lost, key=lambda name: lost[name])
    assert lost[most] > 0
    said = f"Your decisions lost {sum(lost.values()):.1f} points, {lost[most]:.1f} of them at {most}."
    assert how_it_went(again(None), review) == said
    assert len(said) <= 76
    assert how_it_went(again(None), replace(review, ledger=None)) == ""
    assert how_it_went(again("plan"), review) == ""
