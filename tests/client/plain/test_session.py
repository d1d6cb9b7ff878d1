"""The table in plain lines: everything that matters is said once, in words, and a heat is played by typing."""

import asyncio
import re
from pathlib import Path

import pytest

from client.connection.address import Address
from client.connection.link import Link
from client.models.ran_out import time_ran_out
from client.plain.session import play
from client.storage.card_files import keep_played
from client.storage.journal import Journal, disk_journal
from server.table.table import Table
from shared.cards.owned import not_yours
from shared.cards.play import shipped_text
from shared.rules.seats import Seat
from shared.rules.settings import Settings
from shared.rules.typed_tiles import typed as in_codes
from tests.client.here import CoachHere
from tests.client.plain.typists import QUICK, Person, heard_rack, sitting, typed, view_of
from tests.client.relay import in_virtual_time, relay
from tests.groups import open_clock
from tests.owned import COPY, OWN, TITLE, copy_in_words, found, giveaways, record_by
from tests.server.players import CODE, House, Player, counted_bytes, open_house, play_heat


async def _play_heat(house: House, person: Person) -> None:
    """Answer every step as soon as it is asked."""
    for step in ("First right", "First across", "First left", "Go on with", "Second left", "Second across"):
        await person.until(f"^{step}")
        person.types(typed(view_of(house)))
    await person.until("^Last right")
    person.types(typed(view_of(house)))
    await person.until("^Courtesy with")
    assert await person.answered("5", "number") == "Write a number from 0 to 3."
    person.types("2")
    await person.until("^(Courtesy: give|The heat is over)")
    if house.table._heat:
        person.types(typed(view_of(house)))
    await person.until("^The heat is over")


def test_a_whole_heat_is_played_by_typing_and_kept(tmp_path: Path) -> None:
    async def scene() -> Person:
        async with open_house(QUICK) as house, sitting(house.listener.port, tmp_path) as person:
            await person.gets_ready()
            await _play_heat(house, person)
            person.types("time")
            await person.until("^Wren: .*; first right")
        return person

    person = in_virtual_time(scene())
    assert any(re.fullmatch(r"Wren: [\d.]+ s in all\.", line) for line in person.said)
    assert sorted(file.suffix for file in tmp_path.iterdir()) == [".heat", ".seat", ".sqlite3"]
    (entry,) = disk_journal(tmp_path / "history.sqlite3").read().entries
    assert (entry.source, entry.heat.number) == ("table", 1)
    assert any(line.startswith("The whole heat is kept as ") for line in person.said)
    assert sum(line.startswith("You passed ") for line in person.said) == 7
    assert any(re.match(r"You: [\d.]+ s in all; first right [\d.]+,", line) for line in person.said)
    assert person.exit_code == 0


@pytest.mark.parametrize("has_copy", [False, True])
def test_a_card_that_is_not_shared_is_asked_for_once_in_one_sentence(tmp_path: Path, has_copy: bool) -> None:
    if has_copy:
        keep_played(COPY)

    async def scene() -> Person:
        table = Table(
            record_by(OWN, QUICK.model_copy(update={"seed": 12}), CODE),
            counted_bytes(),
            lambda: "2026-01-01T20:00:00+00:00",
            own_card=OWN,
        )
        async with open_house(table=table) as house, sitting(house.listener.port, tmp_path) as person:
            await person.gets_ready()
            await _play_heat(house, person)
        return person

    said = in_virtual_time(scene()).said
    assert said.count(not_yours(TITLE)) == (0 if has_copy else 1)
    own = set(giveaways(copy_in_words("lapwing", backwards=True))) if has_copy else set()
    told = found(copy_in_words("plover", backwards=False), [line.encode() for line in said])
    assert told <= own, "whoever has a copy hears of the hands by that copy"
    assert any(line.startswith("Nearest hand: ") for line in said) == has_copy


