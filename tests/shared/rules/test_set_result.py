"""Results of a set to take home: what replays counts, what does not is refused with its reason."""

import msgpack

from shared import versions
from shared.rules.events import AnyEvent, Passed
from shared.rules.heat import HEAT, SavedHeat, sealed
from shared.rules.seats import seat_of
from shared.rules.set_result import CHAIR, RESULT, Handed, SetResult, bare, counted, holds, read_result
from shared.rules.tiles import JOKER, remove
from tests.take_home import SETTINGS, handed_in, made, of_practice, played


def read(result: SetResult) -> Handed | str:
    return read_result(RESULT.pack(result), of_practice)


def accepted(result: SetResult) -> Handed:
    found = read(result)
    assert isinstance(found, Handed), found
    return found


def refused(result: SetResult) -> str:
    found = read(result)
    assert isinstance(found, str), "it counts"
    return found


def test_everybody_gets_the_same_tiles_and_all_results_count() -> None:
    taken = made()
    results = [accepted(handed_in(taken, who)) for who in range(1, 6)]
    for number in range(3):
        dealt = {one.own[number].dealt for one in results}
        first = {one.own[number].steps[0].came for one in results}
        assert len(dealt) == len(first) == 1
        assert len({one.own[number].steps[0].given for one in results}) > 1
    assert [len(dealt.dealt) for dealt in results[0].own] == [14, 13, 14]


def test_a_result_holds_no_name_but_the_typed_one_and_no_text_of_a_card() -> None:
    taken = made()
    data = RESULT.pack(handed_in(taken, 4, name="Typed"))
    for word in (b"Person", b"Heron", b"Plover", b"Take home", b"[[section", b"groups"):
        assert word not in data
    assert len(data) < 25_000


def test_what_it_holds_is_said_before() -> None:
    told = " ".join(holds(handed_in(made(), 1, interrupted=2, tries=2), shared=True))
    for words in (
        "Heats 1, 2, 3 of this set",
        'The name "Person 1"',
        "try 1 of 2",
        "gone on with 2 times",
        "2026-05-01",
    ):
        assert words in told


def test_what_a_line_holds_is_said_before_it_is_copied() -> None:
    told = " ".join(holds(handed_in(made(), 1, interrupted=2, tries=2), shared=True, as_line=True))
    for words in ("Heats 1, 2, 3 of this set", "rounded to tenths", 'The name "Person 1"', "try 1 of 2"):
        assert words in told
    assert "2026" not in told


def changed(heat: SavedHeat, at: int, event: AnyEvent) -> SavedHeat:
    """Return a heat with one event changed, its seal as it was."""
    return heat.model_copy(update={"events": (*heat.events[:at], event, *heat.events[at + 1 :])})


def own_pass(heat: SavedHeat) -> tuple[int, Passed]:
    seat = seat_of(CHAIR, heat.east)
    return next((at, one) for at, one in enumerate(heat.events) if isinstance(one, Passed) and one.seat == seat)


def test_one_tile_changed_is_refused_however_it_is_sealed() -> None:
    taken = made()
    heats = played(taken, 1)
    at, passed = own_pass(heats[1])
    held = heats[1].events[0].racks[passed.seat]
    foreign = next(tile for tile in ("1b", "2b", "3b", "4b", "5b") if tile not in held)
    other = passed.model_copy(update={"tiles": (foreign, *passed.tiles[1:])})
    first = HEAT.unpack(bare(heats[1]))
    unsealed = HEAT.pack(changed(first, at, other))
    told = refused(handed_in(taken, 1, heats).model_copy(update={"heats": (bare(heats[0]), unsealed, bare(heats[2]))}))
    assert told == "Heat 2 does not count: the file is not as it was written: its digest does not fit."
    told = refused(handed_in(taken, 1, (heats[0], sealed(changed(first, at, other)), heats[2])))
    assert told.startswith(f"Heat 2 does not count: event {at + 1} (passed) was not allowed:")


def test_another_legal_pass_sealed_anew_leaves_no_trace() -> None:
    taken = made()
    heat = played(taken, 1)[0]
    at, passed = own_pass(heat)
    rack = remove(heat.events[0].racks[passed.seat], passed.tiles) or ()
    free = [tile for tile in rack if tile != JOKER]
    ways = [(tile, *passed.tiles[1:]) for tile in free]
    # Of what follows the other pass every later event must still be allowed; some other pass allows it.
    found = [read(handed_in(taken, 1, (with_pass(heat, at, passed, tiles),))) for tiles in ways]
    assert any(isinstance(one, Handed) for one in found)


