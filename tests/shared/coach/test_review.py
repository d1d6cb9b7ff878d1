"""A review of a heat: it adds up, it is the same from disk, and nothing unseen has a part in it."""

from dataclasses import replace
from functools import partialmethod
from itertools import pairwise

import pytest

from shared.chances import in_hundred
from shared.coach.discards import together
from shared.coach.distance import counts_of
from shared.coach.engine import Engine, Stopped
from shared.coach.lived import LivedHeat, lived
from shared.coach.ranking import Effort
from shared.coach.review import Review, compare, review, seed_of
from shared.rules.events import Dealt
from shared.rules.heat import HEAT, final_state
from shared.rules.seat_heat import SEAT_HEAT, SeatHeat, seat_heat
from shared.rules.seats import SEATS, Seat
from shared.rules.settings import Settings
from shared.rules.state import replay
from shared.rules.tiles import INDEX, JOKER, Tile, by_suit
from shared.rules.wall import Stream
from tests.heats import Heat
from tests.shared.coach.lives import TINY, coach, random_heat, random_life

QUICK = Effort(((6, 8),))
WHOLE = Settings(second="always", plan=True)


def judged_life(heat: SeatHeat) -> LivedHeat:
    found = lived(heat)
    assert isinstance(found, LivedHeat), found
    return found


def whole(heat: SeatHeat, effort: Effort = QUICK, card: str | None = None) -> Review:
    coached = coach(card) if card else coach()
    return list(review(coached, judged_life(heat), seed_of(heat), effort))[-1]


@pytest.fixture
def _few_futures_for_reasons(monkeypatch: pytest.MonkeyPatch) -> None:
    """Reasons and what single tiles are worth come from few futures: no number of a ledger is made of them."""
    monkeypatch.setattr("shared.coach.reasons.FUTURES", 2)
    monkeypatch.setattr(Engine, "worths", partialmethod(Engine.worths, futures=2))


@pytest.mark.usefixtures("_few_futures_for_reasons")
@pytest.mark.parametrize("first", range(0, 500, 50))
def test_start_and_luck_less_losses_is_the_end_in_500_heats_and_no_loss_is_negative(first: int) -> None:
    for seed in range(first, first + 50):
        seen = whole(random_life(seed), Effort(((2, 2),)), TINY)
        assert seen.ledger is not None
        verdicts = [step.verdict for step in seen.steps if step.verdict]
        luck, loss = (sum(verdict.luck or 0 for verdict in verdicts), sum(verdict.loss for verdict in verdicts))
        given = sum(verdict.judged.chosen.given - verdict.judged.best.given for verdict in verdicts)
        assert given == seen.ledger.given
        assert abs((seen.start or 0) + luck + given - loss - seen.ledger.final) <= 1e-9
        assert seen.start == seen.ledger.start
        assert min(verdict.loss for verdict in verdicts) >= 0
        assert min(verdict.judged.se for verdict in verdicts) >= 0
        assert None not in [verdict.luck for verdict in verdicts]


@pytest.mark.parametrize("seed", range(4))
def test_a_heat_from_disk_is_seen_as_the_one_just_played(seed: int) -> None:
    heat, state = random_heat(seed)
    live = seat_heat(heat, state, Seat.WEST)
    from_seat = SEAT_HEAT.unpack(SEAT_HEAT.pack(live))
    saved = HEAT.unpack(HEAT.pack(heat))
    from_whole = seat_heat(saved, final_state(saved), Seat.WEST)
    assert whole(from_seat) == whole(live) == whole(from_whole)


@pytest.mark.parametrize("seed", range(3))
def test_tiles_that_the_seat_never_saw_have_no_part_in_its_review(seed: int) -> None:
    """What comes to East is dealt from the wall, so that a whole other heat can look the same from its seat."""
    settings = WHOLE.model_copy(update={"incoming": "wall"})
    first, second = Heat(settings), Heat(settings)
    opening = first.events[0]
    assert isinstance(opening, Dealt)
    comes, rest = opening.wall[:-8], opening.wall[-8:]
    hidden = Stream(bytes([seed]), "hidden").shuffled((*opening.racks[1], *opening.racks[2], *opening.racks[3], *rest))
    racks = (opening.racks[0], hidden[:13], hidden[13:26], hidden[26:39])
    second.events[0] = opening.model_copy(update={"racks": racks, "wall": (*comes, *hidden[39:])})
    second.state = replay(settings, second.events)
    here, there = (
        seat_heat(heat.play_out().saved(), heat.state, Seat.EAST).model_copy(update={"commitment": commitment})
        for heat, commitment in ((first, "aa" * 32), (second, "bb" * 32))
    )
    assert first.state.racks[Seat.SOUTH] != second.state.racks[Seat.SOUTH]
    assert here != there
    assert whole(here) == whole(there)


