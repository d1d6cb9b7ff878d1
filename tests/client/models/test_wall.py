"""What an ordinary client makes of walls: honest tables, and hosts that cheat in every way we could think of.

The cheats change what a seat is told, or what the table does; the client is the one that every screen has.
"""

from collections.abc import Callable
from typing import Any

import pytest

from client.models.wall import NOT_TOLD, WallWatch
from server.table.output import Output
from shared.codes import WORDS
from shared.rules.heat import HEAT, SavedHeat, sealed
from shared.rules.intents import Leave, WallHash, WallValue
from shared.rules.wall import CONTRIBUTION_BYTES, commitment, seeded_secret
from shared.rules.wall_round import SILENCE_MS, Attempt, Round, WallKind, value_hash
from shared.rules.wall_seen import Verdict, WallSeen, differences, read_aloud
from shared.wire.views import View
from tests.tables import QUICK, Evening, never

Cheat = Callable[[View], View]
GUEST = 1


class Watched(Evening):
    """A table whose people all watch the wall as their clients do; cheat changes what the guest is shown."""

    def __init__(self, people: int = 2, cheat: Cheat = lambda view: view, **settings: Any) -> None:
        self.cheat = cheat
        self.lines: dict[int, list[str]] = {}
        super().__init__(QUICK.model_copy(update=settings), people=people)
        self.make_wall()

    def shown(self, chair: int) -> View:
        return self.cheat(self.view(chair)) if chair == GUEST else self.view(chair)

    def take(self, out: Output) -> Output:
        super().take(out)
        self.make_wall()
        return out

    def make_wall(self) -> None:
        for chair in range(4):
            view = self.shown(chair)
            if view.chairs[chair].connected and chair not in self.silent:
                part = self.watch(chair).see(view)
                self.lines.setdefault(chair, []).extend(part.lines)
                for intent in part.intents:
                    self.do(chair, intent)
                    self.watch(chair).done(intent)

    def seen(self, chair: int = GUEST, heat: int = 1) -> WallSeen:
        return self.watch(chair).seen["t1", heat]

    def told(self, chair: int = GUEST, heat: SavedHeat | None = None) -> Verdict:
        """Return what a client says of the last heat once it is told."""
        heat = heat or self.finished[-1]
        judged = self.watch(chair).judge(heat.number, HEAT.pack(heat), never)
        assert judged
        return judged.verdict


def attempt_of(view: View, at: int = -1) -> Attempt:
    return view.wall.attempts[at]


def with_attempts(view: View, *attempts: Attempt) -> View:
    return view.model_copy(update={"wall": view.wall.model_copy(update={"attempts": attempts})})


def four(values: tuple[bytes, ...], chair: int, value: bytes) -> tuple[bytes, ...]:
    return tuple(value if other == chair else before for other, before in enumerate(values))


# ---- honest tables


@pytest.mark.parametrize("people", [2, 3, 4])
def test_where_all_agrees_there_is_one_quiet_line_and_the_same_words_for_all(people: int) -> None:
    table = Watched(people)
    heat = table.play_heat()
    for chair in range(people):
        assert table.told(chair) == Verdict(
            level="quiet", text="Wall checked: your value is in it, and all that you saw fits."
        )
        assert heat.contributions[chair] == table.seen(chair).own_value() != b""
        assert table.seen(chair).stopped == ""
    words = {read_aloud(table.seen(chair), HEAT.pack(heat)) for chair in range(people)}
    assert len(words) == 1
    assert all(word in WORDS for word in words.pop().split())


def test_the_evidence_holds_what_this_seat_was_dealt_and_every_step_it_saw() -> None:
    table = Watched()
    table.play_heat()
    seen = table.seen()
    assert len(seen.dealt) == 13
    assert [step.step for step in seen.steps][:3] == ["first right", "first across", "first left"]
    assert all(len(step.given) + step.blind == len(step.came) + step.blind == 3 for step in seen.steps[:3])


