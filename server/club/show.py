"""The evening as it is shown: what is open to all, and what is added for the desk and for a teacher.

Built field by field from what each role may see. A rack is put in for a teacher alone, and only of a seat whose
person agreed while the host lets a teacher in.
"""

from server.club.club import Club
from shared.wire.club_views import ClubRole, ClubView, DeskPart, WaitingShown


def club_view(club: Club, role: ClubRole, revision: int, waiting: frozenset[bytes], now_ms: int) -> ClubView:
    """Return the evening for a role; waiting are the token hashes of those who wait with their line up."""
    record, is_desk = club.record, role == "desk"
    looked, to_look_at = club.progress()
    return ClubView(
        revision=revision,
        name=record.name,
        role=role,
        over=record.phase == "over",
        starts_in_ms=None if club.starts_at_ms is None else max(0, club.starts_at_ms - now_ms),
        settings=record.settings if is_desk else record.settings.unseeded(),
        teacher=record.teacher,
        tables=tuple(
            table.shown(number, now_ms, with_racks=role == "teacher", with_people=is_desk)
            for number, table in club.open_tables.items()
        ),
        waiting=tuple(
            WaitingShown(name=one.name, connected=one.token_hash in waiting, person=one.person if is_desk else "")
            for one in record.waiting
        ),
        looked=looked,
        to_look_at=to_look_at,
        least=record.least,
        wait_ms=record.wait_ms,
        desk=DeskPart(code=record.code, desk_code=record.desk_code, teacher_code=record.teacher_code)
        if is_desk
        else None,
    )