def with_pass(heat: SavedHeat, at: int, passed: Passed, tiles: tuple[str, ...]) -> SavedHeat:
    """Return a heat in which a seat passed other tiles, and everything after it as before."""
    events = []
    for number, event in enumerate(heat.events):
        if number == at:
            event = event.model_copy(update={"tiles": tiles})
        elif event.kind == "moved" and number > at and not any(one.kind == "moved" for one in events[at:]):
            sent = list(event.sent)
            sent[passed.seat] = tiles
            event = event.model_copy(update={"sent": tuple(sent)})
        events.append(event)
    return sealed(heat.model_copy(update={"events": tuple(events)}))


def test_heats_of_other_deals_settings_cards_and_seats_are_refused() -> None:
    taken = made()
    heats = played(taken, 1)
    other = played(made(seed=18), 1)
    assert "deal of this set" in refused(handed_in(taken, 1, other))
    longer = SETTINGS.model_copy(update={"level_ms": 240_000})
    assert "other settings" in refused(handed_in(taken, 1, played(made(longer), 1)))
    first = heats[0]
    assert "another card" in refused(handed_in(taken, 1, (first.model_copy(update={"card_digest": "ab" * 32}),)))
    assert "another seat" in refused(handed_in(taken, 1, (first.model_copy(update={"east": 2}),)))
    assert "seed" in refused(handed_in(taken, 1, (first.model_copy(update={"wall": "round"}),)))


def test_a_repeated_heat_no_heat_and_damage_are_told() -> None:
    taken = made()
    heats = played(taken, 1)
    assert refused(handed_in(taken, 1, (heats[0], heats[0]))) == "It holds heat 1 twice."
    assert refused(handed_in(taken, 1, heats).model_copy(update={"heats": ()})) == "It holds no heat."
    assert refused(handed_in(taken, 1, heats).model_copy(update={"heats": (b"x",)})) == "One of its heats is damaged."
    whole = RESULT.pack(handed_in(taken, 1, heats))
    for data in (b"", b"\xc1", whole[:-10], b"x" * 10_000):
        assert read_result(data, of_practice) == "This is not the result of a set, or it is damaged."


def test_no_byte_can_be_changed_unnoticed_in_the_heats() -> None:
    taken = made()
    result = handed_in(taken, 1, played(taken, 1)[:1])
    (packed,) = result.heats
    for at in range(0, len(packed), 37):
        wrong = packed[:at] + bytes([packed[at] ^ 1]) + packed[at + 1 :]
        refused(result.model_copy(update={"heats": (wrong,)}))


def test_whatever_happens_to_a_file_it_counts_or_says_why_not() -> None:
    whole = RESULT.pack(handed_in(made(), 1, played(made(), 1)[:1]))
    for at in range(0, len(whole), 29):
        for wrong in (
            whole[:at] + bytes([whole[at] ^ 0x81]) + whole[at + 1 :],
            whole[:at],
            whole[:at] + whole[at + 9 :],
        ):
            found = read_result(wrong, of_practice)
            assert isinstance(found, Handed) or found.endswith((".", "again"))


def test_a_newer_result_and_another_line_say_what_to_do() -> None:
    taken = made()
    newer = handed_in(taken, 1).model_copy(update={"version": versions.RESULT_FILE + 1})
    told = refused(newer)
    assert (
        told
        == 'This is a "racktempo result" of version 3; this racktempo reads versions up to 2. Use the newer racktempo.'
    )
    line = taken.model_copy(update={"heat_file": versions.HEAT_FILE + 1}).line
    assert "newer racktempo" in refused(handed_in(taken, 1).model_copy(update={"line": line}))


def test_a_copy_counts_once_and_the_first_try_counts() -> None:
    taken = made()
    heats = played(taken, 1)
    first, part = accepted(handed_in(taken, 1, heats)), accepted(handed_in(taken, 1, heats[:2]))
    second = accepted(handed_in(taken, 1, played(taken, 9), number=2, tries=2, player=f"{1:016x}"))
    other = accepted(handed_in(taken, 2, name="Person 1"))
    counts, rest = counted([second, part, other, first, first])
    assert counts == (first, other)
    assert set(map(id, rest)) == {id(second), id(part), id(first)}
    by_line = accepted(handed_in(taken, 1, heats, by_line=True))
    assert counted([by_line, first])[0] == (first,)
    assert by_line.notes == ("came as a line: seconds rounded to tenths",)
    assert second.notes == ("try 2",)
    assert part.notes == ("2 of 3 heats",)
    assert accepted(handed_in(taken, 1, heats, tries=2, seen=(1,))).notes == (
        "played again later",
        "had played heat 1 before",
    )


def test_a_result_of_the_first_version_is_still_read() -> None:
    result = handed_in(made(), 1)
    older = {**result.model_dump(exclude={"by_line"}), "version": 1}
    found = read_result(msgpack.packb(older), of_practice)
    assert isinstance(found, Handed), found
    assert found.result == result.model_copy(update={"version": 1})
