"""The messages: a closed set each way that survives the wire unchanged."""

import json
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import settings as effort
from hypothesis import strategies as st

from client.connection.hearing import LONGEST_VIEW
from server.club.seating import MOST_WAITING
from shared.codec import BadFrame
from shared.rules.heat import HEAT, final_state
from shared.rules.intents import (
    Arrange,
    ChangeSettings,
    ClockIntent,
    Extend,
    FreeChair,
    GoWithout,
    Hurry,
    Leave,
    LetIn,
    LetSee,
    Lift,
    MoveTo,
    NewCode,
    NewSet,
    NotReady,
    Offer,
    Pass,
    Pause,
    Plan,
    Ready,
    Resume,
    SeatBot,
    SeatIntent,
    SendOff,
    ShowRack,
    SitAt,
    Start,
    StepDone,
    TableIntent,
    TakeBack,
    TakeSeat,
    Vote,
    WallHash,
    WallValue,
)
from shared.rules.refusals import RefusalCode
from shared.rules.seat_heat import SEAT_HEAT, seat_heat
from shared.rules.seats import SEATS
from shared.rules.settings import Settings
from shared.rules.steps import STEP_NAMES
from shared.rules.tiles import KINDS
from shared.wire.club_views import Elsewhere, Evening, Gave, Place, Ranking, all_places
from shared.wire.desk_intents import (
    MOST_TABLES,
    CallOff,
    CloseTable,
    DeskIntent,
    EndEvening,
    GiveTime,
    HoldClocks,
    LetBack,
    LetTeacherSee,
    OpenTable,
    PlayBy,
    RankFrom,
    RenameTable,
    RunClocks,
    SeatAtRandom,
    SeatBots,
    SeatPerson,
    SendHome,
    StartAll,
    Unseat,
    WaitFor,
)
from shared.wire.group_views import GroupView
from shared.wire.messages import (
    FRAME_LIMIT,
    HELLO_MS,
    NO_CHAIR,
    PORT,
    PROTOCOL,
    TO_CLIENT,
    TO_SERVER,
    TRY_AGAIN,
    VIEW_LIMIT,
    AnyServerMessage,
    Close,
    Command,
    DeskCommand,
    Done,
    HeatFile,
    Hello,
    OwnHeat,
    Refused,
    Welcome,
    schemas,
)
from shared.wire.views import View
from tests.clubs import QUICK, ClubEvening
from tests.groups import Circle
from tests.heats import Heat
from tests.tables import Evening as OneTable

