"""The reader of card files: a good file becomes a card, a bad one is told everything at once, and none does harm."""

import subprocess
import sys
from importlib.resources import files

import pytest

from shared.cards import Card, Fault, expand, first_evening_card, practice_card, read_card

GOOD = """
[card]
title = "Boathouse try-out"
year = 2026
note = "Invented for a test."

[[section]]
name = "Low water"
about = "Small ranks."

[[section.hand]]
id = "low-1"
groups = "F^2 n.p^3 n+1.p^4 n+2.p^5"
concealed = false
value = 30
n = [1, 3, 5]

[[section.hand]]
id = "low-2"
groups = "1.p^2 1.q^2 2.p^2 2.q^2 3.p^2 3.q^2 F^2"
concealed = true
value = 45
"""


def faults_of(text: str) -> tuple[Fault, ...]:
    read = read_card(text.encode())
    assert not isinstance(read, Card)
    return read


def changed(old: str, new: str) -> str:
    assert GOOD.count(old) >= 1
    return GOOD.replace(old, new, 1)


def test_a_good_file_becomes_the_card_it_describes() -> None:
    card = read_card(GOOD.encode())
    assert isinstance(card, Card)
    assert (card.title, card.year, card.note) == ("Boathouse try-out", 2026, "Invented for a test.")
    assert [section.name for section in card.sections] == ["Low water"]
    first, second = card.hands
    assert (first.id, first.section, first.groups) == ("low-1", "Low water", "F^2 n.p^3 n+1.p^4 n+2.p^5")
    assert (first.concealed, first.value, first.n) == (False, 30, (1, 3, 5))
    assert (second.concealed, second.value, second.n) == (True, 45, None)
    assert len(expand(card)) == 3 * 3 + 3


def test_a_byte_order_mark_and_the_line_ends_of_other_systems_are_no_fault() -> None:
    assert read_card(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode()) == read_card(GOOD.encode())


def test_the_shipped_cards_have_no_fault() -> None:
    assert len(practice_card().hands) > len(first_evening_card().hands) == 10


@pytest.mark.parametrize("year", [2025, 2027, 2028, 2029, 2030, 2031, 2032, 2099, 2100, 1999])
def test_the_practice_card_is_good_in_other_years(year: int) -> None:
    text = files("shared.cards").joinpath("practice.toml").read_text(encoding="utf-8")
    assert "year = 2026" in text
    assert isinstance(read_card(text.replace("year = 2026", f"year = {year}").encode()), Card)


def test_a_card_is_read_and_shown_without_loading_numpy() -> None:
    program = "import sys; from shared.cards import *; show(practice_card()); sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == 0


