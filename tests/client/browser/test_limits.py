"""What strangers' browsers send: what is understood, what is cut to size, and what is nothing."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from client.browser.limits import (
    HIGHEST,
    WIDEST,
    Focused,
    Resized,
    Typed,
    fitting_texts,
    is_from_our_page,
    is_ours,
    read_message,
)


def test_keys_sizes_and_focus_are_understood() -> None:
    assert read_message('["stdin","\\u001b[A\u00e9"]') == Typed("\x1b[A\u00e9".encode())
    assert read_message('["resize",{"width":100,"height":30}]') == Resized(100, 30)
    assert read_message('["focus"]') == Focused(True)
    assert read_message('["blur"]') == Focused(False)


@pytest.mark.parametrize(("asked", "given"), [(10**12, (WIDEST, HIGHEST)), (-5, (1, 1)), (0, (1, 1))])
def test_no_screen_is_bigger_than_the_largest_or_smaller_than_a_cell(asked: int, given: tuple[int, int]) -> None:
    assert read_message(f'["resize",{{"width":{asked},"height":{asked}}}]') == Resized(*given)


def test_a_size_in_the_address_of_the_line_is_cut_too() -> None:
    assert fitting_texts("99999", "99999") == (WIDEST, HIGHEST)
    for nonsense in ("", "-1", "1e9", "٣", "9" * 5_000, "NaN"):
        assert fitting_texts(nonsense, nonsense) == (80, 24)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[",
        "[" * 4_000,
        "9" * 4_000 + "9",
        "null",
        "[]",
        "{}",
        '["stdin"]',
        '["stdin",5]',
        '["stdin","a","b"]',
        '["resize",{"width":"100","height":30}]',
        '["resize",{"width":1.5,"height":30}]',
        '["resize",{"width":100}]',
        '["ping","1"]',
        '["deliver","key"]',
        '[["stdin","a"]]',
    ],
)
def test_anything_else_is_nothing(text: str) -> None:
    assert read_message(text) is None


def test_half_of_a_character_is_left_out() -> None:
    assert read_message('["stdin","a\\ud800b"]') == Typed(b"ab")


@given(st.text(max_size=60))
def test_no_text_is_an_error(text: str) -> None:
    read_message(text)


@pytest.mark.parametrize(
    "host", ["127.0.0.1:15280", "localhost:15280", "192.168.1.7", "[::1]:9", "boathouse.lan:80", "Boathouse.LAN"]
)
def test_addresses_and_the_name_that_the_host_gave_are_ours(host: str) -> None:
    assert is_ours([host], {"boathouse.lan"})


@pytest.mark.parametrize(
    "hosts", [[], [""], ["club.example:15280"], ["127.0.0.1.club.example"], ["[::1"], ["[::1]", "[::1]"]]
)
def test_any_other_name_is_not(hosts: list[str]) -> None:
    assert not is_ours(hosts, {"boathouse.lan"})


def test_only_the_page_that_came_from_here_may_open_a_line() -> None:
    assert is_from_our_page(["127.0.0.1:15280"], ["http://127.0.0.1:15280"])
    for origins in (
        [],
        ["null"],
        ["http://127.0.0.1"],
        ["http://127.0.0.1:9"],
        ["https://127.0.0.1:15280"],
        ["http://localhost:15280"],
        ["http://club.example"],
        ["http://127.0.0.1:15280", "http://127.0.0.1:15280"],
        ["http://127.0.0.1:15280", "http://club.example"],
    ):
        assert not is_from_our_page(["127.0.0.1:15280"], origins)
