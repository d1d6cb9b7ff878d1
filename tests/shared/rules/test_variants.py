"""The house variants: each a setting that is off by default.

That tables play them is common practice, without one source. On two of them guides disagree, and we name neither side
right. When a stop may be said: the encyclopedia article "American mahjong" and most guides of teachers and sellers let
it be said once the three passes have been made; at least one seller's guide only while nobody has looked at the tiles
of first left. What East's complete hand is worth: some guides let East win at once and call the hand heavenly, one has
the first Charleston played all the same, and many tables deal again. The guides are commercial, so they stay unnamed.
"""

from collections import Counter
from itertools import combinations
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.rules.charleston import most_blind, open_heat
from shared.rules.events import Dealt, EastWon, HeatEnded, Voted
from shared.rules.heat import condensed, sealed
from shared.rules.intents import Arrange, Lift, Offer, Pass, Vote
from shared.rules.seats import SEATS, PerSeat, Seat
from shared.rules.settings import Settings
from shared.rules.state import replay
from shared.rules.steps import FIRST, STEPS
from shared.rules.tiles import JOKER, Rack, full_set
from shared.rules.wall import build_wall
from shared.wire.views import HeatView, heat_view
from tests.heats import EAST, HOUSE_RULES, KEY, NORTH, SOUTH, WEST, Heat, every_tile, faults, passable, veiled

CHAIRS = PerSeat((0, 1, 2, 3))
VARIANTS: dict[str, Any] = {**HOUSE_RULES, "blind": False}
"""Every variant with a value that is not the default."""


def heat(**settings: Any) -> Heat:
    return Heat(Settings(**settings))


def seen(played: Heat, seat: Seat) -> HeatView:
    return heat_view(played.state, seat, 1, CHAIRS, played.at_ms, ())


def test_every_variant_is_off_by_default() -> None:
    plain = Settings()
    assert all(getattr(plain, field) != value for field, value in VARIANTS.items())
    assert (plain.jokers, plain.silence, plain.blind_most, plain.blind_at) == (8, "go on", 3, "both")
    assert (plain.east_complete, plain.side_courtesy, plain.stop_unseen) == ("new deal", False, False)


# ---- ten jokers


def test_with_ten_jokers_the_set_has_154_tiles() -> None:
    played = heat(jokers=10)
    assert len(full_set(10)) == 154 == 108 + 16 + 12 + 8 + 10
    assert every_tile(played.state) == Counter(full_set(10))
    assert len(played.state.wall) == 154 - 53
    assert Counter(build_wall(KEY, 10))[JOKER] == 10


def test_with_ten_jokers_in_thirteen_tiles_three_can_still_be_passed() -> None:
    rest = [tile for tile in full_set(10) if tile != JOKER]
    racks = (tuple(rest[:14]), (JOKER,) * 10 + tuple(rest[14:17]), tuple(rest[17:30]), tuple(rest[30:43]))
    played = Heat(Settings(jokers=10), racks=racks)
    free = passable(played.state.racks[SOUTH])
    assert len(free) == 3
    played.do(SOUTH, Pass(step="first right", tiles=free))


@given(st.permutations(full_set(10)))
def test_a_rack_of_ten_jokers_times_out_like_any_other(wall: Rack) -> None:
    rest = [tile for tile in wall if tile != JOKER]
    racks = (tuple(rest[:14]), (JOKER,) * 10 + tuple(rest[14:17]), tuple(rest[17:30]), tuple(rest[30:43]))
    played = Heat(Settings(jokers=10), racks=racks)
    played.wait_out()
    assert sorted(played.state.done[0].sent[SOUTH]) == sorted(rest[14:17])


# ---- blind passes


