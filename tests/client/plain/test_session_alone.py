"""Alone in plain lines: how heats begin, and the guided heat in words."""

import asyncio
from pathlib import Path

import pytest

from client.models.guided import CARD, WORDS
from client.models.guided import SETTINGS as GUIDED
from server.table.table import Table
from shared.cards.play import shipped_text
from tests.client.here import CoachHere
from tests.client.plain.typists import QUICK, Person, sitting, typed, view_of
from tests.client.relay import in_virtual_time
from tests.owned import record_by
from tests.server.players import CODE, counted_bytes, open_house


@pytest.mark.parametrize("start", ["", "ready"])
def test_alone_enter_starts_each_heat_after_its_card_and_nothing_is_said_of_chairs_and_codes(
    start: str, tmp_path: Path
) -> None:
    async def scene() -> Person:
        async with open_house(QUICK) as house, sitting(house.listener.port, tmp_path, kind="alone") as person:
            await asyncio.sleep(1)
            assert [line.split()[0] for line in person.said] == ["Heat", "You", "3:00", "Press", "The"]
            assert person.said[4] == "The wall comes from a seed: who knows the seed knows the wall."
            await asyncio.sleep(600)
            assert house.table._heat is None
            person.types(start)
            await person.until("^Rack:")
        return person

    assert in_virtual_time(scene()).said[0].startswith("Heat 1 of 1")


def test_a_script_alone_starts_by_an_empty_line(tmp_path: Path) -> None:
    async def scene() -> Person:
        async with (
            open_house(QUICK) as house,
            sitting(house.listener.port, tmp_path, is_typed=False, kind="alone") as person,
        ):
            person.types("", *["a b c"] * 3, "stop", "0")
            person.stops()
            await person.until("^The heat is over")
        return person

    said = in_virtual_time(scene()).said
    assert sum(line.startswith("You passed") for line in said) == 3
    assert "Not at the table yet." not in said


def test_the_guided_heat_tells_each_step_and_the_coachs_word_and_no_clock(tmp_path: Path) -> None:
    async def scene() -> Person:
        settings = GUIDED.model_copy(update={"seed": 11})
        table = Table(
            record_by(shipped_text(CARD), settings, CODE), counted_bytes(), lambda: "2026-01-01T20:00:00+00:00"
        )
        async with (
            open_house(table=table) as house,
            sitting(house.listener.port, tmp_path, kind="guided", coach=CoachHere()) as person,
        ):
            await person.until("^Press enter")
            person.types("")
            await person.until("^Rack:")
            person.types("time", "why", typed(view_of(house)))
            await person.until("^First right: (best|as good|cost)")
            await person.until("^First across: pass")
        return person

    said = in_virtual_time(scene()).said
    words = [line for line in said if line in sum(WORDS.values(), ())]
    assert words[:4] == [*WORDS["first right"], *WORDS["first across"]]
    assert said.count("No clock runs.") == 1
    assert said[0] == "A guided heat, by easy hands"
    assert "No pass has been made yet." in said
    assert not any("10:00" in line or "600 s" in line or "Half the time" in line for line in said)


def test_the_guided_heat_gives_all_the_time_that_is_taken_and_says_nothing_of_it(tmp_path: Path) -> None:
    async def scene() -> Person:
        table = Table(record_by(shipped_text(CARD), GUIDED, CODE), counted_bytes(), lambda: "2026-01-01T20:00:00+00:00")
        async with (
            open_house(table=table) as house,
            sitting(house.listener.port, tmp_path, kind="guided", coach=CoachHere()) as person,
        ):
            await person.until("^Press enter")
            person.types("")
            await person.until("^Rack:")
            before = len(person.said)
            await asyncio.sleep(25 * 60)
            assert person.said[before:] == []
            person.types(typed(view_of(house)))
            await person.until("^First across: pass")
        return person

    assert not any(line.startswith("Time ran out") for line in in_virtual_time(scene()).said)