TILES = st.lists(st.sampled_from(KINDS), max_size=14).map(tuple)
STEPS = st.sampled_from(STEP_NAMES)
CHAIRS = st.integers(0, 3)
SETTINGS = st.builds(
    Settings,
    level_ms=st.integers(10_000, 1_800_000),
    lengths_ms=st.dictionaries(STEPS, st.integers(1_000, 600_000)),
    second=st.sampled_from(["offered", "always", "never"]),
    seed=st.none() | st.integers(0, 2**63 - 1),
)
INTENTS: dict[type[Any], st.SearchStrategy[Any]] = {
    MoveTo: st.builds(MoveTo, chair=st.integers(0, 3)),
    NewCode: st.builds(NewCode),
    LetIn: st.builds(LetIn, chair=st.integers(0, 3)),
    Lift: st.builds(Lift, step=STEPS, tiles=TILES, blind=st.integers(0, 3)),
    Arrange: st.builds(Arrange, tiles=TILES),
    Pass: st.builds(Pass, step=STEPS, tiles=TILES, blind=st.integers(0, 3)),
    TakeBack: st.builds(TakeBack, step=STEPS),
    Vote: st.builds(Vote, go_on=st.booleans()),
    Offer: st.builds(Offer, count=st.integers(0, 3)),
    Plan: st.builds(Plan, hand=st.text(max_size=60), discards=st.lists(st.sampled_from(KINDS), max_size=3).map(tuple)),
    Ready: st.just(Ready()),
    WallHash: st.builds(
        WallHash,
        heat=st.integers(1, 9),
        attempt=st.integers(1, 16),
        hash=st.binary(min_size=32, max_size=32),
    ),
    WallValue: st.builds(
        WallValue,
        heat=st.integers(1, 9),
        attempt=st.integers(1, 16),
        value=st.binary(min_size=16, max_size=16),
    ),
    NotReady: st.just(NotReady()),
    Hurry: st.just(Hurry()),
    Start: st.just(Start()),
    Pause: st.just(Pause()),
    Resume: st.just(Resume()),
    Extend: st.builds(Extend, by_ms=st.integers(1_000, 600_000)),
    ChangeSettings: st.builds(ChangeSettings, settings=SETTINGS),
    SeatBot: st.builds(SeatBot, chair=CHAIRS),
    FreeChair: st.builds(FreeChair, chair=CHAIRS),
    TakeSeat: st.just(TakeSeat()),
    Leave: st.just(Leave()),
    ShowRack: st.builds(ShowRack, on=st.booleans()),
    NewSet: st.just(NewSet()),
    LetSee: st.builds(LetSee, place=st.integers(4, 15), on=st.booleans()),
    SendOff: st.builds(SendOff, place=st.integers(4, 15)),
    StepDone: st.builds(StepDone, step=STEPS, says_no=st.booleans()),
    SitAt: st.builds(SitAt, place=st.integers(1, 4)),
    GoWithout: st.just(GoWithout()),
}
PEOPLE = st.text(min_size=1, max_size=64)
TABLES = st.integers(1, 999)
DESK_INTENTS: dict[type[Any], st.SearchStrategy[Any]] = {
    OpenTable: st.builds(OpenTable, name=st.text(max_size=200)),
    RenameTable: st.builds(RenameTable, table=TABLES, name=st.text(max_size=200)),
    CloseTable: st.builds(CloseTable, table=TABLES),
    SeatPerson: st.builds(SeatPerson, person=PEOPLE, table=TABLES, chair=CHAIRS),
    Unseat: st.builds(Unseat, person=PEOPLE),
    SendHome: st.builds(SendHome, person=PEOPLE),
    LetBack: st.builds(LetBack, person=PEOPLE),
    SeatAtRandom: st.just(SeatAtRandom()),
    SeatBots: st.builds(SeatBots, table=st.integers(0, 999)),
    StartAll: st.builds(StartAll, in_ms=st.integers(0, 600_000)),
    CallOff: st.just(CallOff()),
    HoldClocks: st.builds(HoldClocks, table=st.integers(0, 999)),
    RunClocks: st.builds(RunClocks, table=st.integers(0, 999)),
    GiveTime: st.builds(GiveTime, table=st.integers(0, 999), by_ms=st.integers(1_000, 600_000)),
    PlayBy: st.builds(PlayBy, settings=SETTINGS),
    LetTeacherSee: st.builds(LetTeacherSee, on=st.booleans()),
    RankFrom: st.builds(RankFrom, heats=st.integers(0, 12)),
    WaitFor: st.builds(WaitFor, ms=st.integers(0, 600_000)),
    EndEvening: st.just(EndEvening()),
}
DESK_COMMANDS = st.builds(DeskCommand, id=st.integers(1, 2**53), intent=st.one_of(*DESK_INTENTS.values()))
TO_THE_TABLE = (
    DESK_COMMANDS
    | st.builds(Command, id=st.integers(1, 2**53), heat=st.integers(0, 1_000_000), intent=st.one_of(*INTENTS.values()))
    | st.builds(
        Hello,
        protocol=st.integers(0, 2**31),
        name=st.text(max_size=200),
        code=st.text(max_size=100),
        token=st.none() | st.binary(min_size=16, max_size=16),
        role=st.sampled_from(["player", "desk", "watcher", "teacher"]),
    )
)


def test_these_tests_know_every_intent() -> None:
    assert set(INTENTS) == {*get_args(SeatIntent), *get_args(TableIntent), *get_args(ClockIntent)}
    assert set(DESK_INTENTS) == set(get_args(get_args(DeskIntent)[0]))


@given(TO_THE_TABLE)
@effort(max_examples=300)
def test_what_a_client_says_arrives_as_it_was_said_and_fits_the_frame(message: Any) -> None:
    data = TO_SERVER.pack(message)
    assert TO_SERVER.unpack(data) == message
    assert len(data) <= FRAME_LIMIT


