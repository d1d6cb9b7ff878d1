"""What an ordinary client makes of walls at honest tables, of heats told otherwise, and of two different rounds.

The client is the one that every screen has.
"""

from collections.abc import Callable
from typing import Any

import pytest

from client.models.wall import NOT_TOLD, WallWatch
from shared.codes import WORDS
from shared.rules.heat import HEAT, SavedHeat, sealed
from shared.rules.intents import Leave, WallHash, WallValue
from shared.rules.wall import CONTRIBUTION_BYTES, commitment, seeded_secret
from shared.rules.wall_round import SILENCE_MS, WallKind, value_hash
from shared.rules.wall_seen import Verdict, differences, read_aloud
from shared.wire.views import View
from tests.client.models.walls import GUEST, Watched, attempt_of, four, with_attempts

# ---- honest tables


@pytest.mark.parametrize("people", [2, 3, 4])
def test_where_all_agrees_there_is_one_quiet_line_and_the_same_words_for_all(people: int) -> None:
    table = Watched(people)
    heat = table.play_heat()
    aloud = {table.watch(chair).words(1) for chair in range(people)}
    for chair in range(people):
        assert table.told(chair) == Verdict(
            level="quiet", text="Wall checked: your value is in it, and all that you saw fits."
        )
        assert heat.contributions[chair] == table.seen(chair).own_value() != b""
        assert table.seen(chair).stopped == ""
    words = {read_aloud(table.seen(chair), HEAT.pack(heat)) for chair in range(people)}
    assert len(words) == 1
    assert len(aloud) == 1, "before the heat was told as well, when less is known"
    assert "" not in aloud
    for chair in range(people):
        lines = table.watch(chair).told(table.view(chair))
        assert f"Words of heat 1, the same for all: {table.watch(chair).words(1)}." in lines
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
    assert watch.seen["t1", 1].chair == 0


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


def test_what_the_host_failed_at_counts_for_the_later_heats_of_the_set_and_for_no_other_set() -> None:
    table = Watched()
    for _ in range(2):
        table.ready()
        table.play_heat()
    watch, view = table.watch(GUEST), table.view(GUEST)
    assert (view.first_heat, view.wall.heat) == (1, 3)
    for heat in (1, 2):
        seen = watch.seen["t1", heat]
        failed = seen.attempts[-1].model_copy(update={"why": "host"})
        watch.seen["t1", heat] = seen.model_copy(update={"attempts": (failed, *seen.attempts)})
    before = watch.seen["t1", 1].model_copy(update={"attempts": (failed, failed)})
    watch.seen["t1", 0] = watch.seen["other", 1] = before
    del watch.seen["t1", 3]
    watch.see(view)
    assert watch.seen["t1", 3].failures == 2


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