HAND = "section Low water, hand low-1"


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (
            "n+1.p^4",
            "H^4",
            f"{HAND}, column 11: 'H^4' has an unknown face. Write 5.p, n.p, n+2.q, m.q, 10-n.p, n+m.p, Y1.p, "
            "D(p), D(-p), R, G, O, A, B, C, N, E, W, S, X, Z, V, U or F before the ^.",
        ),
        ("n+2.p^5", "n+2.p^4", f"{HAND}, column 26: The counts add up to 13, not 14. Add 1 tile."),
        ("n+2.p^5", "n+2.p^6", f"{HAND}, column 19: The counts add up to 15, not 14. Take 1 tile away."),
        (
            "[1, 3, 5]",
            "[1, 8]",
            f"{HAND}, column 19: n+2.p: with n = 8 the rank is 10, out of range. List no n above 7.",
        ),
        (
            "n+2.p^5",
            "n+2.s^5",
            f"{HAND}, column 19: 'n+2.s^5' asks for a fourth suit. The set has three, so write p, q or r.",
        ),
        (
            "n.p^3 n+1.p^4 n+2.p^5",
            "n.p^2 n.p^2 n.p^1 n+1.p^7",
            f"{HAND}, column 17: With this group the hand needs 5 real tiles of a kind that has 4. Only groups "
            "of three or more take jokers: join some groups, or write another face.",
        ),
        (
            "F^2 n.p^3 n+1.p^4 n+2.p^5",
            "F^1 n.p^13",
            f"{HAND}, column 5: With this group the hand needs 9 jokers, and the set has 8. Make the group "
            "smaller, or write another face.",
        ),
        (
            '"low-2"',
            '"low-1"',
            f"{HAND}: The id is used in section Low water already. Give this hand one of its own.",
        ),
        (
            '"low-2"',
            '"Low 2"',
            "section Low water, hand #2: The id 'Low 2' may hold a-z, 0-9 and single hyphens between them. "
            "Write it so.",
        ),
        (
            "n+1.p^4 n+2.p^5",
            "n.p^9",
            None,
        ),
        (
            "n.p^3 n+1.p^4 n+2.p^5",
            "1.p^3 2.p^4 3.p^5",
            f"{HAND}, column 1: The hand lists n, but no group uses it. Write n.p in a group, or delete n = [...].",
        ),
        (
            "[1, 3, 5]",
            "[]",
            f"{HAND}: n must list different ranks from 1 to 9. Write n = [1, 3, 5], or leave it out.",
        ),
        (
            "[1, 3, 5]",
            "[1, 1]",
            f"{HAND}: n must list different ranks from 1 to 9. Write n = [1, 3, 5], or leave it out.",
        ),
        (
            "[1, 3, 5]",
            "[true]",
            f"{HAND}: n must list different ranks from 1 to 9. Write n = [1, 3, 5], or leave it out.",
        ),
        (
            "concealed = false",
            "concealed = 0",
            f"{HAND}: concealed must be true or false. Write concealed = false or concealed = true.",
        ),
        (
            "value = 30",
            'value = "30"',
            f"{HAND}: value is no whole number in range. Write a number from 0 to 999 without quotes.",
        ),
        (
            "value = 30",
            "value = true",
            f"{HAND}: value is no whole number in range. Write a number from 0 to 999 without quotes.",
        ),
        (
            "value = 30",
            "value = [30, -1]",
            f"{HAND}: value must list whole numbers from 0 to 999, without quotes.",
        ),
        (
            "value = 30",
            "value = [30, 40]",
            f"{HAND}: value lists 2 numbers for 1 row of groups. Write one for each row.",
        ),
        (
            "value = 30",
            "value = 30\nvalu = 3",
            f"{HAND}: 'valu' means nothing here. Write only id, groups, concealed, value, n, m, jokers, note.",
        ),
        ('"F^2 n.p^3 n+1.p^4 n+2.p^5"', "14", f'{HAND}: groups must be text. Write groups = "...".'),
        (
            'name = "Low water"',
            'name = ""',
            "section #1: name is empty. Write something between the quotes.",
        ),
        ('name = "Low water"', "", 'section #1: name is missing. Write name = "...".'),
        (
            '"Small ranks."',
            '"\\u001b[2J"',
            "section Low water: about holds a character that cannot be shown, such as a tab. Type it again without.",
        ),
        ("Boathouse", "B" * 60, "file: In [card], title has 68 characters, more than 60. Make it shorter."),
        (
            "year = 2026",
            "year = 26",
            "file: In [card], year is no whole number in range. Write a number from 1000 to 9999 without quotes.",
        ),
        (
            "[card]",
            "[crad]",
            "file: 'crad' means nothing here. Write only card, section.",
        ),
        (
            "[[section]]",
            "[section]",
            "file: section must be tables. Head each of them with [[section]].",
        ),
    ],
)
def test_each_fault_has_its_place_and_its_remedy(old: str, new: str, told: str | None) -> None:
    read = read_card(changed(old, new).encode())
    if told is None:
        assert isinstance(read, Card)  # two groups of one kind, and more of it than the set has, are allowed
    else:
        assert not isinstance(read, Card)
        assert str(read[0]) == told