def test_every_step_says_what_is_asked_where_it_goes_and_how_long_there_is(tmp_path: Path) -> None:
    async def scene() -> Person:
        async with open_house(QUICK) as house, sitting(house.listener.port, tmp_path) as person:
            await person.gets_ready()
            await _play_heat(house, person)
        return person

    said = "\n".join(in_virtual_time(scene()).said)
    assert re.search(r"^First right: pass 3 tiles to the right \(\w+\)\. 44 s\.$", said, re.M)
    assert re.search(r"^Rack: a: [\w ]+, b: [\w ]+, .* n: [\w ]+\.$", said, re.M)
    assert re.search(r"^First across: pass 3 tiles across \(\w+\)\. \d+ s, \d+ s of it carried over\.$", said, re.M)
    assert re.search(r"^First left: pass 3 tiles to the left \(\w+\)\. Up to 3 may go unseen\.", said, re.M)
    assert re.search(r"^Came in from \w+: [\w ,]+\.$", said, re.M)
    assert "Everybody goes on." in said


def test_nothing_that_is_said_moves_the_cursor_or_is_coloured(tmp_path: Path) -> None:
    async def scene() -> Person:
        async with open_house(QUICK) as house, sitting(house.listener.port, tmp_path) as person:
            await person.until("^Write ready")
            bo = Player(house.listener.port, "\x1b[2J[red]Bo\u202e")
            await bo.come()
            await person.until("sits down")
            person.types("table")
            await person.until("^Chair 2: .*Bo")
            await bo.go()
        return person

    said = in_virtual_time(scene()).said
    assert all(line.isprintable() for line in said)


def test_the_time_left_is_told_at_half_and_at_ten_seconds_and_no_more(tmp_path: Path) -> None:
    async def scene() -> Person:
        async with open_house(QUICK) as house, sitting(house.listener.port, tmp_path) as person:
            await person.gets_ready()
            await person.until("^Time ran out: ")
        return person

    person = in_virtual_time(scene())
    start = next(at for at, line in zip(person.at_s, person.said, strict=True) if line.startswith("First right:"))
    told = [
        (round(at - start, 1), line)
        for at, line in zip(person.at_s, person.said, strict=True)
        if line.startswith(("Half", "10 s", "Time ran out"))
    ]
    # 24 percent of three minutes are 43.2 s; the clock answers after a quarter of a second of grace.
    assert told[0] == (21.6, "Half the time is left, 22 s.")
    assert told[1] == (33.2, "10 s left.")
    assert told[2][0] == pytest.approx(43.5, abs=0.1)


def test_when_time_runs_out_what_was_lifted_goes_first_and_then_what_stands_last(tmp_path: Path) -> None:
    async def scene() -> tuple[Person, str]:
        async with open_house(QUICK) as house, sitting(house.listener.port, tmp_path) as person:
            await person.gets_ready()
            rack = heard_rack(await person.until("^Rack:"))
            assert await person.answered(rack[0], "^Lifted") == f"Lifted {rack[0]}: 1 of 3. Write all 3 that go."
            gone = await person.until("^Time ran out")
            free = [tile for tile in rack[1:] if tile != "joker"]
            return person, gone.replace(time_ran_out(in_codes(f"{rack[0]}, {free[-1]}, {free[-2]}")), "well")

    _, gone = in_virtual_time(scene())
    assert gone == "well"


