"""Chairs: who deals, who played, whose chair it is; and nobody can be taken for somebody else, whatever their name."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.records import Chair, Sat, TableRecord, hash_token
from server.table.bots import BIRDS
from server.table.chairs import (
    away_chair,
    bot_chair,
    chair_of_token,
    east_chair,
    free_chair,
    heat_head,
    person_chair,
    with_played,
)
from shared.names import NAME_CELLS, cell_width, skeleton
from shared.rules.drills import Laid
from shared.rules.events import EastWon, Passed, StepBegan
from shared.rules.players import Player
from shared.rules.seats import SEATS
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


# ---- who deals


def deals(record: TableRecord, heats: int = 6) -> list[int]:
    return [east_chair(record.with_(number=number)) for number in range(heats)]


@pytest.mark.parametrize("names", [[], ["Ann", "Bo"], ["Ann", "Bo", "Cy", "Di"]])
def test_the_deal_goes_round_from_the_chair_that_was_agreed(names: list[str]) -> None:
    for first in range(4):
        settings = Settings.model_validate({"first_east": str(first + 1)})
        record = seated(names).with_(settings=settings)
        assert deals(record) == [(first + number) % 4 for number in range(6)]


@pytest.mark.parametrize(
    ("first", "chair", "dealing"),
    [("1", 0, [0, 1]), ("1", 2, [0, 2]), ("3", 2, [2, 3]), ("4", 3, [3, 0]), ("4", 0, [3, 0])],
)
def test_who_plays_alone_deals_every_other_heat(first: str, chair: int, dealing: list[int]) -> None:
    settings = Settings.model_validate({"first_east": first})
    record = seated([]).with_(settings=settings)
    record = record.with_chair(chair, person_chair(record, chair, "Ann", bytes(32), 0))
    for other in set(range(4)) - {chair}:
        record = record.with_chair(other, bot_chair(record, other))
    assert deals(record) == dealing * 3


def test_a_lot_is_drawn_once_for_a_table_and_may_fall_on_any_chair() -> None:
    settings = Settings(first_east="lot")
    drawn = [seated(["Ann", "Bo"]).with_(settings=settings, id=f"t {number}") for number in range(40)]
    assert {deals(record)[0] for record in drawn} == {0, 1, 2, 3}
    for record in drawn:
        assert deals(record) == [(deals(record)[0] + number) % 4 for number in range(6)]


@pytest.mark.parametrize("seat", SEATS)
def test_in_a_drill_the_person_on_the_first_chair_has_the_seat_that_was_laid(seat: int) -> None:
    laid = Laid(Settings(level_ms=77_000), (), SEATS[seat], "a drill")
    head = heat_head(seated(["Ann"]).with_(number=5), "then", "laid", laid)
    assert (head.number, head.settings.level_ms, (head.east + seat) % 4) == (6, 77_000, 0)
    assert head.east in range(4)


def test_the_head_of_a_heat_says_what_is_known_before_it() -> None:
    record = seated(["Ann", "Bo"]).with_(number=3, secret=b"s" * 32, settings=Settings(seed=9))
    head = heat_head(record, "then", "seeded")
    assert (head.number, head.east, head.secret, head.played_at, head.wall) == (4, 3, b"s" * 32, "then", "seeded")
    assert (head.names, head.sitters) == (("Ann", "Bo", "", ""), ("person", "person", "nobody", "nobody"))
    assert head.settings.seed is None, "a heat that is shown must not reveal the deals that follow"
    assert head.contributions == (b"",) * 4


# ---- who played


def playing() -> TableRecord:
    """Ann, and Bo for whom a bot plays; the other chairs have bots."""
    record = seated(["Ann", "Bo"])
    record = record.with_chair(1, record.chairs[1].model_copy(update={"stand_in": True}))
    for chair in (2, 3):
        record = record.with_chair(chair, bot_chair(record, chair))
    people = tuple(chair.person for chair in record.chairs)
    return record.knowing(*people).with_(sat=(Sat(heat=1, people=people),))


def test_a_seat_belongs_to_whoever_answered_at_it() -> None:
    record = playing()
    east = 3
    answers = [
        Passed(seat=(chair - east) % 4, tiles=(), blind=0, spent_ms=0, at_ms=0, by=by)
        for chair, by in ((0, "person"), (1, "person"), (2, "bot"))
    ]
    later = Passed(seat=1, tiles=(), blind=0, spent_ms=0, at_ms=0, by="bot")
    events = (*answers, StepBegan(step="first across", at_ms=0), later)
    (sat,) = with_played(record, events, east, "first right").sat
    bird = record.chairs[2].name
    assert sat.played == (
        (Player(name="Ann", person=1), Player(name="", person=0, since="first across")),
        (Player(name="", person=0),),
        (Player(name=bird, person=0),),
        (),
    )
    assert with_played(record, answers, east, None) == record, "nobody answers before a step has begun"


def test_a_heat_that_east_won_at_once_was_played_by_all_who_sat_there() -> None:
    record = playing()
    (sat,) = with_played(record, (EastWon(),), 2, None).sat
    assert [[(one.name, one.person, one.since) for one in players] for players in sat.played] == [
        [("Ann", 1, "first right")],
        [("", 0, "first right")],
        [(record.chairs[2].name, 0, "first right")],
        [(record.chairs[3].name, 0, "first right")],
    ]


# ---- whose chair


def test_a_newcomer_gets_an_empty_chair_before_a_bots_and_that_before_one_that_somebody_left() -> None:
    record = seated(["Ann", "Bo", "Cy", "Di"])
    assert free_chair(record) is None
    record = record.with_chair(0, record.chairs[0].model_copy(update={"left": True}))
    assert free_chair(record) == 0
    for chair, value in ((3, bot_chair(record, 3)), (2, bot_chair(record, 2))):
        record = record.with_chair(chair, value)
        assert free_chair(record) == chair
    for chair in (3, 1):
        record = record.with_chair(chair, Chair())
        assert free_chair(record) == chair


def test_a_token_opens_its_own_chair_and_another_one_none() -> None:
    tokens = [bytes([65 + chair]) * 16 for chair in range(4)]
    record = seated([])
    for chair, token in enumerate(tokens):
        record = record.with_chair(chair, person_chair(record, chair, "Ann", hash_token(token), 0))
    assert [chair_of_token(record, token) for token in tokens] == [0, 1, 2, 3]
    assert chair_of_token(record, b"another token...") is None


def test_somebody_is_away_whose_name_is_known_and_whose_line_is_down() -> None:
    record = seated(["Ann", "Bo", "Cy"])
    record = record.with_chair(3, bot_chair(record, 3))
    bird = record.chairs[3].name
    assert [away_chair(record, name, (0,)) for name in ("Ann", " bo ", "Cy", "Di", bird)] == [None, 1, 2, None, None]
    record = record.with_chair(2, record.chairs[2].model_copy(update={"left": True}))
    assert away_chair(record, "Cy", (0,)) is None
