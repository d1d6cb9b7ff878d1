"""Faults planted on purpose, one at a time and in memory only: each must be caught by the evenings' witness.

python -m tests.simulation.bugs [--most 2000] prints, for each, the first seed that caught it, from 0 on, and the rule.
"""

import argparse
import logging
import sys
from typing import Any

import server.store as store
import server.table.chairs as chairs
import server.table.ended as ended
import server.table.keeper as keeper
import server.table.running as running
import server.table.seating as seating
import server.table.table as table
import server.table.walling as walling
import shared.rules.charleston as charleston
import shared.rules.pace as pace
import shared.rules.state as state
import shared.wire.views as views
from shared.rules.events import DeadlinesMoved, Decided
from shared.rules.intents import ChangeSettings, Extend, FreeChair
from shared.rules.players import Player
from shared.rules.seats import PerSeat, Seat
from shared.rules.settings import Settings
from shared.rules.wall import commitment
from tests.simulation import club_bugs  # noqa: F401 (it adds its faults to the list)
from tests.simulation.planted import BUGS, Patches, bug, hunt


@bug("a view shows three tiles of the right neighbour's rack", "a seat sees only what came to it")
def _neighbours_rack() -> Patches:
    real = views.heat_view

    def leaking(heat: Any, seat: Seat, *rest: Any, **named: Any) -> Any:
        view = real(heat, seat, *rest, **named)
        return view.model_copy(update={"fresh": heat.racks[(seat + 1) % 4][:3]}) if heat.done else view

    return ((running, "heat_view", leaking),)


@bug("jokers may be passed", "no joker is passed")
def _jokers_pass() -> Patches:
    real = charleston._bad_tiles

    def lax(heat: Any, seat: Seat, tiles: Any) -> Any:
        refusal = real(heat, seat, tiles)
        if refusal and refusal.code == "joker" and "J" in heat.racks[seat]:
            return real(heat, seat, tuple(tile for tile in tiles if tile != "J"))
        return refusal

    return ((charleston, "_bad_tiles", lax),)


@bug("answers count two seconds after the deadline", "nothing counts after the grace")
def _no_grace_limit() -> Patches:
    return (
        (charleston, "expired", lambda clock, now: pace.expired(clock, now - 2_000)),
        (charleston, "GRACE_MS", 2_250),
    )


@bug("the clock answers 300 ms too early", "no clock runs out early")
def _early_timeout() -> Patches:
    return (
        (charleston, "expired", lambda clock, now: pace.expired(clock, now + 300)),
        (charleston, "GRACE_MS", -50),
    )


@bug("a repeated command is applied again", "each command counts once")
def _commands_twice() -> Patches:
    real = seating.Seating.command

    def forgetful(self: Any, chair: int, command: Any, now: int) -> Any:
        self._replies[chair].clear()
        before_id = self._record.chairs[chair].last_id
        self._change(chair, last_id=min(before_id, command.id - 1))
        out = real(self, chair, command, now)
        self._change(chair, last_id=max(before_id, command.id))
        return out

    return ((seating.Seating, "command", forgetful),)


@bug("people are told before the disk has it", "what is acknowledged is on disk")
def _told_before_disk() -> Patches:
    async def hasty(self: Any, outputs: Any) -> None:
        self._deliver(outputs)
        real_deliver, self._deliver = self._deliver, lambda outputs: None
        try:
            await commit(self, outputs)
        finally:
            self._deliver = real_deliver

    commit = keeper.Keeper._commit
    return ((keeper.Keeper, "_commit", hasty),)


@bug("a blind pass loses a tile", "as many come as go")
def _blind_loses_a_tile() -> Patches:
    real = charleston.exchange

    def losing(own: Any, blind: Any, direction: Any, stream: Any) -> Any:
        sent, came = real(own, blind, direction, stream)
        if any(blind) and not all(blind):
            seat = next(Seat(number) for number in range(4) if blind[number])
            came = came.with_(seat, came[seat][:-1])
        return sent, came

    return ((charleston, "exchange", losing),)


@bug("carried time counts twice", "time is the step's length and what was carried")
def _carried_twice() -> Patches:
    real = state._begun

    def generous(heat: Any, event: Any) -> Any:
        return real(state.replace(heat, carried_ms=PerSeat.of(lambda seat: 2 * heat.carried_ms[seat])), event)

    return ((state, "_begun", generous),)


@bug("a killed heat comes back with its clocks running", "a killed heat resumes paused")
def _no_pause_after_a_kill() -> Patches:
    def running_on(cls: Any, head: Any, events: Any, now: int) -> Any:
        key = running.wall_key(head.secret, head.contributions)
        last = max(getattr(event, "at_ms", 0) for event in events)
        return cls(head, key, running.replay(head.settings, events), events, now - last)

    return ((running.RunningHeat, "restored", classmethod(running_on)),)


@bug("a stall of the machine costs the players time", "no clock runs out early")
def _stalls_cost_time() -> Patches:
    return ((running.RunningHeat, "stalled", lambda self, by_ms: ()),)