def test_places_and_codes_name_tiles_and_blind_ones_are_told(tmp_path: Path) -> None:
    async def scene() -> Person:
        async with open_house(QUICK) as house, sitting(house.listener.port, tmp_path) as person:
            await person.gets_ready()
            for step in ("First right", "First across"):
                await person.until(f"^{step}")
                person.types("a, b c")
            await person.until("^First left")
            assert "blind 1, blind 2 or blind 3" in await person.answered("blind", "unseen")
            await person.answered("blind 2", "^Nothing is lifted, 2 blind")
            rack = heard_rack(await person.until("^Rack:", 3))
            assert await person.answered("a", "^You passed") == f"You passed {rack[0]} and 2 blind. 0.0 s used."
        return person

    in_virtual_time(scene())


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("1x 2b 3b", "At 1: 1x is no tile: x is no suit. Write 1b, 1c or 1d."),
        ("a b c d", "Only 3 of your own tiles go here; you wrote 4."),
        ("z", "At 1: There is no tile at z. The rack has 14 places."),
        ("w", "for the tile write W."),
        ("5 6 7", "At 1: 5 has no suit. Write 5b, 5c or 5d. At 3: 6 has no suit."),
        ("2", "No number is asked for now"),
        ("blind 2", "No tile can be passed on unseen at this step."),
        ("blind 9", "blind 1, blind 2 or blind 3"),
        ("stop", "meant for go on, but the table is at first right"),
        ("J J J", "joker"),
        ("nonsense", "At 1: nonsense could be tiles or places. Write NONSENSE for tiles"),
        ("new set", "A new set begins when no heat is running."),
        ("time", "44 s left."),
        ("wall", "The wall's commitment is [0-9a-f]{64}."),
        ("table", "Chair 1: Ann, that is you, host."),
        ("sort rank", "Rack: a: "),
        ("help", "An empty line says again"),
        ("", "First right: pass 3 tiles"),
        ("quit", "Write quit again to leave."),
        ("back", "Nothing is lifted."),
        ("plan", "meant for plan"),
        ("x" * 5_000, "At 401: The line is longer than 400. Write less."),
    ],
)
def test_every_line_has_an_answer(line: str, told: str, tmp_path: Path) -> None:
    async def scene() -> None:
        async with open_house(QUICK) as house, sitting(house.listener.port, tmp_path) as person:
            await person.gets_ready()
            await person.until("^Rack:")
            await person.answered(line, told)

    in_virtual_time(scene())


def test_a_pass_is_taken_back_where_the_table_allows_it(tmp_path: Path) -> None:
    async def scene() -> None:
        settings = Settings(seed=11, heats=1, final_at="step end")
        async with open_house(settings) as house, sitting(house.listener.port, tmp_path) as person:
            await person.gets_ready()
            await person.until("^Rack:")
            await person.answered("a b c", "^You passed")
            await person.answered("back", "^Taken back")
            await person.answered("b c d", "^You passed")

    in_virtual_time(scene())


def test_a_stop_names_who_said_it(tmp_path: Path) -> None:
    async def scene() -> str:
        async with open_house(QUICK) as house, sitting(house.listener.port, tmp_path) as person:
            await person.gets_ready()
            for step in ("First right", "First across", "First left"):
                await person.until(f"^{step}")
                person.types("a b c")
            await person.until("^Go on with a second Charleston")
            return await person.answered("stop", "^No second Charleston")

    assert in_virtual_time(scene()) == "No second Charleston: you chose to stop."


def test_others_come_and_go_in_words(tmp_path: Path) -> None:
    async def scene() -> Person:
        async with open_house(QUICK) as house, sitting(house.listener.port, tmp_path) as person:
            await person.until("^Write ready")
            bo = Player(house.listener.port, "Bo")
            await bo.come()
            await person.until("^Bo sits down on chair 2")
            await bo.cut()
            await person.until("^Bo is away")
            await bo.come()
            await person.until("^Bo is back")
            heat = asyncio.create_task(play_heat(bo, 1, lambda view: 500))
            await person.until("^Bo is ready")
            await person.gets_ready()
            await person.until("^Heat 1 of 1: you deal. You are east with 14 tiles")
            await person.answered("pause", "^The host has paused the table: the clocks are stopped")
            await person.answered("resume", "^First right")
            await person.answered("more", "^The host gives 10 s more: \\d+ s left")
            person.types("quit", "quit")
            await heat
            await bo.go()
        return person

    person = in_virtual_time(scene())
    assert person.exit_code == 0