@pytest.mark.parametrize("most", [1, 2, 3])
@pytest.mark.parametrize("at", ["both", "last right"])
def test_no_more_go_unseen_than_the_table_allows_and_only_where_it_does(most: int, at: str) -> None:
    for step in ("first left", "last right"):
        played = heat(blind_most=most, blind_at=at).go_to(step)  # type: ignore[arg-type]
        allowed = most if at == "both" or step == "last right" else 0
        assert most_blind(played.state) == seen(played, SOUTH).most_blind == allowed
        tiles = passable(played.state.racks[SOUTH])
        for blind in (1, 2, 3):
            intent = Pass(step=step, tiles=tiles[: 3 - blind], blind=blind)  # type: ignore[arg-type]
            if blind <= allowed:
                continue
            refusal = played.refused(SOUTH, intent)
            assert refusal.code == ("too many" if allowed else "no blind here")
            assert played.refused(SOUTH, Lift(step=intent.step, tiles=(), blind=blind)) == refusal
        played.do(SOUTH, Pass(step=step, tiles=tiles[: 3 - allowed], blind=allowed))  # type: ignore[arg-type]


def test_a_refusal_says_how_many_may_go_unseen() -> None:
    for most, words in ((1, "one tile"), (2, "two tiles")):
        played = heat(blind_most=most).go_to("first left")
        assert words in played.refused(SOUTH, Pass(step="first left", tiles=(), blind=3)).text


# ---- the stop is said before the tiles of first left are looked at


def test_the_tiles_of_first_left_are_in_no_rack_and_no_view_until_all_have_answered() -> None:
    played = heat(stop_unseen=True).go_to("go on")
    assert [len(rack) for rack in played.state.racks] == [11, 10, 10, 10]
    assert [len(down) for down in played.state.face_down] == [3, 3, 3, 3]
    for seat in SEATS:
        view = seen(played, seat)
        assert (len(view.rack), view.face_down, view.fresh) == (len(played.state.racks[seat]), 3, ())
        assert view == heat_view(veiled(played.state, seat), seat, 1, CHAIRS, played.at_ms, ())
    came = played.state.done[-1].came
    for seat in SEATS[:3]:
        played.do(seat, Vote(go_on=True))
        assert any(played.state.face_down)
    played.do(NORTH, Vote(go_on=True))
    assert [len(rack) for rack in played.state.racks] == [14, 13, 13, 13]
    assert not any(played.state.face_down)
    assert played.state.fresh == came
    assert all(seen(played, seat).fresh == came[seat] for seat in SEATS)


def test_the_route_of_a_view_does_not_hold_them_either() -> None:
    played = heat(stop_unseen=True).go_to("go on")
    hidden = heat_view(played.state, SOUTH, 1, CHAIRS, 0, FIRST).route[2]
    played.answer_all()
    shown = heat_view(played.state, SOUTH, 1, CHAIRS, 0, FIRST).route[2]
    assert (hidden.state, hidden.came, len(hidden.given)) == ("done", (), 3)
    assert shown.came == played.state.done[2].came[SOUTH] != ()


def test_nobody_finds_them_out_by_arranging_a_guess() -> None:
    """Whether a guess is right or wrong, the same is refused with the same words."""
    played = heat(stop_unseen=True).go_to("go on")
    rack, down = played.state.racks[SOUTH], played.state.face_down[SOUTH]
    right = played.refused(SOUTH, Arrange(tiles=(*rack, *down)))
    wrong = played.refused(SOUTH, Arrange(tiles=(*rack, "F", "F", "F")))
    assert right == wrong
    played.do(SOUTH, Arrange(tiles=tuple(reversed(rack))))


@pytest.mark.parametrize("go_on", [True, False])
def test_they_are_turned_up_after_a_stop_too(go_on: bool) -> None:
    played = heat(stop_unseen=True).go_to("go on")
    played.answer_all(go_on=go_on)
    assert [len(rack) for rack in played.state.racks] == [14, 13, 13, 13]
    assert played.state.step == ("second left" if go_on else "courtesy offer")