def test_a_chair_left_out_reads_so_and_never_that_all_agrees() -> None:
    table = Watched(3)
    table.silent = {2}
    table.ready()
    table.wait(SILENCE_MS)
    table.silent = set()
    table.play_heat()
    assert table.told(2).text.startswith("Your value is not in this wall: Person 1 and Person 2 made it.")
    assert table.told(1).level == "quiet"


def test_who_came_after_the_deal_is_never_told_that_their_value_is_in_the_wall() -> None:
    table = Watched(4)
    table.ready()
    table.do(2, Leave())
    del table.watches[2]
    assert table.join("Late") == 2
    table.make_wall()
    table.play_heat()
    assert table.told(2) == Verdict(
        level="plain", text="Your value is not in this wall: it was made without this machine. The rest fits."
    )
    assert table.told(1).level == "quiet"


def test_a_person_whom_the_desk_moves_while_the_wall_is_made_accuses_nobody() -> None:
    table = Watched(3)
    table.silent = {2}
    table.ready()
    view = table.view(1)
    assert table.view(0).wall.attempts[-1].hashes[0]
    moved = table.view(0)
    watch = table.watch(1)
    assert watch.see(view).lines == ()
    assert watch.see(moved).lines == ()
    assert watch.seen["t1", 1].stopped == ""


def test_who_missed_a_whole_heat_does_not_count_its_wall_as_the_hosts_failure() -> None:
    table = Watched(3)
    table.silent = {2}
    table.ready()
    table.take(table.table.disconnected(1, table.now_ms))
    table.silent = set()
    table.wait(2 * SILENCE_MS)
    table.play_heat()
    table.join("", table.tokens[1])
    assert table.seen(1, heat=1).attempts
    assert table.seen(1, heat=2).failures == 0


def test_without_a_guests_value_everybody_reads_that_the_host_alone_chose() -> None:
    table = Watched(2)
    table.silent = {GUEST}
    table.ready()
    table.wait(SILENCE_MS)
    table.silent = set()
    table.play_heat()
    assert table.told(0).text.startswith("You alone chose this wall")
    assert table.told(GUEST).text.startswith("The host alone chose this wall")


def test_who_is_silent_is_named_to_the_others_in_words() -> None:
    table = Watched(3)
    table.silent = {2}
    table.ready()
    assert table.watch(0).alarm() == "The wall waits for Person 3."
    table.wait(SILENCE_MS)
    assert table.lines[0] == ["No part in the wall came from Person 3; it is made again without."]


@pytest.mark.parametrize(
    ("settings", "told"),
    [({"seed": 7}, "came from a seed"), ({"same_deal": True}, "The host alone chose this wall")],
)
def test_seeded_and_common_walls_are_said_to_be_so_before_the_heat_and_after_it(
    settings: dict[str, Any], told: str
) -> None:
    table = Watched(**settings)
    assert table.watch(GUEST).before_deal()
    table.play_heat()
    assert told in table.told().text


def test_a_secret_that_is_never_told_is_not_checkable() -> None:
    table = Watched(open_racks=False)
    table.play_heat()
    assert table.watch(GUEST).after(1) == Verdict(level="plain", text=NOT_TOLD)


def test_a_restarted_client_goes_on_with_its_own_value_and_a_forgetful_one_sends_nothing() -> None:
    table = Watched()
    table.silent = {GUEST}
    table.ready()
    first = table.watch(GUEST).see(table.view(GUEST))
    (hashed,) = first.intents
    assert first.seen, "it is kept before it is sent"
    assert isinstance(hashed, WallHash)
    table.do(GUEST, hashed)
    again = WallWatch(bytes, lambda name, number, chair: first.seen)
    again.connected("t1")
    table.watches[GUEST] = again
    (value,) = again.see(table.view(GUEST)).intents
    assert isinstance(value, WallValue)
    assert value.value == first.seen.own_value()
    forgetful = WallWatch(bytes)
    forgetful.connected("t1")
    assert forgetful.see(table.view(GUEST)).intents == ()
    assert forgetful.seen["t1", 1].stopped == ""
    table.do(GUEST, value)
    assert table.view(GUEST).phase == "heat"