def test_a_cut_line_is_told_once_and_so_is_its_return(tmp_path: Path) -> None:
    async def scene() -> Person:
        async with (
            open_house(QUICK) as house,
            relay(house.listener.port) as stretch,
            sitting(stretch.port, tmp_path) as ann,
        ):
            await ann.until("^Write ready")
            stretch.cut()
            await ann.until("^Connected again")
            await ann.gets_ready()
            await ann.until("^First right")
        return ann

    said = in_virtual_time(scene()).said
    assert sum("Trying to reconnect" in line for line in said) == 1
    assert sum(line == "Boathouse: 1 heat of 3:00." for line in said) == 1


def test_lines_from_a_pipe_wait_until_they_are_asked_for(tmp_path: Path) -> None:
    async def scene() -> Person:
        async with open_house(QUICK) as house, sitting(house.listener.port, tmp_path, is_typed=False) as person:
            person.types("ready", *["a b c"] * 3, "stop", "0")
            person.stops()
            await person.until("^Courtesy with")
            await asyncio.sleep(1)
        return person

    person = in_virtual_time(scene())
    assert sum(line.startswith("You passed") for line in person.said) == 3
    assert not any("meant for" in line or "asked for" in line for line in person.said)


def test_a_script_that_has_answered_everything_hears_how_the_heat_ends(tmp_path: Path) -> None:
    async def scene() -> Person:
        async with open_house(QUICK) as house, sitting(house.listener.port, tmp_path, is_typed=False) as person:
            person.types("ready", *["a b c"] * 3, "stop", "0")
            person.stops()
            await person.until("^The heat is over")
            await asyncio.sleep(1)
            assert house.table.record.chairs[0].sitter == "nobody"
        return person

    assert any(line.startswith("The whole heat is kept") for line in in_virtual_time(scene()).said)


def test_the_end_of_the_input_leaves_the_table(tmp_path: Path) -> None:
    async def scene(lines: tuple[str, ...], is_typed: bool) -> str:
        async with open_house(QUICK) as house:
            async with sitting(house.listener.port, tmp_path, is_typed) as person:
                await person.until("^Write ready")
                person.types(*lines)
                person.stops()
                await asyncio.sleep(1)
            assert person.exit_code == 0
            return house.table.record.chairs[0].sitter

    assert in_virtual_time(scene((), True)) == "nobody"
    assert in_virtual_time(scene((), False)) == "nobody"
    assert in_virtual_time(scene(("quit",), True)) == "nobody"


def test_a_table_that_cannot_be_reached_ends_with_1_and_one_sentence(tmp_path: Path) -> None:
    async def scene() -> Person:
        async with open_house(QUICK) as house:
            person = Person()
            link = Link(Address("127.0.0.1", house.listener.port), "Ann", "wrong-words-00", bytes(16))
            person.stops()
            person.exit_code = await play(link, person.lines, person.hear, tmp_path, Journal(), False)
        return person

    person = in_virtual_time(scene())
    assert person.exit_code == 1
    assert len(person.said) == 1
    assert "wrong code" in person.said[0]


def test_a_clock_for_real_tiles_is_not_for_plain_lines_and_says_so(tmp_path: Path) -> None:
    async def scene() -> Person:
        async with open_clock() as (listener, table):
            person = Person()
            link = Link(Address("127.0.0.1", listener.port), "Ann", CODE, bytes(16))
            person.exit_code = await play(link, person.lines, person.hear, tmp_path, Journal(), False)
            await asyncio.sleep(1)
            assert table.record.chairs[0].sitter == "nobody"
        return person

    person = in_virtual_time(scene())
    assert person.exit_code == 1
    assert len(person.said) == 1
    assert "needs the full screen" in person.said[0]