def server_messages() -> list[AnyServerMessage]:
    """Return one of each from a real heat."""
    played = Heat().play_out()
    heat = played.saved()
    evening = OneTable(people=2)
    views: list[AnyServerMessage] = list(evening.views())
    evening.play_heat()
    evening.ready()
    views += evening.views()
    return [
        Welcome(protocol=1, token=b"0123456789abcdef", chair=3, last_id=9, card="[card]"),
        Done(id=4),
        *(Refused(id=5, code=code, text="No.", late_ms=None) for code in get_args(RefusalCode)),
        Refused(id=5, code="late", text="No.", late_ms=7),
        HeatFile(data=HEAT.pack(heat)),
        *(OwnHeat(heat=seat_heat(heat, final_state(heat), seat)) for seat in SEATS),
        *views,
        *club_messages(),
        *clock_messages(),
    ]


def clock_messages() -> list[AnyServerMessage]:
    """Return what is told where the tiles are real, with a whole set behind it."""
    circle = Circle(settings=Settings(heats=12))
    views: list[AnyServerMessage] = [circle.view()]
    for _ in range(12):
        circle.ready()
        views.append(circle.view(2))
        circle.play_heat()
    return [*views, circle.view(), *circle.times(3)]


def club_messages() -> list[AnyServerMessage]:
    """Return what is told beside the tables of an evening, and a player's view with a club in it."""
    evening = ClubEvening(QUICK.model_copy(update={"same_deal": True}), tables=2, people=3)
    evening.do(StartAll(in_ms=0))
    evening.play("P1", "P2", "P3")
    shown = [evening.shown("desk"), evening.shown("watcher"), evening.shown("teacher")]
    ranking = Ranking.model_validate(all_places(evening.club.standings, ""))
    return [*shown, Evening(played=evening.club.played()), ranking, evening.view("P1")]


def test_what_a_table_says_arrives_as_it_was_said_and_is_far_from_the_limit() -> None:
    messages = server_messages()
    assert {type(message) for message in messages} == set(get_args(AnyServerMessage))
    for message in messages:
        data = TO_CLIENT.pack(message)
        assert TO_CLIENT.unpack(data) == message
        assert len(data) < VIEW_LIMIT / 20


def test_every_heat_that_can_be_kept_can_be_sent() -> None:
    longest = HeatFile(data=bytes(HEAT.limit))
    assert TO_CLIENT.unpack(TO_CLIENT.pack(longest)) == longest
    own = next(message for message in server_messages() if isinstance(message, OwnHeat))
    beside = len(TO_CLIENT.pack(own)) - len(SEAT_HEAT.pack(own.heat))
    assert SEAT_HEAT.limit + beside <= VIEW_LIMIT


def test_a_view_is_small_enough_to_be_sent_whole_after_every_change() -> None:
    assert all(len(TO_CLIENT.pack(view)) < 16_384 for view in server_messages() if isinstance(view, View | GroupView))


def test_a_view_at_the_fullest_evening_is_shorter_than_a_client_takes() -> None:
    view, part = next((view, view.club) for view in club_messages() if isinstance(view, View) and view.club)
    place = Place(place=1_000, tied=False, name="Wilhelmina of 16", you=False, heats=12, value=0.123456)
    gave = Gave(step="first across", given=("1c", "1c", "1c"), blind=0, spent_ms=100_000)
    elsewhere = Elsewhere(table="Table 60", name="Wilhelmina of 16", total_ms=1_000_000, gave=(gave,) * 7, points=51.25)
    everybody = (place,) * (4 * MOST_TABLES + MOST_WAITING)
    club = part.model_copy(
        update={"speed": everybody, "loss": everybody, "points": everybody, "elsewhere": (elsewhere,) * MOST_TABLES}
    )
    between = next(view for view in server_messages() if isinstance(view, View) and view.results)
    fullest = view.model_copy(update={"club": club, "results": (between.results[0],) * 12})
    assert len(TO_CLIENT.pack(fullest)) < LONGEST_VIEW


@pytest.mark.parametrize("message", [Done(id=1), Hello(protocol=1, name="", code="")])
def test_what_one_side_says_is_not_understood_from_the_other(message: Any) -> None:
    other = TO_SERVER if isinstance(message, Done) else TO_CLIENT
    same = TO_CLIENT if isinstance(message, Done) else TO_SERVER
    with pytest.raises(BadFrame):
        other.unpack(same.pack(message))