@bug("racks and secret are told while the host keeps them closed", "closed racks stay closed until the set is over")
def _secret_told_early() -> Patches:
    real = views.heat_result
    return ((ended, "heat_result", lambda heat, final, opened: real(heat, final, True)),)


@bug("a value for the wall is ignored", "every client finds that the wall fits")
def _contribution_ignored() -> Patches:
    real = table.heat_head

    def dropping(*rest: Any) -> Any:
        head = real(*rest)
        ignored = next((chair for chair in range(4) if head.contributions[chair]), 0)
        kept = tuple(b"" if chair == ignored else value for chair, value in enumerate(head.contributions))
        return head.model_copy(update={"contributions": kept})

    return ((table, "heat_head", dropping),)


@bug("the commitment is swapped once all hashes are there", "a table changes nothing that it showed of a wall")
def _commitment_swapped() -> Patches:
    real = walling.WallTable._take_part

    def swapping(self: Any, *rest: Any) -> Any:
        answer = real(self, *rest)
        making = self._record.round
        if making and making.now.has_all_hashes and not any(making.now.values):
            secret = self._random_bytes(32)
            self._record = self._record.with_(round=making._now(commitment=commitment(secret)), secret=secret)
        return answer

    return ((walling.WallTable, "_take_part", swapping),)


@bug("a stop counts only if everybody stops", "one stop ends it, none goes on")
def _stops_do_not_count() -> Patches:
    real = charleston._outcome

    def deaf(heat: Any, now: int, dice: Any) -> Any:
        events = real(heat, now, dice)
        return tuple(
            Decided(go_on=any(vote.go_on for vote in heat.answers), at_ms=now) if isinstance(event, Decided) else event
            for event in events
        )

    return ((charleston, "_outcome", deaf),)


@bug("the greater courtesy number counts", "the smaller courtesy number counts")
def _greater_number_counts() -> Patches:
    real = charleston._outcome

    def greedy(heat: Any, now: int, dice: Any) -> Any:
        (event, *rest) = real(heat, now, dice) or (None,)
        if event is None or event.kind != "agreed":
            return (event, *rest) if event else ()
        said = [answer.count for answer in heat.answers]
        counts = tuple(max(said[seat], said[(seat + 2) % 4]) for seat in range(4))
        return (event.model_copy(update={"counts": counts}),)

    return ((charleston, "_outcome", greedy),)


@bug("left goes right and right goes left", "a pass goes the step's way")
def _left_is_right() -> Patches:
    real = charleston.exchange
    return ((charleston, "exchange", lambda own, blind, way, stream: real(own, blind, type(way)(4 - way), stream)),)


@bug("a finished heat is kept without its last event", "a saved heat fits its commitment and the rules")
def _last_event_not_kept() -> Patches:
    real = store.Database._write

    def careless(self: Any, append: Any) -> None:
        if append.finished:
            cut = append.finished.model_copy(update={"events": append.finished.events[:-1]})
            append = store.Append(append.record, append.heat, append.after, append.events, cut)
        real(self, append)

    return ((store.Database, "_write", careless),)


@bug("clocks run on in a pause", "nothing happens in a pause")
def _pause_runs_on() -> Patches:
    real = charleston.tick

    def impatient(heat: Any, now: int, dice: Any) -> Any:
        if heat.paused and any(heat.owes):
            clocks = PerSeat.of(lambda seat: heat.clocks[seat].started(0) if heat.owes[seat] else heat.clocks[seat])
            return real(state.replace(heat, clocks=clocks), now, dice)
        return real(heat, now, dice)

    def due(self: Any, now: int) -> Any:
        return charleston.tick(self.state, self.time_ms(now), running.dice_of(self.key))

    return ((charleston, "tick", impatient), (running.RunningHeat, "due", due))


@bug("names are taken as they come", "a name cannot act")
def _names_as_they_come() -> Patches:
    return ((chairs, "clean_name", lambda text, default="", cells=16: text[:cells] or default),)


@bug("what a full disk did not take is not taken back", "each answer counts once")
def _full_disk_forgotten() -> Patches:
    return ((table.Table, "go_back", lambda self, checkpoint, connected: None),)


@bug("votes are shown before all have answered", "answers are shown when all have answered")
def _own_vote_shown() -> Patches:
    real = views.seat_view

    def eager(heat: Any, seat: Seat, chairs: Any) -> Any:
        view = real(heat, seat, chairs)
        answer = heat.answers[seat]
        return view.model_copy(update={"vote": answer.go_on}) if answer and answer.kind == "voted" else view

    return ((views, "seat_view", eager),)


@bug("a stall is given to the players as the host's extra time", "each command counts once")
def _stall_given_twice() -> Patches:
    def forgiving(self: Any, by_ms: int) -> Any:
        return (DeadlinesMoved(by_ms=by_ms, why="host"),) if any(self.state.owes) else ()

    return ((running.RunningHeat, "stalled", forgiving),)


