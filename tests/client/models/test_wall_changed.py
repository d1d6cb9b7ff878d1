"""A table that changes what it showed of a wall: swapped, invented, dropped or begun anew.

The cheats change what a seat is told, or what the table does; the client is the one that every screen has.
"""

from collections.abc import Callable

import pytest

from shared.rules.intents import ChangeSettings, Start
from shared.rules.wall import commitment
from shared.rules.wall_round import SILENCE_MS, Attempt, Round
from shared.rules.wall_seen import Verdict
from shared.wire.views import View
from tests.client.models.walls import GUEST, Cheat, Watched, attempt_of, four, with_attempts
from tests.tables import Evening


def promise_swapped(view: View) -> View:
    """Another commitment once the guest's hash is there."""
    if not view.wall.attempts or view.heat or not attempt_of(view).hashes[GUEST]:
        return view
    other = commitment(b"x" * 32)
    changed = attempt_of(view).model_copy(update={"commitment": other})
    return with_attempts(view, *view.wall.attempts[:-1], changed).model_copy(update={"commitment": other})


def commitment_alone_swapped(other: str, at_once: bool = False) -> Cheat:
    """Only the field beside the round is another one: from the beginning, or once the guest's hash is there."""

    def cheat(view: View) -> View:
        if not view.wall.attempts or not (at_once or attempt_of(view).hashes[GUEST]):
            return view
        return view.model_copy(update={"commitment": other})

    return cheat


def own_hash_altered(view: View) -> View:
    if not view.wall.attempts or not attempt_of(view).hashes[GUEST]:
        return view
    altered = attempt_of(view).model_copy(update={"hashes": four(attempt_of(view).hashes, GUEST, b"x" * 32)})
    return with_attempts(view, *view.wall.attempts[:-1], altered)


class OtherHashAltered:
    """The host's own hash changes after it was shown."""

    def __init__(self) -> None:
        self.looks = 0

    def __call__(self, view: View) -> View:
        if not view.wall.attempts or not attempt_of(view).hashes[0]:
            return view
        self.looks += 1
        hashed = bytes([min(self.looks, 2)]) * 32
        changed = attempt_of(view).model_copy(update={"hashes": four(attempt_of(view).hashes, 0, hashed)})
        return with_attempts(view, *view.wall.attempts[:-1], changed)


def chairs_changed(view: View) -> View:
    if not view.wall.attempts or not attempt_of(view).hashes[GUEST]:
        return view
    changed = attempt_of(view).model_copy(update={"chairs": (0, 1, 2)})
    return with_attempts(view, *view.wall.attempts[:-1], changed)


def hash_invented(view: View) -> View:
    """A hash in the guest's name before the guest sent one."""
    if not view.wall.attempts or attempt_of(view).hashes[GUEST]:
        return view
    invented = attempt_of(view).model_copy(update={"hashes": four(attempt_of(view).hashes, GUEST, b"i" * 32)})
    return with_attempts(view, *view.wall.attempts[:-1], invented)


def begun_again(view: View) -> View:
    """Another attempt although nobody was silent."""
    if not view.wall.attempts or not attempt_of(view).hashes[GUEST]:
        return view
    other = commitment(b"y" * 32)
    again = Attempt(number=2, commitment=other, chairs=attempt_of(view).chairs)
    return with_attempts(view, attempt_of(view), again).model_copy(update={"commitment": other})


def kind_changed(view: View) -> View:
    """A seed is found out only when the heat runs."""
    if not view.heat:
        return view
    wall = view.wall.model_copy(update={"kind": "seeded", "attempts": ()})
    return view.model_copy(update={"wall": wall})


PROMISE = f"THE TABLE CHANGED ITS PROMISE: it showed {Watched().view(0).commitment[:8]},"
CHANGES: dict[str, tuple[Callable[[], Cheat], str]] = {
    "swapped commitment": (lambda: promise_swapped, f"{PROMISE} now {commitment(b'x' * 32)[:8]}."),
    "a smaller commitment beside the round": (lambda: commitment_alone_swapped("0" * 64), f"{PROMISE} now 00000000."),
    "a greater commitment beside the round": (lambda: commitment_alone_swapped("f" * 64), f"{PROMISE} now ffffffff."),
    "a smaller one from the beginning": (lambda: commitment_alone_swapped("0" * 64, True), f"{PROMISE} now 00000000."),
    "a greater one from the beginning": (lambda: commitment_alone_swapped("f" * 64, True), f"{PROMISE} now ffffffff."),
    "own hash altered": (lambda: own_hash_altered, "ALTERED A PART OF THE WALL, of you"),
    "other's hash altered": (OtherHashAltered, "ALTERED A PART OF THE WALL, of Person 1"),
    "chairs changed": (lambda: chairs_changed, "changed who takes part"),
    "hash invented": (lambda: hash_invented, "ALTERED A PART OF THE WALL, of you"),
    "begun again without a reason": (lambda: begun_again, "without a reason"),
    "kind changed with the deal": (lambda: kind_changed, "comes from a seed"),
}