@pytest.mark.parametrize("second", ["always", "never"])
def test_where_nobody_is_asked_nothing_lies_face_down(second: str) -> None:
    played = heat(stop_unseen=True, second=second).go_to("first left")
    played.answer_all()
    assert [len(rack) for rack in played.state.racks] == [14, 13, 13, 13]


def test_what_goes_on_unseen_is_neither_face_down_nor_in_the_rack() -> None:
    played = heat(stop_unseen=True).go_to("first left")
    for seat, blind in zip(SEATS, (0, 1, 2, 3), strict=True):
        played.answer(seat, blind=blind)
    assert [len(down) for down in played.state.face_down] == [3, 2, 1, 0]
    played.answer_all()
    assert [len(rack) for rack in played.state.racks] == [14, 13, 13, 13]


# ---- silence


@pytest.mark.parametrize(("silence", "go_on"), [("go on", True), ("stop", False)])
def test_who_says_nothing_has_answered_as_the_table_plays_it(silence: str, go_on: bool) -> None:
    played = heat(silence=silence).go_to("go on")
    for seat in (EAST, SOUTH, WEST):
        played.do(seat, Vote(go_on=True))
    played.wait_out()
    (answer,) = [event for event in played.events if isinstance(event, Voted) and event.by == "timeout"]
    assert answer.go_on == go_on
    assert played.state.stopped == (not go_on)


# ---- one more courtesy, to either side


def offers(**said: tuple[int, str]) -> Heat:
    """Return a heat after offers to the sides; who says nothing offers none."""
    played = heat(side_courtesy=True).go_to("side offer")
    for seat in SEATS:
        count, to = said.get(seat.word, (0, "right"))
        played.do(seat, Offer.model_validate({"count": count, "to": to}))
    return played


def test_it_comes_after_the_courtesy_across_and_also_after_a_stop() -> None:
    steps = heat(side_courtesy=True).play_out().steps()
    assert steps[-4:] == ["courtesy offer", "courtesy give", "side offer", "side give"]
    stopped = heat(side_courtesy=True).go_to("go on")
    stopped.answer_all(go_on=False)
    assert stopped.play_out().steps()[-4:] == ["courtesy offer", "courtesy give", "side offer", "side give"]
    assert heat(side_courtesy=True, courtesy=False).play_out().steps()[-2:] == ["side offer", "side give"]


def test_two_neighbours_who_name_each_other_swap_the_smaller_number() -> None:
    played = offers(east=(3, "right"), south=(2, "left"), west=(1, "right"), north=(1, "left"))
    before = played.state.racks
    assert played.state.agreed == (2, 2, 1, 1)
    played.answer_all()
    sent, came = played.state.done[-1].sent, played.state.done[-1].came
    assert [len(tiles) for tiles in sent] == [2, 2, 1, 1]
    for one, other in ((EAST, SOUTH), (WEST, NORTH)):
        assert Counter(came[one]) == Counter(sent[other])
        assert Counter(came[other]) == Counter(sent[one])
    assert [len(rack) for rack in before] == [len(rack) for rack in played.state.racks]


def test_of_three_who_want_to_swap_only_the_two_who_name_each_other_do() -> None:
    """East names South, but South and West name each other."""
    played = offers(east=(3, "right"), south=(3, "right"), west=(2, "left"))
    assert played.state.agreed == (0, 2, 2, 0)
    assert played.state.owes == (False, True, True, False)
    assert played.refused(EAST, Pass(step="side give", tiles=played.state.racks[EAST][:2])).code == "out of turn"
    east, north = played.state.racks[EAST], played.state.racks[NORTH]
    played.answer_all()
    assert (played.state.racks[EAST], played.state.racks[NORTH]) == (east, north)


@pytest.mark.parametrize("said", [
    {"east": (3, "right"), "south": (3, "right"), "west": (3, "right"), "north": (3, "right")},
    {"east": (3, "right"), "south": (0, "left")},
    {"east": (1, "left"), "south": (1, "left"), "west": (1, "right")},
    {},
])  # fmt: skip
def test_where_no_two_name_each_other_nothing_is_given(said: dict[str, tuple[int, str]]) -> None:
    played = offers(**said)
    assert played.state.over
    assert "side give" not in played.steps()