def test_a_heat_ends_with_its_points_and_its_costliest_decision_once_in_the_words_of_the_screen(tmp_path: Path) -> None:
    async def scene() -> Person:
        settings = QUICK.model_copy(update={"hints": "at the end"})
        async with (
            open_house(settings) as house,
            sitting(house.listener.port, tmp_path, is_typed=False, coach=CoachHere()) as person,
        ):
            person.types("ready", *["a b c"] * 3, "stop", "0")
            person.stops()
            await person.until("^Costliest: ")
            await asyncio.sleep(1)
        assert not any("went on unseen" in line for line in person.said)  # nothing was swapped, so nothing came
        return person

    said = in_virtual_time(scene()).said
    [entry] = disk_journal(tmp_path / "history.sqlite3").read().entries
    assert entry.losses
    [costliest] = [line for line in said if line.startswith("Costliest: ")]
    assert re.match(r"Costliest: (first|courtesy) \w+, [\d.]+ points?\. [A-Z]", costliest)
    step = costliest.removeprefix("Costliest: ").partition(",")[0]
    assert entry.losses[step].points == max(loss.points for loss in entry.losses.values())


def test_a_fresh_program_says_the_target_that_was_named_before_it_began(tmp_path: Path) -> None:
    async def scene() -> Person:
        settings = QUICK.model_copy(update={"hints": "at the end"})
        table = Table(record_by(shipped_text(), settings, CODE), counted_bytes(), lambda: "2026-01-01T20:00:00+00:00")
        async with open_house(table=table) as house:
            async with sitting(house.listener.port, tmp_path, is_typed=False) as before:
                before.types("ready", "target neighbours", *["a b c"] * 3, "stop", "0")
                before.stops()
                await before.until("^The heat is over")
                await asyncio.sleep(1)
            assert "Your target: Neighbours." in before.said
            async with sitting(house.listener.port, tmp_path, coach=CoachHere()) as person:
                await person.until("^Costliest: ")
                await asyncio.sleep(1)
        return person

    said = in_virtual_time(scene()).said
    assert sum(line.startswith("You named Neighbours at first right") for line in said) == 1


def test_the_plan_step_takes_a_hand_and_first_discards(tmp_path: Path) -> None:
    async def scene() -> None:
        settings = Settings(seed=11, heats=1, second="never", courtesy=False, plan=True, bot_pace="quick")
        async with open_house(settings) as house, sitting(house.listener.port, tmp_path) as person:
            await person.gets_ready()
            for step in ("First right", "First across", "First left"):
                await person.until(f"^{step}")
                person.types("a b c")
            await person.until("^Plan: write plan")
            rack = heard_rack(await person.until("^Rack:", 4))
            await person.answered(f"plan like numbers 1 then {rack[0]}, {rack[1]}", "^You answered")
            await person.until("^The heat is over")
            [kept] = house.table._finished
            plans = [event for event in kept.heat().events if event.kind == "planned" and event.seat == Seat.EAST]
            assert [(plan.hand, plan.discards) for plan in plans] == [
                ("like numbers 1", in_codes(f"{rack[0]}, {rack[1]}"))
            ]

    in_virtual_time(scene())


def test_after_a_heat_fill_says_whether_the_rack_fills(tmp_path: Path) -> None:
    async def scene() -> Person:
        settings = QUICK.model_copy(update={"hints": "at the end"})
        table = Table(record_by(shipped_text(), settings, CODE), counted_bytes(), lambda: "2026-01-01T20:00:00+00:00")
        async with (
            open_house(table=table) as house,
            sitting(house.listener.port, tmp_path, is_typed=False, coach=CoachHere()) as person,
        ):
            person.types("fill")
            await person.until("^When a heat is over")
            person.types("ready", *["a b c"] * 3, "stop", "0")
            await person.until("^Costliest: |^Nothing")
            person.types("fill")
            await person.until("^The coach plays your rack on")
            await person.until("in 100")
        return person

    said = in_virtual_time(scene()).said
    after = said[said.index("The coach plays your rack on ...") + 1 :]
    assert any(re.search(r"in 100\.$", line) for line in after)