@pytest.mark.parametrize("was_away", [True, False])
def test_a_dropped_round_is_the_hosts_failure_for_whoever_was_away_and_a_lie_to_whoever_stayed(was_away: bool) -> None:
    table = Watched()
    table.silent = {GUEST}
    table.ready()
    watch, view = table.watch(GUEST), table.view(GUEST)
    watch.see(view)
    if was_away:
        watch.connected("t2")
        watch.connected("t1")
    watch.see(with_attempts(view))
    seen = watch.seen["t1", 1]
    assert (seen.stopped == "", seen.failures) == (was_away, int(was_away))


# ---- a table that changes what it showed


def promise_swapped(view: View) -> View:
    """Another commitment once the guest's hash is there."""
    if not view.wall.attempts or view.heat or not attempt_of(view).hashes[GUEST]:
        return view
    other = commitment(b"x" * 32)
    changed = attempt_of(view).model_copy(update={"commitment": other})
    return with_attempts(view, *view.wall.attempts[:-1], changed).model_copy(update={"commitment": other})


def commitment_alone_swapped(view: View) -> View:
    """Only the field beside the round is another one."""
    if not view.wall.attempts or not attempt_of(view).hashes[GUEST]:
        return view
    return view.model_copy(update={"commitment": commitment(b"x" * 32)})


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