def test_two_lines_with_the_same_variants_are_one_pattern_however_they_are_written() -> None:
    text = changed("n = [1, 3, 5]\n", "n = [1]\n")
    text = text.replace("1.p^2 1.q^2 2.p^2 2.q^2 3.p^2 3.q^2 F^2", "3.q^5 F^2 1.q^3 2.q^4")
    assert [str(fault) for fault in faults_of(text)] == [
        "section Low water, hand low-2, column 1: The hand low-1 has the same pattern. Change one of them or delete it."
    ]


PLAIN = """
[card]
title = "Boathouse"
year = 2026

[[section]]
name = "Low water"
hand = [
    "F^2 n.p^3 n+1.p^4 n+2.p^5",
    {groups = "F^8 N^6 or F^8 S^6", value = [20, 30], note = "A wind from either end."},
    {groups = "1.p^2 1.q^2 2.p^2 2.q^2 3.p^2 3.q^2 F^2", concealed = true, jokers = false},
]
"""


def test_a_plain_hand_takes_one_line_and_what_is_not_said_has_its_default() -> None:
    card = read_card(PLAIN.encode())
    assert isinstance(card, Card)
    assert (card.note, card.share, card.sections[0].about) == ("", False, "")
    plain, rows, pairs = card.hands
    assert (plain.concealed, plain.value, plain.values, plain.note, plain.jokers) == (False, 25, (), "", True)
    assert (rows.value, rows.row_value(0), rows.row_value(1)) == (20, 20, 30)
    assert rows.note == "A wind from either end."
    assert (pairs.concealed, pairs.jokers, pairs.value) == (True, False, 25)
    assert all(sum(variant.groups) == 0 for variant in expand(card) if variant.hand == 2)


def test_a_hand_without_an_id_gets_one_that_stays_when_the_card_is_sorted_anew() -> None:
    card = read_card(PLAIN.encode())
    lines = PLAIN.splitlines(keepends=True)
    at = next(number for number, line in enumerate(lines) if line.startswith("hand = ["))
    other = read_card("".join([*lines[: at + 1], *reversed(lines[at + 1 : at + 4]), *lines[at + 4 :]]).encode())
    assert isinstance(card, Card)
    assert isinstance(other, Card)
    assert [hand.id for hand in other.hands] == [hand.id for hand in reversed(card.hands)]
    assert len({hand.id for hand in card.hands}) == 3


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ('"F^2 n.p^3 k^9"', "hand #1, column 11: 'k^9' has an unknown face."),
        ("7", "hand must be tables. Head each of them with [[section.hand]]."),
        (
            '{groups = "F^2 n.p^4 m.p^8", m = [1, 3], n = [2], jokers = "no"}',
            "hand #1: jokers must be true or false. Write jokers = false or jokers = true.",
        ),
        (
            '{groups = "F^2 n.p^4 n.q^8", m = [1, 3]}',
            "hand #1, column 1: The hand lists m, but no group uses it. Write m.p in a group, or delete m = [...].",
        ),
        (
            '{groups = "F^2 n-2.p^4 n.q^8", n = [2, 3]}',
            "hand #1, column 5: n-2.p: with n = 2 the rank is 0, out of range. List no n below 3.",
        ),
        (
            '"F^2 n-5.p^4 n.q^4 n+5.p^4"',
            "hand #1, column 19: With this group no choice of ranks keeps every rank from 1 to 9. Bring the ranks "
            "closer together, or list other values.",
        ),
        (
            '"F^2 n.p^4 n.q^4 n.r^4 or N^13 E^1"',
            "hand #1, column 26: With this group the hand needs 9 jokers, and the set has 8. Make the group smaller, "
            "or write another face.",
        ),
        (
            '{groups = "F^6 5.p^8", jokers = false}',
            "hand #1, column 5: With this group the hand needs 8 real tiles of a kind that has 4. The hand takes no "
            "jokers: make the group smaller, or write another face.",
        ),
        (
            '"n.p^1 m.q^1 D(-p)^1 D(-q)^1 X^1 Z^1 V^1 A^1 F^6"',
            "hand #1, column 1: The hand leaves 124416 choices, more than 20000. Fix a rank, a suit or a wind.",
        ),
        (
            '"F^14 or F^14", "F^14"',
            "hand #2, column 1: Hand #1 of section Low water has the same pattern. Change one of them or delete it.",
        ),
    ],
)
def test_a_fault_in_a_plain_line_has_its_place_and_its_remedy(line: str, told: str) -> None:
    head = PLAIN[: PLAIN.index("hand = [")]
    place, fault = told.partition(": ")[::2] if told.startswith("hand #") else ("", told)
    first = str(faults_of(f"{head}hand = [{line}]")[0])
    assert first.startswith(f"section Low water{', ' if place else ''}{place}: {fault}")


