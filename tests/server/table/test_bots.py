"""The birds: legal, simple, and blind to what their seat cannot see."""

import inspect
from collections import Counter

from hypothesis import given
from hypothesis import settings as effort
from hypothesis import strategies as st

from server.table import bots
from server.table.bots import BIRDS, choose, company, delay_ms, loneliest
from shared.rules.charleston import route
from shared.rules.seats import SEATS, PerSeat
from shared.rules.settings import Settings
from shared.rules.steps import STEPS
from shared.rules.tiles import JOKER, Rack, Tile, full_set
from shared.rules.typed_tiles import typed
from shared.rules.wall import Stream
from shared.wire.views import HeatView, heat_view
from tests.heats import EAST, Heat

WALLS = st.permutations(full_set())
KEYS = st.binary(max_size=8)


def view_of(played: Heat, seat: int) -> HeatView:
    return heat_view(played.state, SEATS[seat], 1, PerSeat((0, 1, 2, 3)), played.at_ms, route(played.state))


@given(st.binary(max_size=16), st.sampled_from([0, 8]), st.sampled_from(["racks", "wall"]))
@effort(max_examples=25, deadline=None)
def test_four_bots_play_any_heat_to_its_end_and_every_answer_is_legal(key: bytes, jokers: int, incoming: str) -> None:
    settings = Settings.model_validate({"plan": True, "jokers": jokers, "incoming": incoming})
    played = Heat(settings, contributions=(key, b"", b"", b""))
    stream = Stream(key, "bots")
    while not played.state.over:
        for seat in SEATS:
            if played.state.owes[seat]:
                played.do(seat, choose(view_of(played, seat), stream))


def test_a_bot_is_given_a_seats_view_and_a_stream_and_nothing_else() -> None:
    assert [parameter.annotation for parameter in inspect.signature(choose).parameters.values()] == [HeatView, Stream]
    assert not hasattr(bots, "State"), "what a bot decides with knows no state"


@given(WALLS, KEYS)
def test_the_loneliest_tiles_are_all_that_may_be_passed_from_least_company_to_most(wall: Rack, key: bytes) -> None:
    rack = tuple(wall[:13])
    order = loneliest(rack, Stream(key, "order"))
    assert Counter(order) == Counter(tile for tile in rack if tile != JOKER)
    scores = [company(rack)[tile] for tile in order]
    assert scores == sorted(scores)


@given(WALLS, st.data())
def test_a_tiles_company_grows_with_every_equal_one(wall: Rack, data: st.DataObject) -> None:
    rack = tuple(tile for tile in wall[:10] if tile != JOKER)
    tile: Tile = data.draw(st.sampled_from(rack))
    assert company((*rack, tile))[tile] > company(rack)[tile]


def test_a_bot_keeps_what_it_has_most_of() -> None:
    rack = typed("5b 5b 5b 6b 7b N N N R 1c 9d J J")
    assert set(loneliest(rack, Stream(b"", ""))[:3]) == {"R", "1c", "9d"}


def test_equals_come_in_any_order() -> None:
    rack = typed("N E W S R G O F 1b 1c 1d 5b 5c")
    assert len({loneliest(rack, Stream(bytes([number]), "")) for number in range(20)}) > 1


@given(
    KEYS,
    st.sampled_from(list(STEPS)),
    st.sampled_from(["quick", "steady", "slow", "no wait"]),
    st.integers(10_000, 1_800_000),
)
def test_a_bot_always_answers_before_its_step_is_over(key: bytes, step: str, pace: str, level_ms: int) -> None:
    settings = Settings.model_validate({"bot_pace": pace, "level_ms": level_ms})
    took_ms = delay_ms(settings, step, Stream(key, "delay"))  # type: ignore[arg-type]
    assert 0 < took_ms < settings.length_ms(step)  # type: ignore[arg-type]


def test_quick_is_quicker_than_steady_and_steady_than_slow() -> None:
    def mean(pace: str) -> float:
        settings = Settings.model_validate({"bot_pace": pace})
        return sum(delay_ms(settings, "first right", Stream(bytes([number]), "")) for number in range(100)) / 100

    assert mean("quick") < mean("steady") < mean("slow")


def test_a_bots_delay_depends_on_the_step_and_the_pace_alone() -> None:
    """Otherwise how long it thinks would tell something about its tiles."""
    assert list(inspect.signature(delay_ms).parameters) == ["settings", "step", "stream"]


def test_there_is_a_bird_for_every_chair_also_if_people_are_named_after_birds() -> None:
    assert len(set(BIRDS)) == len(BIRDS) >= 7


def test_a_view_of_east_is_enough_to_answer() -> None:
    played = Heat()
    assert played.ask(EAST, choose(view_of(played, EAST), Stream(b"", ""))) is None