@pytest.mark.parametrize("what", CHANGES)
def test_a_table_that_changes_what_it_showed_is_said_loudly_and_gets_no_value(what: str) -> None:
    make, told = CHANGES[what]
    table = Watched(cheat=make())
    table.ready()
    seen = table.seen()
    assert told in seen.stopped
    assert "opens nothing" in seen.stopped
    assert table.watch(GUEST).alarm() == seen.stopped
    if what != "kind changed with the deal":
        assert table.view(0).wall.attempts[0].values[GUEST] == b"", "the guest opened nothing"
        table.wait(2 * SILENCE_MS)
    table.cheat = lambda view: view
    table.play_heat()
    assert table.told().level == "loud"
    assert seen.stopped in table.told().text


def test_who_was_away_while_the_host_chose_a_seed_hears_of_it_quietly() -> None:
    table = Watched()
    assert table.seen().kind == "round"
    table.take(table.table.disconnected(GUEST, table.now_ms))
    table.do(0, ChangeSettings(settings=table.table.record.settings.model_copy(update={"seed": 5})))
    table.do(0, Start())
    table.watch(GUEST).connected("t1")
    table.join("", table.tokens[GUEST])
    assert table.heat(GUEST).step
    assert not table.seen().stopped
    table.play_heat()
    assert table.told() == Verdict(level="plain", text="This wall came from a seed; it is the one fixed beforehand.")


def test_a_host_that_names_an_honest_guest_silent_is_caught_by_that_guest() -> None:
    table = Watched(3)
    table.silent = {0}
    table.ready()  # the guest's part is there; the host's program drops it and says that nothing came
    making = table.table._record.round
    assert isinstance(making, Round)
    burned = making.burned("silent", (GUEST,)).again(table.table._record.secret, commitment(b"b" * 32), (0, 2))

    def shown(chair: int) -> View:
        fresh = {"commitment": commitment(b"b" * 32)}
        return with_attempts(table.view(chair), *burned.attempts).model_copy(update=fresh)

    part = table.watch(GUEST).see(shown(GUEST))
    assert "named you silent, although it had taken your part" in table.seen().stopped
    assert part.lines
    others = table.watch(2).see(shown(2))
    assert others.lines == ("No part in the wall came from Person 2; it is made again without.",)


def test_values_that_were_dropped_after_the_round_are_not_dealt_from_unnoticed() -> None:
    """The table deals before the guest's value is in."""

    def dealt_too_early(view: View) -> View:
        if view.heat is None:
            return view
        dropped = attempt_of(view).model_copy(update={"values": four(attempt_of(view).values, GUEST, b"")})
        return with_attempts(view, *view.wall.attempts[:-1], dropped)

    table = Watched(cheat=dealt_too_early)
    table.ready()
    assert table.view(0).phase == "heat"
    assert "dealt before the wall was made" in table.seen().stopped


def test_two_failures_of_the_host_in_a_set_make_its_heats_not_checkable() -> None:
    table = Watched(3)
    table.silent = {0}
    table.ready()
    for number in range(2):
        making = table.table._record.round
        assert isinstance(making, Round)
        secret, fresh = table.table._record.secret, bytes([number]) * 32
        again = making.burned("host").again(secret, commitment(fresh), making.now.chairs)
        table.table._record = table.table._record.with_(round=again, secret=fresh)
        table.make_wall()
    table.silent = set()
    table.make_wall()
    table.make_wall()
    table.play_heat()
    assert table.seen().failures == 2
    assert table.told().text.startswith("Not checkable")


def test_one_failure_of_the_host_is_told_and_the_heat_is_checked() -> None:
    table = Watched(3)
    table.silent = {0}
    table.ready()
    making = table.table._record.round
    assert isinstance(making, Round)
    again = making.burned("host").again(table.table._record.secret, commitment(b"1" * 32), making.now.chairs)
    table.table._record = table.table._record.with_(round=again, secret=b"1" * 32)
    assert table.watch(GUEST).see(table.view(GUEST)).lines[0].startswith("The host's program failed")
    table.watch(GUEST)._asked.clear()
    table.silent = set()
    table.make_wall()
    table.make_wall()
    table.play_heat()
    assert table.told().level == "quiet"


def test_a_restart_for_a_better_wall_is_noticed_by_whoever_comes_back() -> None:
    """The host sees all values, does not like the wall, and opens the table anew from before the round."""
    table = Watched(3)
    before = table.table.record
    table.silent = {0}
    table.ready()
    anew = Evening(people=0, record=before.with_(secret=b"n" * 32), seed=5)
    anew.watches = table.watches
    for token in table.tokens.values():
        anew.join("Person", token)
    assert anew.watch(GUEST).see(anew.view(GUEST)).intents == ()
    assert "took an attempt to make the wall back" in anew.watch(GUEST).seen["t1", 1].stopped


def test_so_is_one_that_begins_the_round_anew_as_soon_as_all_who_were_ready_are_back() -> None:
    table = Watched(3)
    before = table.table.record
    table.silent = {0}
    table.ready()
    anew = Evening(people=0, record=before.with_(secret=b"n" * 32, chairs=table.table.record.chairs), seed=5)
    anew.watches = table.watches
    for token in table.tokens.values():
        anew.join("Person", token)
    assert anew.view(GUEST).wall.attempts
    assert anew.watch(GUEST).see(anew.view(GUEST)).intents == ()
    assert "CHANGED ITS PROMISE" in anew.watch(GUEST).seen["t1", 1].stopped