def test_a_bad_year_is_not_told_a_second_time_by_the_hands_that_ask_for_its_digits() -> None:
    text = changed("2026", "20260").replace("1.p^2 1.q^2 2.p^2 2.q^2 3.p^2 3.q^2 F^2", "Y2.p^2 Y3.p^2 Y4.p^2 F^8")
    assert [fault.place for fault in faults_of(text)] == ["file"]


def test_an_empty_section_an_empty_card_and_a_second_section_of_one_name_are_told() -> None:
    empty = '\n[[section]]\nname = "Low water"\nabout = "Again."\n'
    assert [str(fault) for fault in faults_of(GOOD + empty)] == [
        "section Low water: Another section has this name already. Give it a name of its own.",
        "section Low water: The section is empty. Add [[section.hand]] below it, or delete the section.",
    ]
    assert [str(fault) for fault in faults_of("")] == [
        "file: The [card] table is missing. Begin with [card] and title, year and note.",
        "file: The card has no section. Add [[section]] with a name, what it is about, and hands.",
    ]


def test_all_faults_of_a_file_come_at_once_in_its_order() -> None:
    text = GOOD
    for old, new in (
        ("2026", "0"),
        ('"low-1"', '"?"'),
        ("n.p^3 n+1.p^4", "n.s^3 k^4"),
        ("30", "-1"),
        ("1.p^2 1.q^2", "1.p^2"),
    ):
        assert old in text
        text = text.replace(old, new, 1)
    places = [fault.place for fault in faults_of(text)]
    assert places == [
        "file",
        "section Low water, hand #1",
        "section Low water, hand #1",
        "section Low water, hand #1, column 5",
        "section Low water, hand #1, column 11",
        "section Low water, hand low-2, column 34",
    ]


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b'[card]\ntitle = "caf\xe9"\n', "file: Line 2 is not UTF-8. Save the file as UTF-8."),
        (
            b"#" * (2**20 + 1),
            "file: The file has more than the 1024 KiB allowed. Make it shorter.",
        ),
        (
            b"[card]\ntitle = Boathouse\n",
            "file: The file is not TOML: Invalid value (at line 2, column 9). Mend that place; text needs quotes, "
            "lists need [].",
        ),
        (b"x = " + b"9" * 5000, "file: The file has a number with thousands of digits. Write a shorter one."),
        (
            b"x = " + b"[" * 10_000,
            "file: The file has lists or tables within each other, hundreds deep. Write them side by side.",
        ),
        (
            b"\na.b.c.d.e.f.g.h.i.j = 1",
            "file: Line 2 has more than 8 dots outside quotes. Put text in quotes.",
        ),
    ],
)
def test_bytes_that_are_no_table_get_one_sentence(data: bytes, told: str) -> None:
    read = read_card(data)
    assert not isinstance(read, Card)
    assert [str(fault) for fault in read] == [told]


def test_dots_within_strings_and_comments_are_no_fault() -> None:
    dots = "." * 50
    text = changed("Invented for a test.", f"It's {dots}") + f"# it's {dots}\n"
    assert isinstance(read_card(text.encode()), Card)
    text = changed('"Invented for a test."', f"'''Say \"{dots}'''")
    assert isinstance(read_card(text.encode()), Card)
