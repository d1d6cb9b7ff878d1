"""The evening as it is shown: what is open to all, and what is added for the desk and for a teacher.

Built field by field from what each role may see. A rack is put in for a teacher alone, and only of a seat whose
person agreed while the host lets a teacher in.
"""

from server.club.club import Club
from server.club.table import ClubTable
from server.records import each
from server.table.running import RunningHeat
from shared.rules.seats import Seat, seat_of
from shared.rules.tiles import Tile
from shared.wire.club_views import (
    ChairShown,
    ClubRole,
    ClubView,
    DeskPart,
    HeatShown,
    TableShown,
    TimeShown,
    WaitingShown,
)
from shared.wire.views import HeatResult


def club_view(
    club: Club,
    role: ClubRole,
    revision: int,
    waiting: frozenset[bytes],
    now_ms: int,
    looked: tuple[int, int] = (0, 0),
) -> ClubView:
    """Return the evening for a role; waiting are the token hashes of those who wait with their line up, looked is how
    many seats the coach is through with and of how many."""
    record, is_desk = club.record, role == "desk"
    return ClubView(
        revision=revision,
        name=record.name,
        role=role,
        over=record.phase == "over",
        starts_in_ms=None if club.starts_at_ms is None else max(0, club.starts_at_ms - now_ms),
        settings=record.settings if is_desk else record.settings.unseeded(),
        teacher=record.teacher,
        tables=tuple(table_shown(number, table, role, now_ms) for number, table in club.open_tables.items()),
        waiting=tuple(
            WaitingShown(name=one.name, connected=one.token_hash in waiting, person=one.person if is_desk else "")
            for one in record.waiting
        ),
        looked=looked[0],
        to_look_at=looked[1],
        least=record.least,
        wait_ms=record.wait_ms,
        desk=DeskPart(code=record.code, desk_code=record.desk_code, teacher_code=record.teacher_code)
        if is_desk
        else None,
    )


def table_shown(number: int, table: ClubTable, role: ClubRole, now_ms: int) -> TableShown:
    """Return one table."""
    record, heat = table.record, table.heat
    return TableShown(
        number=number,
        name=record.name,
        phase=record.phase,
        heat_number=record.number,
        heats=record.settings.heats,
        step=heat.state.step if heat else None,
        paused=heat.state.paused if heat else False,
        chairs=each(lambda chair: _chair_shown(table, chair, role, now_ms)),
        results=tuple(_heat_shown(table, result) for result in table.results()),
    )


def _chair_shown(table: ClubTable, chair: int, role: ClubRole, now_ms: int) -> ChairShown:
    seated, heat = table.record.chairs[chair], table.heat
    seat = seat_of(chair, heat.head.east) if heat else None
    clock = heat.state.clocks[seat] if heat and seat is not None else None
    shows = table.news.teacher and seated.shows and seated.is_present
    return ChairShown(
        name=seated.name,
        sitter="bot" if seated.stand_in else seated.sitter,
        connected=chair in table.connected,
        ready=seated.ready,
        owes=heat.state.owes[seat] if heat and seat is not None else False,
        answered=heat.state.answers[seat] is not None if heat and seat is not None else False,
        left_ms=clock.left(heat.time_ms(now_ms)) if heat and clock else 0,
        running=clock.since_ms is not None if clock else False,
        shows=shows,
        person=seated.person if role == "desk" and not seated.left else "",
        rack=_rack(heat, seat) if role == "teacher" and shows and heat and seat is not None else (),
    )


def _heat_shown(table: ClubTable, result: HeatResult) -> HeatShown:
    names = {saved.number: saved.names for saved in table.finished}[result.number]
    by_chair = {seat.chair: seat for seat in result.seats}

    def time(chair: int) -> TimeShown:
        seat = by_chair[chair]
        return TimeShown(
            name=names[chair],
            total_ms=seat.total_ms,
            timeouts=sum(step.by == "timeout" for step in seat.spent),
            bot=any(step.by == "bot" for step in seat.spent),
        )

    return HeatShown(number=result.number, chairs=each(time))


def _rack(heat: RunningHeat, seat: Seat) -> tuple[Tile, ...]:
    """Return a seat's rack, or nothing while all racks are covered."""
    return () if heat.state.paused else heat.state.racks[seat]