CHANGES: dict[str, tuple[Callable[[], Cheat], str]] = {
    "swapped commitment": (lambda: promise_swapped, "CHANGED ITS PROMISE"),
    "commitment beside the round": (lambda: commitment_alone_swapped, "CHANGED ITS PROMISE"),
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
    anew = Evening(people=0, record=before.with_(secret=b"n" * 32, chairs=table.table.record.chairs), seed=5)
    anew.watches = table.watches
    for token in table.tokens.values():
        anew.join("Person", token)
    anew.silent = {0, 2}
    for chair in range(3):
        if not anew.view(chair).chairs[chair].ready:
            anew.ready()
    assert anew.watch(GUEST).see(anew.view(GUEST)).intents == ()
    assert "took an attempt to make the wall back" in anew.watch(GUEST).seen["t1", 1].stopped


# ---- what is told afterwards


def changed(heat: SavedHeat, **changes: object) -> SavedHeat:
    return sealed(heat.model_copy(update=changes))


def forged(heat: SavedHeat) -> SavedHeat:
    """A whole heat of another table of the same name and people, sound in itself."""
    other = Watched()
    other.table._record = other.table._record.with_(secret=b"z" * 32)
    other.make_wall()
    return other.play_heat()


TOLD: dict[str, tuple[Callable[[SavedHeat], SavedHeat], str]] = {
    "another secret": (lambda heat: changed(heat, secret=b"s" * 32), "does not fit the commitment"),
    "swapped commitment": (
        lambda heat: changed(heat, secret=b"s" * 32, commitment=commitment(b"s" * 32)),
        "commitment",
    ),
    "contribution dropped": (
        lambda heat: changed(heat, contributions=(heat.contributions[0], b"", b"", b"")),
        "other values than those of the round",
    ),
    "contribution dropped and the round rewritten": (
        lambda heat: changed(
            heat,
            contributions=(heat.contributions[0], b"", b"", b""),
            attempts=(
                heat.attempts[0].model_copy(
                    update={
                        "chairs": (0,),
                        "values": (heat.contributions[0], b"", b"", b""),
                        "hashes": (
                            value_hash(
                                "t1",
                                1,
                                heat.attempts[0].model_copy(update={"chairs": (0,)}),
                                0,
                                heat.contributions[0],
                            ),
                            b"",
                            b"",
                            b"",
                        ),
                    }
                ),
            ),
        ),
        "",
    ),
    "said to be of before the rounds": (lambda heat: changed(heat, wall="", attempts=()), "Before the deal"),
    "a secret seed": (
        lambda heat: changed(heat, wall="seeded", attempts=(), contributions=(b"",) * 4, secret=seeded_secret(3, 1)),
        "does not fit the commitment",
    ),
    "swapped file": (forged, ""),
}


@pytest.mark.parametrize("what", TOLD)
def test_a_heat_that_is_told_otherwise_than_it_was_seen_is_said_loudly(what: str) -> None:
    make, told = TOLD[what]
    table = Watched()
    heat = table.play_heat()
    verdict = table.told(heat=make(heat))
    assert verdict.level == "loud"
    assert verdict.text.startswith("THE WALL DOES NOT FIT.")
    assert told in verdict.text


def test_a_file_of_other_tiles_than_one_saw_is_said_loudly() -> None:
    table = Watched()
    heat = table.play_heat()
    seen = table.seen()
    wrong = seen.model_copy(update={"dealt": (*seen.dealt[1:], "J" if seen.dealt[0] != "J" else "F")})
    table.watch(GUEST).seen["t1", 1] = wrong
    assert "You were dealt" in table.told(heat=heat).text
    step = seen.steps[0].model_copy(update={"came": seen.steps[0].given})
    table.watch(GUEST).seen["t1", 1] = seen.model_copy(update={"steps": (step, *seen.steps[1:])})
    assert "In first right you gave" in table.told(heat=heat).text


def test_grinding_is_not_possible_a_host_has_promised_before_it_knows_anything() -> None:
    """At the moment at which the table first knows a guest's value, its secret and its own value are bound."""
    table = Watched()
    table.ready()
    attempt = attempt_of(table.view(0))
    heat = table.play_heat()
    assert commitment(heat.secret) == attempt.commitment
    for other in range(50):  # it may try what it likes: none fits what was promised
        secret, value = bytes([other]) * 32, bytes([other]) * CONTRIBUTION_BYTES
        ground = changed(heat, secret=secret, contributions=(value, *heat.contributions[1:]))
        assert table.told(heat=ground).level == "loud"


# ---- different things shown to different people


def test_a_table_that_shows_two_rounds_is_caught_by_the_words_and_by_comparing_two_files() -> None:
    def other_hash(view: View) -> View:
        if not view.wall.attempts:
            return view
        value, attempt = b"v" * 16, attempt_of(view)
        update: dict[str, object] = {}
        if attempt.hashes[0]:
            update["hashes"] = four(attempt.hashes, 0, value_hash("t1", 1, attempt, 0, value))
        if attempt.values[0]:
            update["values"] = four(attempt.values, 0, value)
        return with_attempts(view, *view.wall.attempts[:-1], attempt.model_copy(update=update))

    table = Watched(3, cheat=other_hash)
    heat = table.play_heat()
    assert table.seen().stopped == "", "by itself this client can notice nothing while the heat runs"
    assert read_aloud(table.seen(GUEST)) != read_aloud(table.seen(2)) == read_aloud(table.seen(0))
    (told,) = differences(table.seen(GUEST), table.seen(2))
    assert told.startswith("One saw attempt 1 as")
    assert differences(table.seen(0), table.seen(2)) == ()
    assert table.told(GUEST, heat).level == "loud"


def test_two_files_of_one_heat_give_two_sets_of_words() -> None:
    table = Watched(3)
    heat = table.play_heat()
    other = changed(heat, played_at="2026-05-01T19:31:00Z")
    assert read_aloud(table.seen(1), HEAT.pack(heat)) != read_aloud(table.seen(2), HEAT.pack(other))
    assert read_aloud(table.seen(1), HEAT.pack(heat)) == read_aloud(table.seen(2), HEAT.pack(heat))


@pytest.mark.parametrize("field", ["commitment", "kind", "number", "table"])
def test_evidence_of_two_people_that_differs_is_told_with_both_values(field: str) -> None:
    table = Watched(3)
    table.play_heat()
    kinds: dict[str, object] = {"commitment": "0" * 64, "kind": "seeded", "number": 9, "table": "t9"}
    theirs = table.seen(2).model_copy(update={field: kinds[field]})
    assert differences(table.seen(1), theirs)
    assert differences(table.seen(1), table.seen(1)) == ("Both are of the same chair.",)


def test_the_kinds_of_walls_have_words() -> None:
    from shared.rules.wall_seen import KIND_WORDS

    kinds: tuple[WallKind, ...] = ("", "round", "seeded", "laid", "common")
    assert set(KIND_WORDS) == set(kinds)
