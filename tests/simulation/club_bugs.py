"""The faults that only an evening of several tables can have, or that a teacher finds; see tests.simulation.bugs."""

from dataclasses import replace
from typing import Any

import server.club.results as club_results
import server.club.seating as club_seating
import server.club.table as club_table
import server.table.beside as beside
import server.table.seating as table_seating
import server.table.table as table
from shared.rules.seats import seat_of
from tests.simulation.club import ClubNight
from tests.simulation.planted import Patches, bug


@bug(
    "a table tells a common deal while another plays it",
    "nothing of a common deal is told while somebody plays it",
    ClubNight,
)
def _told_before_all_are_through() -> Patches:
    return ((club_table.ClubTable, "_is_open", table.Table._is_open),)


@bug(
    "a late table holds everybody's racks: it has people and has not begun",
    "nobody's racks wait for a table that has not played",
    ClubNight,
)
def _late_table_holds_racks() -> Patches:
    def waits_for_all(self: Any) -> bool:
        return self.heat is not None or bool(self.people)

    return ((club_table.ClubTable, "plays", property(waits_for_all)),)


@bug("results stay with the chair and not with the person", "results stay with the person", ClubNight)
def _results_stay_with_the_chair() -> Patches:
    real = club_results.Results.add

    def by_chair(self: Any, number: int, kept: Any, record: Any) -> None:
        people = tuple(chair.person for chair in record.chairs)
        sat = tuple(one.model_copy(update={"people": people}) for one in record.sat)
        real(self, number, kept, record.with_(sat=sat))

    return ((club_results.Results, "add", by_chair),)


@bug("people are seated where they have seen another rack of the deal", "nobody sees two racks of one deal", ClubNight)
def _seen_deals_are_played() -> Patches:
    return ((club_seating.ClubSeating, "_has_seen", lambda self, person, number, chair: None),)


@bug("who is unseated is forgotten", "nobody who is moved gets lost", ClubNight)
def _unseated_is_forgotten() -> Patches:
    return ((club_seating.ClubSeating, "_let_wait", lambda self, person: None),)


@bug("whoever asks for somebody's seat has it", "another machine has a seat only by the desk's word", ClubNight)
def _any_machine_is_let_in() -> Patches:
    real = table_seating.Seating._asks

    def trusting(self: Any, chair: int) -> Any:
        asking = real(self, chair)
        return asking and replace(asking, may=True)

    return ((table_seating.Seating, "_asks", trusting),)


@bug("who is beside a table sees racks of those who did not agree", "a rack is seen beside the table by two words only")
@bug("a teacher sees racks of those who did not agree", "a teacher sees only racks of those who agreed", ClubNight)
def _teacher_sees_all() -> Patches:
    real = beside.BesideTable._chair_shown

    def lax(self: Any, chair: int, now_ms: int, with_racks: bool, *rest: bool) -> Any:
        shown = real(self, chair, now_ms, with_racks, *rest)
        seat = seat_of(chair, self.heat.head.east) if self.heat else None
        rack = beside._rack(self.heat, seat) if with_racks and seat is not None else ()
        return shown.model_copy(update={"rack": rack})

    return ((beside.BesideTable, "_chair_shown", lax),)