@bug("results by chair: a heat belongs to whoever sits there now", "a result belongs to who played it")
def _results_by_chair() -> Patches:
    real = ended.EndedHeats._result

    def of_the_sitters(self: Any, kept: Any) -> Any:
        result, record = real(self, kept), self._record

        def now(chair: int) -> Player:
            seated = record.chairs[chair]
            return Player(name=seated.name, person=record.number_of(seated.person))

        seats = tuple(seat.model_copy(update={"players": (now(seat.chair),)}) for seat in result.seats)
        return result.model_copy(update={"seats": seats})

    return ((ended.EndedHeats, "_result", of_the_sitters),)


@bug("a stand-in's result goes to the person", "a bot's result is the bot's")
def _stand_ins_result_to_the_person() -> Patches:
    def to_the_person(record: Any, events: Any, east: int, step: Any) -> Any:
        chairs_now = [chair.model_copy(update={"stand_in": False}) for chair in record.chairs]
        by_people = [
            event.model_copy(update={"by": "person"}) if getattr(event, "by", "") == "bot" else event
            for event in events
        ]
        noted = real(record.with_(chairs=tuple(chairs_now)), by_people, east, step)
        return record.with_(sat=noted.sat)

    real = chairs.with_played
    return ((table, "with_played", to_the_person),)


@bug(
    "stale settings: the next heat is played by the clock of the last one",
    "a heat is played by the settings set before it",
)
def _stale_settings() -> Patches:
    real = table.heat_head

    def stale(record: Any, *rest: Any) -> Any:
        return real(record.with_(settings=record.played or record.settings), *rest)

    return ((table, "heat_head", stale),)


@bug("two hosts: who keeps the table for a host who is away takes it over", "only one is the host")
def _two_hosts() -> Patches:
    real = table.Table.view

    def generous(self: Any, chair: int, now: int) -> Any:
        view = real(self, chair, now)
        return view.model_copy(update={"host": True, "keeps": False}) if view.keeps else view

    return ((table.Table, "view", generous),)


@bug("a guest has the host's rights while the host is away", "a guest has no right of the host")
def _guests_have_the_hosts_rights() -> Patches:
    return ((table, "_KEEPING", (*table._KEEPING, ChangeSettings, FreeChair, Extend)),)


@bug("East is stuck: with each set the deal begins anew", "the deal moves on with every heat")
def _east_begins_anew_with_each_set() -> Patches:
    real = chairs.east_chair

    def stuck(record: Any) -> int:
        return real(record.with_(number=record.number + 1 - record.set_first))

    return ((table, "east_chair", stuck), (chairs, "east_chair", stuck))


@bug("silence goes on where the table says that it stops", "silence means what the table says")
def _silence_goes_on() -> Patches:
    real = charleston._timeout_answer

    def deaf(heat: Any, seat: Seat, at: int) -> Any:
        answer = real(heat, seat, at)
        return answer.model_copy(update={"go_on": True}) if answer.kind == "voted" else answer

    return ((charleston, "_timeout_answer", deaf),)


@bug("tiles are shown that must lie face down until all have voted", "a seat sees only what came to it")
def _face_down_is_shown() -> Patches:
    real = running.heat_view

    def peeking(heat: Any, seat: Seat, *rest: Any) -> Any:
        view, down = real(heat, seat, *rest), heat.face_down[seat]
        return view.model_copy(update={"fresh": down}) if down and not heat.paused else view

    return ((running, "heat_view", peeking),)


@bug("a neighbour has to swap who has named somebody else", "the smaller courtesy number counts")
def _one_neighbour_is_enough() -> Patches:
    def eager(answers: Any, seat: Seat) -> int:
        other = state.partner(answers[seat], seat)
        return min(answers[seat].count, answers[other].count)

    return ((charleston, "agreed", eager),)


@bug("more tiles go unseen than the table allows", "blind only where allowed")
def _any_number_unseen() -> Patches:
    def lax(self: Any, step: str) -> int:
        return 3 if self.blind and step in ("first left", "last right") else 0

    return ((Settings, "most_blind", lax),)


@bug("East's complete hand wins where the tiles should be dealt again", "East's hand wins only where the table says so")
def _east_wins_everywhere() -> Patches:
    real = charleston.open_heat

    def winning(settings: Any, *rest: Any) -> Any:
        return real(settings.model_copy(update={"east_complete": "wins"}), *rest)

    return ((charleston, "open_heat", winning),)


def main() -> int:
    """Hunt every bug and print the table; exit 1 if one got away."""
    parser = argparse.ArgumentParser(prog="python -m tests.simulation.bugs", description=__doc__)
    parser.add_argument("--most", type=int, default=2_000)
    parser.add_argument("--only", default="", help="only the bugs with these words")
    options = parser.parse_args()
    logging.disable(logging.CRITICAL)
    all_caught = True
    for fault in BUGS:
        if options.only in fault.what:
            report = hunt(fault, options.most)
            all_caught = all_caught and report is not None
            print(f"| {fault.what} | {report.seed if report else 'NOT CAUGHT'} | {fault.rule} |", flush=True)
    return 0 if all_caught else 1


if __name__ == "__main__":
    sys.exit(main())
