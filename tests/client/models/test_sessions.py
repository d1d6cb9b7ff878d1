"""A line is one session: of no kind before its first view, then of the view's kind, and a guest's two are both kept."""

import pytest

from client.models.desk import DeskModel
from client.models.session import Session
from client.models.sessions import heard
from client.models.shared_clock import SharedClockModel
from client.models.table import TableModel
from shared.cards.play import shipped_text
from shared.rules.intents import Arrange, Leave, Pause, Ready, SeatBot
from shared.rules.settings import Settings
from shared.wire.messages import OwnHeat, Refused
from shared.wire.views import View
from tests.client.tables import TableLine, Time
from tests.clubs import QUICK, ClubEvening
from tests.groups import Circle
from tests.tables import Evening

EVENING = ClubEvening(QUICK, 1, people=2)
READY = Ready()


def table_view(is_playing: bool = True) -> View:
    now_ms = Time()
    line = TableLine(Settings(seed=7), now_ms)
    if is_playing:
        line.ask(READY, 0)
    return line.table.view(line.chair, now_ms())


def test_before_the_first_view_a_line_is_of_no_kind() -> None:
    session = Session()
    assert not session.has_begun
    assert session.leave_warning() == ""
    assert session.leaving() == (Leave(),)


def test_the_first_view_says_of_which_kind_a_line_is() -> None:
    views = (table_view(), EVENING.shown("desk"), Circle(2).view())
    kinds = [type(heard(Session(), view, 0, 0)) for view in views]
    assert kinds == [TableModel, DeskModel, SharedClockModel]
    assert all(heard(Session(), view, 0, 0).has_begun for view in views)


def test_what_the_line_knew_before_its_first_view_goes_into_the_session() -> None:
    before = Session(keeps=True)
    before.connected(shipped_text())
    table = heard(before, table_view(), 5, 3)
    assert isinstance(table, TableModel)
    assert table.keeps
    assert table.pane.hands
    assert (table.received_ms, table.rtt_ms) == (5, 3)


def test_a_view_of_the_same_kind_leaves_the_session_as_it_is() -> None:
    table = heard(Session(), table_view(), 0, 0)
    assert heard(table, table_view(), 1, 0) is table


def test_a_guest_finds_the_table_again_as_it_was_but_what_they_asked_there_is_void() -> None:
    table = heard(Session(), table_view(), 0, 0)
    table.sent(1, READY)
    waiting = heard(table, EVENING.shown("waiting"), 0, 0)
    assert isinstance(waiting, DeskModel)
    assert not waiting.commands.on_their_way
    back = heard(waiting, table_view(), 0, 0)
    assert back is table
    assert not back.commands.on_their_way
    assert heard(back, EVENING.shown("waiting"), 0, 0) is waiting


def played() -> tuple[View, OwnHeat]:
    """Return what a player sees after a set of one heat, and their own record of it."""
    now_ms = Time()
    line = TableLine(Settings(seed=7, heats=1), now_ms)
    line.ask(READY, 0)
    line.pass_time(600_000)
    told = next(message for message in iter(line.inbox.get_nowait, None) if isinstance(message, OwnHeat))
    return line.table.view(line.chair, now_ms()), told


def test_a_heat_that_is_told_while_one_waits_belongs_to_the_table_one_had() -> None:
    view, told = played()
    table = heard(Session(), view, 0, 0)
    assert isinstance(table, TableModel)
    waiting = heard(table, EVENING.shown("waiting"), 0, 0)
    waiting.ended(told)
    assert list(table.own) == [told.heat.number]
    assert waiting.first_of_set(told.heat.number) == 1


def test_heats_that_are_told_before_the_first_view_are_the_tables_as_well() -> None:
    """Who comes back with a program started anew is told the heats of the set before anything else."""
    view, told = played()
    session = Session()
    session.ended(told)
    table = heard(session, view, 0, 0)
    assert isinstance(table, TableModel)
    assert list(table.own) == [told.heat.number]


def test_when_a_bot_takes_a_seat_over_everybody_else_is_told_whose() -> None:
    evening = Evening(QUICK, people=3)
    evening.ready()
    tables = {chair: heard(Session(), evening.view(chair), 0, 0) for chair in (0, 1)}
    evening.take(evening.table.disconnected(1, evening.now_ms))
    evening.do(0, SeatBot(chair=1))
    notes = {chair: heard(table, evening.view(chair), 1, 0).note for chair, table in tables.items()}
    assert notes == {0: "A bot plays in Person 2's seat now.", 1: ""}


def test_the_refusal_of_a_draft_is_not_said_and_any_other_is() -> None:
    session = Session()
    session.sent(1, Arrange(tiles=()))
    session.sent(2, Pause())
    session.refused(Refused(id=1, code="paused", text="No.", late_ms=None))
    assert session.note == ""
    session.refused(Refused(id=2, code="paused", text="Not now.", late_ms=None))
    assert session.note == "Not now."


@pytest.mark.parametrize(
    ("keeps", "is_playing", "means", "leaves"),
    [
        (False, True, "it ends here and is not kept", True),
        (True, True, "it closes for everybody, paused until you go on with it", False),
        (False, False, "", True),
        (True, False, "", True),
    ],
)
def test_leaving_a_table_means_what_its_session_says(keeps: bool, is_playing: bool, means: str, leaves: bool) -> None:
    table = heard(Session(keeps=keeps), table_view(is_playing), 0, 0)
    warning = table.leave_warning()
    assert means in warning
    assert bool(warning) == bool(means)
    assert table.leaving() == ((Leave(),) if leaves else ())


def test_leaving_a_shared_clock_with_others_closes_it_for_them_only_where_it_is_kept() -> None:
    circle = Circle(2)
    assert "hosts the clock" in heard(Session(keeps=True), circle.view(), 0, 0).leave_warning()
    assert heard(Session(), circle.view(), 0, 0).leave_warning() == ""
    circle.ready(0, 1)
    running = heard(Session(keeps=True), circle.view(), 0, 0)
    assert "paused until you go on with it" in running.leave_warning()
    assert running.leaving() == ()
    assert "the others go on without you" in heard(Session(), circle.view(), 0, 0).leave_warning()
