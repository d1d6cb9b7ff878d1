"""Codes are three words and two digits, a guess is one chance, and whose turn it is to guess."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.net.addresses import network_of
from server.net.codes import Guesses, Try, make_code, same_code
from shared.codes import WORDS, one_reading, readings

CODE = "maple-otter-lemon-07"


@given(st.binary(min_size=16, max_size=32))
def test_a_code_is_three_words_and_two_digits(random: bytes) -> None:
    *words, number = make_code(random).split("-")
    assert len(words) == 3
    assert set(words) <= set(WORDS)
    assert len(number) == 2
    assert number.isdecimal()


def test_codes_of_different_bytes_do_not_meet_and_use_the_whole_list() -> None:
    codes = {make_code(number.to_bytes(16, "big")) for number in range(10_000)}
    # 10,000 draws of 107 billion: 0.0005 meetings are expected. A word is missing from 30,000 draws with 2e-13.
    assert len(codes) == 10_000
    assert {word for code in codes for word in code.split("-")[:3]} == set(WORDS)
    assert {code[-2:] for code in codes} == {f"{number:02}" for number in range(100)}


def test_typing_is_forgiven_and_nothing_else() -> None:
    for typed in (
        " Maple otterLEMON 07",
        "mapl otte lemo 07",
        "maplotterlem0n07".replace("0n", "on"),
        "maple.otter.lemon.07",
    ):
        assert same_code(typed, CODE), typed
    for typed in ("maple-otter-lemon-08", "", "otter-maple-lemon-07", "map otter lemon 07", "mäple otter lemon 07"):
        assert not same_code(typed, CODE), typed


def test_an_empty_code_opens_nothing() -> None:
    assert not same_code("", "")
    assert not same_code(" - ", "")


def test_a_code_of_an_earlier_version_still_opens_its_table() -> None:
    assert same_code(" Maple kettle07", "maple-kettle-07")
    assert not same_code("maple-kettle-08", "maple-kettle-07")


def test_what_can_be_read_in_two_ways_is_one_chance() -> None:
    starts = {word[:4]: word for word in WORDS}
    pairs = ((one, two) for one in WORDS for two in WORDS if one[4:] and one[4:8] + two[:4] in starts)
    typed = [f"{one[:4]}{one[4:]}{two}acorn07" for one, two in pairs]
    twice = [text for text in typed if len(readings(text)) > 1]
    for text in twice:
        assert sum(same_code(text, f"{code[:-2]}{code[-2:]}") for code in readings(text)) <= 1
    assert one_reading("acornacornacorn07") == "acornacornacorn07"


# ---- whose turn it is


def guessed(guesses: Guesses, address: str, what: str, at_ms: int) -> Try:
    one = guesses.enter(address, what, at_ms)
    assert one
    return one


def wrong(guesses: Guesses, address: str, what: str, at_ms: int) -> int:
    """Try a wrong code as soon as that may be; return when that is."""
    one = guessed(guesses, address, what, at_ms)
    while wait_ms := guesses.wait_ms(one, at_ms):
        at_ms += wait_ms
    guesses.wrong(one, at_ms)
    guesses.leave(one)
    return at_ms


@pytest.mark.parametrize("what", ["t1", "the evening's player", "the evening's desk", "the evening's teacher"])
def test_every_wrong_code_makes_the_next_wait_longer_whatever_it_was_to_open(what: str) -> None:
    guesses, at_ms, waits = Guesses(), 1_000, []
    for _ in range(8):
        before_ms, at_ms = at_ms, wrong(guesses, "192.0.2.7", what, at_ms)
        waits.append(at_ms - before_ms)
    assert waits == [0, 250, 500, 1_000, 2_000, 4_000, 5_000, 5_000]
    other = guessed(guesses, "192.0.2.7", "another", at_ms)
    assert guesses.wait_ms(other, at_ms) == 5_000
    assert guesses.wait_ms(other, at_ms + 600_001) == 0


def test_an_address_makes_one_guess_in_five_seconds_in_the_long_run_at_however_many_tables() -> None:
    guesses, at_ms, count = Guesses(), 0, 0
    while at_ms < 3_600_000:
        at_ms = wrong(guesses, "192.0.2.7", f"t{count % 60}", at_ms)
        count += 1
    assert count <= 3_600 / 5 + 6


def test_those_who_wait_are_bounded_and_leave_nothing_behind() -> None:
    guesses = Guesses()
    wrong(guesses, "192.0.2.7", "t", 0)
    lines = [guessed(guesses, "192.0.2.7", "t", 1) for _ in range(Guesses.MOST_WAITING)]
    assert guesses.enter("192.0.2.7", "t", 1) is None
    assert guesses.enter("192.0.2.8", "t", 1) is not None
    for one in lines:
        guesses.leave(one)
    assert guesses.enter("192.0.2.7", "t", 1) is not None
    for number in range(3 * Guesses.REMEMBERED):
        address = f"10.{number >> 16}.{number >> 8 & 255}.{number & 255}"
        wrong(guesses, address, f"t{number}", 2)
    assert max(len(guesses._addresses), len(guesses._targets)) <= Guesses.REMEMBERED + 1


def test_the_table_that_was_guessed_at_longest_ago_is_forgotten_first() -> None:
    guesses = Guesses()
    for number in range(Guesses.REMEMBERED + 1):
        for again in range(Guesses.ALARM_AFTER if number in (0, Guesses.REMEMBERED) else 1):
            wrong(guesses, f"10.{again}.{number >> 8}.{number & 255}", f"t{number}", 0)
    waits = [guesses.wait_ms(guessed(guesses, "192.0.2.7", what, 0), 0) for what in ("t0", f"t{Guesses.REMEMBERED}")]
    assert waits == [0, Guesses.LONGEST_MS]


def test_who_hung_up_makes_room_for_the_next() -> None:
    guesses = Guesses()
    at_ms = [wrong(guesses, "192.0.2.7", "t", 0) for _ in range(2)][-1]
    first, second = guessed(guesses, "192.0.2.7", "t", at_ms), guessed(guesses, "192.0.2.7", "t", at_ms)
    waits = guesses.wait_ms(first, at_ms), guesses.wait_ms(second, at_ms)
    guesses.leave(first)
    assert guesses.wait_ms(second, at_ms) == waits[0] < waits[1]


def test_an_address_is_a_machine() -> None:
    assert network_of("2001:db8::1") == network_of("2001:db8::ffff:1%eth0") != network_of("2001:db8:0:1::1")
    assert network_of("::ffff:192.0.2.7") == network_of("192.0.2.7") != network_of("192.0.2.8")
    assert network_of("?") == "?"


def test_guesses_from_all_addresses_of_one_machine_of_ipv6_are_those_of_one_guesser() -> None:
    guesses = Guesses()
    for number in range(1, 4):
        one = guesses.enter(f"2001:db8::{number}", "a table", 0)
        assert one
        guesses.wrong(one, 0)
        guesses.leave(one)
    another = guesses.enter("2001:db8::99", "a table", 0)
    elsewhere = guesses.enter("2001:db8:0:1::1", "a table", 0)
    assert another
    assert elsewhere
    assert guesses.wait_ms(another, 0) == 1_000
    assert guesses.wait_ms(elsewhere, 0) == 0