def test_an_offer_across_is_no_offer_to_a_side_and_the_other_way_round() -> None:
    played = heat(side_courtesy=True).go_to("courtesy offer")
    assert played.refused(EAST, Offer(count=1, to="right")).code == "out of turn"
    played.go_to("side offer")
    assert played.refused(EAST, Offer(count=1)).code in ("already answered", "out of turn")


def test_a_joker_is_not_passed_to_a_side_either() -> None:
    rest = tuple(tile for tile in full_set() if tile != JOKER)
    racks = ((*rest[:10], *[JOKER] * 4), rest[10:23], rest[23:36], rest[36:49])
    played = Heat(Settings(side_courtesy=True, second="never", courtesy=False), racks=racks).go_to("side give")
    assert JOKER in played.state.racks[EAST]
    assert (
        played.refused(EAST, Pass(step="side give", tiles=(JOKER, *passable(played.state.racks[EAST])[:2]))).code
        == "joker"
    )


# ---- East is dealt a complete hand


def test_east_wins_with_a_complete_hand_and_nothing_is_passed() -> None:
    events = open_heat(Settings(east_complete="wins"), KEY, lambda rack: True)
    assert [event.kind for event in events] == ["dealt", "east won", "heat ended"]
    state = replay(Settings(east_complete="wins"), events)
    assert state.over
    assert state.won
    assert state.racks == state.dealt
    assert state.done == ()
    assert every_tile(state) == Counter(full_set())


def test_the_file_of_such_a_heat_is_true_and_a_claim_of_it_is_not() -> None:
    played = heat(east_complete="wins")
    opening = open_heat(played.settings, KEY, lambda rack: True)
    won = played.saved().model_copy(update={"events": condensed(opening)})
    assert faults(sealed(won), lambda card, rack: True) == ()
    assert faults(sealed(won), lambda card, rack: False)
    deal = next(event for event in played.events if isinstance(event, Dealt))
    claimed = won.model_copy(update={"settings": Settings(), "events": (deal, EastWon(), HeatEnded(at_ms=0))})
    assert faults(sealed(claimed), lambda card, rack: True)


# ---- two variants at once


@pytest.mark.parametrize(("one", "other"), list(combinations(VARIANTS, 2)))
def test_any_two_variants_together_play_to_a_true_end(one: str, other: str) -> None:
    played = heat(**{field: VARIANTS[field] for field in (one, other)})
    while not played.state.over:
        if played.state.step == "go on" and played.settings.silence == "stop":
            played.wait_out()
            continue
        for seat in SEATS:
            if played.state.owes[seat]:
                assert seen(played, seat) == heat_view(veiled(played.state, seat), seat, 1, CHAIRS, played.at_ms, ())
                played.answer(seat, blind=min(seat, most_blind(played.state)))
    assert every_tile(played.state) == Counter(full_set(played.settings.jokers))
    assert [len(rack) for rack in played.state.racks] == [14, 13, 13, 13]
    assert faults(played.saved(), lambda card, rack: False) == ()
    steps = played.steps()
    assert ("side give" in steps) == played.settings.side_courtesy
    assert ("second left" in steps) == (played.settings.silence == "go on")


@pytest.mark.parametrize("field", VARIANTS)
def test_a_variant_changes_no_step_that_it_has_nothing_to_do_with(field: str) -> None:
    plain, settings = heat().play_out().steps(), Settings(**{field: VARIANTS[field]})
    steps = Heat(settings).play_out().steps()
    assert [step for step in steps if not step.startswith("side")] == plain
    assert settings.total_ms() == Settings().total_ms() + (14_400 if field == "side_courtesy" else 0)
    assert all(settings.length_ms(step) == Settings().length_ms(step) for step in STEPS)