@pytest.mark.parametrize(
    ("made", "fields"),
    [
        (Command, {"id": 0, "heat": 0, "intent": NotReady()}),
        (Command, {"id": 2**53 + 1, "heat": 0, "intent": NotReady()}),
        (Command, {"id": 1, "heat": -1, "intent": NotReady()}),
        (Hello, {"protocol": 1, "name": "x" * 201, "code": ""}),
        (Hello, {"protocol": 1, "name": "", "code": "x" * 101}),
        (Hello, {"protocol": 1, "name": "", "code": "", "token": b"short"}),
        (Ready, {"contribution": b"x" * 15}),
        (Ready, {"contribution": b"x" * 17}),
        (Extend, {"by_ms": 999}),
        (Extend, {"by_ms": 600_001}),
        (Offer, {"count": 4}),
        (Offer, {"count": -1}),
        (Pass, {"step": "first right", "tiles": (), "blind": 4}),
        (Pass, {"step": "first right", "tiles": ("1b",) * 15}),
        (Pass, {"step": "first right", "tiles": ("0b",)}),
        (Pass, {"step": "second right", "tiles": ()}),
        (SeatBot, {"chair": 4}),
        (FreeChair, {"chair": -1}),
        (Plan, {"hand": "x" * 61, "discards": ()}),
        (Plan, {"hand": "", "discards": ("N",) * 4}),
        (SitAt, {"place": 0}),
        (SitAt, {"place": 5}),
    ],
)
def test_every_bound_holds(made: type[Any], fields: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match="validation error"):
        made(**fields)


def test_the_protocol_can_be_printed_for_somebody_who_writes_another_client() -> None:
    printed = json.loads(json.dumps(schemas()))
    text = json.dumps(printed)
    for kind in (
        "hello",
        "command",
        "welcome",
        "view",
        "done",
        "refused",
        "heat file",
        "own heat",
        "pass",
        "take back",
    ):
        assert f'"{kind}"' in text
    assert printed["protocol"] == PROTOCOL
    assert printed["frame_limit_bytes"] == FRAME_LIMIT
    assert set(printed["close_codes"].values()) == set(Close)


def test_the_numbers_that_a_client_of_another_hand_was_written_with_stay() -> None:
    """Two names of one number would be one name; whoever changes one raises the protocol."""
    assert {name: int(code) for name, code in Close.__members__.items()} == {
        "BAD_FRAME": 1008, "TOO_BIG": 1009, "OTHER_VERSION": 4001, "WRONG_CODE": 4002, "TABLE_FULL": 4003,
        "SEAT_TAKEN_OVER": 4004, "SENT_AWAY": 4005, "TABLE_CLOSED": 4006, "TOO_SLOW": 4007, "TOO_MANY": 4008,
        "NO_CLUB": 4009, "ASKED_HOST": 4010,
    }  # fmt: skip
    assert (FRAME_LIMIT, VIEW_LIMIT, HELLO_MS, NO_CHAIR) == (16_384, 1_048_576, 5_000, -1)


def test_close_codes_are_registered_ones_or_lie_in_the_private_range() -> None:
    """RFC 6455, section 7.4: 1008 policy, 1009 too big, 4000-4999 private; 1005, 1006 and 1015 are never sent."""
    assert all(code in (1008, 1009) or 4_000 <= code <= 4_999 for code in Close)
    assert not {1005, 1006, 1015} & set(Close)


def test_a_client_never_retries_blindly_what_was_refused_for_good() -> None:
    final = {
        Close.BAD_FRAME, Close.TOO_BIG, Close.OTHER_VERSION, Close.WRONG_CODE, Close.TABLE_FULL, Close.SEAT_TAKEN_OVER,
        Close.SENT_AWAY, Close.TABLE_CLOSED, Close.NO_CLUB,
    }  # fmt: skip
    assert not final & TRY_AGAIN
    assert final | {Close.TOO_SLOW, Close.TOO_MANY, Close.ASKED_HOST} == set(Close)


def test_the_default_port() -> None:
    assert PORT == 15214