def test_it_fills_in_step_by_step_and_what_is_there_stays() -> None:
    heat = random_life(1, WHOLE)
    seen = list(review(coach(), judged_life(heat), seed_of(heat), QUICK))
    assert all(step.verdict is None for step in seen[0].steps), "times come at once"
    assert [step.lived.step for step in seen[0].steps] == list(heat.steps)
    known = [sum(step.verdict is not None for step in each.steps) for each in seen]
    assert known[:-1] == list(range(len(seen) - 1))
    assert [each.done for each in seen] == sorted(each.done for each in seen)
    assert seen[-1].done == 1.0
    for before, after in pairwise(seen):
        for old, new in zip(before.steps, after.steps, strict=True):
            if old.verdict:
                assert new.verdict is not None
                assert replace(new.verdict, luck=None) == replace(old.verdict, luck=None)
    assert [each.ledger is None for each in seen] == [True] * (len(seen) - 1) + [False]


def test_it_can_be_stopped_within_a_step() -> None:
    heat, shares = random_life(2, WHOLE), list[float]()

    def check(share: float) -> None:
        shares.append(share)
        if share > 0.3:
            raise Stopped

    with pytest.raises(Stopped):
        list(review(coach(), judged_life(heat), 1, QUICK, check))
    assert shares == sorted(shares)


def test_the_own_pass_stands_beside_the_leading_ones() -> None:
    seen = whole(random_life(3, WHOLE), QUICK)
    passes = [step for step in seen.steps if step.verdict and not step.verdict.own.says]
    assert len(passes) >= 6
    for step in passes:
        verdict = step.verdict
        assert verdict is not None
        assert verdict.own.ranked.tiles == by_suit(step.lived.step.given)
        assert verdict.own in verdict.ways
        assert [way.place for way in verdict.ways] == sorted({way.place for way in verdict.ways})
        assert verdict.ways[0].loss.points == 0
        assert all(way.ranked.gift is not None for way in verdict.ways)
        assert verdict.own.words
        assert {tile for tile, _ in verdict.worths} == set(step.lived.rack)


def test_stopping_costs_what_going_on_is_worth_more_and_another_seats_stop_is_luck() -> None:
    def life(*votes: bool) -> SeatHeat:
        # East's rack at the vote of this deal gains three points by going on.
        heat = Heat(Settings(courtesy=False), contributions=(bytes([6]) * 16, b"", b"", b"")).go_to("go on")
        for seat, vote in zip(SEATS, votes, strict=True):
            heat.answer(seat, go_on=vote)
        return seat_heat(heat.play_out().saved(), heat.state, Seat.EAST)

    def question(heat: SeatHeat) -> tuple[float, float, float]:
        verdict = next(step.verdict for step in whole(heat).steps if step.lived.step.step == "go on")
        assert verdict is not None
        return verdict.loss, verdict.luck or 0.0, verdict.given

    on, mine, theirs = life(True, True, True, True), life(False, True, True, True), life(True, False, True, True)
    loss, luck, given = question(mine)
    assert loss > 0
    assert luck == 0
    assert given < 0, "the best pass would have given the neighbour something"
    assert question(theirs) == (0.0, given - loss, 0.0)
    assert question(on)[0] == 0


def test_an_offer_is_worth_its_best_tiles_and_a_partner_who_offers_less_is_luck() -> None:
    def offer(own: int, partner: int) -> tuple[tuple[str, ...], float, float]:
        heat = Heat(Settings()).go_to("courtesy offer")
        for seat in SEATS:
            heat.answer(seat, count=own if seat == Seat.EAST else partner)
        life = seat_heat(heat.play_out().saved(), heat.state, Seat.EAST)
        verdict = next(step.verdict for step in whole(life).steps if step.lived.step.step == "courtesy offer")
        assert verdict is not None
        assert verdict.own.says == f"offer {own}"
        return verdict.kinds, verdict.loss, verdict.luck or 0.0

    assert offer(3, 3)[1:] == (0.0, 0.0), "nothing of this rack is worth keeping"
    kinds, loss, luck = offer(0, 3)
    assert kinds == ("offering too few",)
    assert loss > 0
    assert luck == pytest.approx(0, abs=1e-3)
    assert offer(3, 0)[2] == pytest.approx(-loss, abs=1e-3)


def test_what_the_clock_or_a_bot_did_is_no_loss_of_ones_own() -> None:
    heat = Heat(WHOLE)
    heat.wait_out()
    life = seat_heat(heat.play_out().saved(), heat.state, Seat.EAST)
    first, second = (step.verdict for step in whole(life).steps[:2])
    assert first is not None
    assert second is not None
    assert (first.judged.by, first.is_own) == ("timeout", False)
    assert "by the clock" in first.said
    assert (second.judged.by, second.is_own) == ("person", True)


def test_a_second_try_is_judged_beside_the_same_best_pass() -> None:
    heat = random_life(5, WHOLE)
    step = whole(heat).steps[0]
    assert step.verdict is not None
    assert step.lived.position is not None
    best = step.verdict.ways[0].ranked
    tried = compare(coach(), step.lived.position, best.tiles, best.blind, seed_of(heat), QUICK)
    assert tried.own.place == 0
    assert tried.own.loss.points == 0
    assert tried.ways[0].ranked.points == best.points


