"""Nobody at a table can be taken for somebody else, whatever name they come with."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.records import TableRecord
from server.table.bots import BIRDS
from server.table.chairs import bot_chair, person_chair
from shared.names import NAME_CELLS, cell_width, skeleton
from shared.rules.settings import Settings

LOOKS = st.text(st.sampled_from("AaАаÁnNηп1lI|3b .cdO0оrm"), max_size=18)


def seated(names: list[str]) -> TableRecord:
    record = TableRecord(id="t", name="Boathouse", code="tern-12", settings=Settings())
    for chair, name in enumerate(names):
        record = record.with_chair(chair, person_chair(record, chair, name, bytes([chair] * 32), 0))
    return record


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Ann", "ann"),
        ("Ann", "Аnn"),  # a Cyrillic capital
        ("Zoe", "Ζοε"),  # Greek
        ("Hob", "Нов"),  # Cyrillic
        ("Bill", "BiIl"),
        ("Tom", "T0m"),
        ("Ann", "A n.n"),
        ("Ann", "Ａｎｎ"),
        ("Ann", "𝐀𝐧𝐧"),
        ("Ann", "Ánn"),
        ("Mona", "rnona"),
    ],
)
def test_who_comes_with_a_name_that_looks_like_anothers_is_shown_with_the_number_of_the_chair(
    one: str, other: str
) -> None:
    names = [chair.name for chair in seated([one, other]).chairs[:2]]
    assert names == [one, f"{names[1][:-2]} 2"]


def test_names_that_merely_begin_alike_stay_as_they_are() -> None:
    assert [chair.name for chair in seated(["Ann", "Anna", "Anne", "Dan"]).chairs] == ["Ann", "Anna", "Anne", "Dan"]


@given(st.lists(LOOKS, min_size=4, max_size=4))
def test_four_names_at_a_table_never_look_alike_and_never_grow_too_wide(names: list[str]) -> None:
    shown = [chair.name for chair in seated(names).chairs]
    assert len({skeleton(name) for name in shown}) == 4
    assert all(sum(map(cell_width, name)) <= NAME_CELLS for name in shown)


def test_even_who_knows_the_numbers_in_advance_can_copy_nobody() -> None:
    copied = "a" * 13 + " 4b"
    shown = [chair.name for chair in seated(["a" * 13 + " 4b", "a" * 14 + " 4", "a" * 13 + " 4c", copied]).chairs]
    assert len({skeleton(name) for name in shown}) == 4


def test_no_bird_is_named_like_a_person() -> None:
    assert len({skeleton(bird) for bird in BIRDS}) == len(BIRDS)
    for chair, bird in enumerate(BIRDS[:4]):
        # Each chair has a bird that comes first; here a person on the next chair is named like it in other letters.
        person = person_chair(seated([]), 0, " ".join(bird.upper()).replace("O", "0"), bytes(32), 0)
        record = seated([]).with_chair((chair + 1) % 4, person)
        assert skeleton(person.name) == skeleton(bird) != skeleton(bot_chair(record, chair).name)