def test_the_plan_is_held_against_the_likeliest_hand() -> None:
    heat = Heat(WHOLE).go_to("plan")
    life = seat_heat(heat.play_out().saved(), heat.state, Seat.EAST)
    unnamed = whole(life).end
    assert unnamed is not None
    assert "The plan named no hand" in unnamed.said[0]

    def named(hand: str, discards: tuple[Tile, ...] = ()) -> Review:
        *before, plan = life.steps
        planned = plan.model_copy(update={"hand": hand, "discards": discards})
        return whole(life.model_copy(update={"steps": (*before, planned)}))

    likeliest = unnamed.targets[0]
    right = named(likeliest.hand).end
    assert right is not None
    assert (right.place, right.planned) == (0, likeliest)
    assert "the likeliest" in right.said[0]
    other = named(unnamed.targets[2].hand).end
    assert other is not None
    assert (other.place, other.planned) == (2, unnamed.targets[2])
    assert "number 3 in likelihood" in other.said[0]
    patterns, rack = coach().engine.patterns, counts_of(life.final)
    wanted = patterns.pairs[likeliest.variant] + patterns.groups[likeliest.variant]
    needed = next(tile for tile in life.final if tile != JOKER and 0 < rack[INDEX[tile]] <= wanted[INDEX[tile]])
    foolish = named(likeliest.hand, (needed,)).end
    assert foolish is not None
    assert foolish.needed == (needed,)
    assert right.judged == right.said[:1]
    assert in_hundred(likeliest.points) in right.said[0]
    less = likeliest.points - unnamed.targets[2].points
    assert ("too close to call" if less < 1 else f"{less:.1f} points more") in other.said[0]
    story = lived(life)
    assert not isinstance(story, str)
    best, lost = together(coach().engine, story.final, (needed,))
    assert lost == max(each.loss for each in unnamed.discards if each.tile == needed)
    assert best == (unnamed.discards[0].tile,)
    cost = "costs nothing" if lost < 0.05 else f"costs {lost:.1f} points"
    assert any(cost in sentence for sentence in foolish.judged)
    assert unnamed.judged == ()

    def another_is_named(tile: Tile) -> bool:
        end = named(likeliest.hand, (tile,)).end
        assert end is not None
        return any(sentence.startswith("The tile least missed, ") for sentence in end.said)

    assert another_is_named(next(each.tile for each in unnamed.discards if each.loss >= 0.05))
    assert not any(another_is_named(each.tile) for each in unnamed.discards[:2] if each.loss < 0.05)
    wrong = named("nothing of this card").end
    assert wrong is not None
    assert (wrong.planned, wrong.place) == (None, None)


def step_changed(number: int, **changes: object) -> SeatHeat:
    life = seat_heat(Heat(WHOLE).play_out().saved(), Heat(WHOLE).play_out().state, Seat.SOUTH)
    steps = list(life.steps)
    steps[number] = steps[number].model_copy(update=changes)
    return life.model_copy(update={"steps": tuple(steps)})


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"given": ("J", "J", "J")}, "tiles that the rack does not hold"),
        ({"came": ("F", "F")}, "the numbers of tiles sent and received differ"),
        ({"came": (JOKER,) * 3}, "a joker was passed"),
        ({"blind": 1}, "that step does not allow so many blind tiles"),
        ({"offer": 2}, "its answer does not fit the step"),
        ({"step": "first across"}, "a step twice"),
        ({"step": "go on"}, "does not pass as many tiles as the step asks for"),
    ],
)
def test_a_step_that_cannot_have_been_is_told_in_a_sentence(changes: dict[str, object], why: str) -> None:
    found = lived(step_changed(0, **changes))
    assert isinstance(found, str)
    assert why in found
    assert found.endswith(".")


def test_a_rack_that_nobody_can_be_dealt_and_one_that_does_not_follow_are_told() -> None:
    life = step_changed(0)
    for changes in ({"dealt": ("1b",) * 13}, {"dealt": life.dealt[:12]}, {"final": ("F",) * 13}):
        assert "does not add up" in str(lived(life.model_copy(update=changes)))
    assert "real tiles" in str(lived(life.model_copy(update={"dealt": (), "steps": (), "final": ()})))


def test_what_a_seat_knew_grows_by_its_passes_and_shrinks_by_what_is_to_come() -> None:
    found = judged_life(step_changed(0))
    passes = [step for step in found.steps if step.step.step not in ("courtesy offer", "courtesy give", "plan")]
    assert [step.later for step in passes] == [5, 4, 3, 2, 1, 0]
    assert [len(step.passed) for step in passes] == [0, 3, 6, 9, 12, 15]
    assert all(len(step.rack) == 13 for step in found.steps)
