"""Card files that were made or damaged to do harm: each is refused soon, and every fault has its place."""

import time
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.cards import Card, Fault, expand, read_card
from tests.shared.cards.test_read import GOOD


def many_hands(lines: list[str]) -> bytes:
    hand = '[[section.hand]]\nid = "h{}"\ngroups = "{}"\nconcealed = false\nvalue = 5\n'
    head = GOOD[: GOOD.index("[[section.hand]]")]
    return (head + "".join(hand.format(index, line) for index, line in enumerate(lines))).encode()


def test_a_card_that_is_too_large_is_told_where_it_becomes_so() -> None:
    free = [f"n.p^1 {1 + i % 9}.q^1 {1 + i // 9}.r^1 X^1 Z^1 F^7 N^2" for i in range(40)]
    read = read_card(many_hands(free))
    assert not isinstance(read, Card)
    assert read[-1].text == "With this hand the card has more than 6000 variants. Leave some hands out."
    read = read_card(many_hands(["F^14"] * 201))
    assert not isinstance(read, Card)
    assert any(fault.text.startswith("There are 201 [[section.hand]] tables, more than 200") for fault in read)


HOSTILE = {
    "dotted names": b"a." * 400_000 + b"a = 1",
    "dots in a table's head": b"[" + b"a." * 8 + b"a]\n" + b"".join(b"k%d = 1\n" % i for i in range(50_000)),
    "quotes never closed": b'"\\' * 500_000,
    "long quotes": b'"""' * 300_000,
    "a quote a line": b"'\n" * 500_000,
    "empty sections": b"[[section]]\n" * 80_000,
    "unknown fields": b"".join(b"x%d = 1\n" % i for i in range(50_000)),
    "impossible hands": many_hands(["n.p^1 1.q^1 1.r^1 X^1 Z^1 O^2 O^2 O^2 F^3"] * 100),
    "lists": b"x = [" + b"[], " * 200_000 + b"]",
}


@pytest.mark.parametrize("data", HOSTILE.values(), ids=HOSTILE.keys())
def test_a_file_made_to_keep_the_reader_busy_is_refused_in_seconds(data: bytes) -> None:
    began = time.process_time()
    read = read_card(data)
    assert not isinstance(read, Card)
    assert len(read) < 4000
    assert time.process_time() - began < 10  # one or two on a slow machine; hours without the bounds


values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.text(max_size=12)
    | st.sampled_from(["F^2 n.p^3 n+1.p^4 n+2.p^5", "5.p^2 5.p^3 F^9", "low-1", 2026]),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(
                ["card", "section", "hand", "id", "groups", "concealed", "value", "n", "name", "about", "title"]
            )
            | st.text(max_size=4),
            inner,
            max_size=6,
        )
    ),
    max_leaves=25,
)


def as_toml(value: object) -> str:
    """Write any value as TOML; None becomes a date, which no field wants."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{as_toml(str(key))} = {as_toml(item)}" for key, item in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(as_toml, value)) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        escaped = "".join(c if c.isalnum() and c.isascii() else f"\\U{ord(c):08x}" for c in value)
        return f'"{escaped}"'
    return "2026-01-01" if value is None else str(value)


def check(read: Card | tuple[Fault, ...]) -> None:
    if isinstance(read, Card):
        assert expand(read)
        return
    assert read
    for fault in read:
        assert fault.hand is None or fault.section is not None
        assert fault.column is None or fault.hand is not None
        assert str(fault).isprintable()


@settings(deadline=None)
@given(st.binary(max_size=400))
def test_any_bytes_are_read_without_harm(data: bytes) -> None:
    check(read_card(data))


@settings(max_examples=200, deadline=None)
@given(st.dictionaries(st.sampled_from(["card", "section", "x"]), values, max_size=3))
def test_any_table_is_read_and_every_fault_is_placed(table: dict[str, object]) -> None:
    text = "\n".join(f"{key} = {as_toml(value)}" for key, value in table.items())
    tomllib.loads(text)
    check(read_card(text.encode()))


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_a_good_file_with_slips_of_the_pen_is_read_and_every_fault_is_placed(data: st.DataObject) -> None:
    text = GOOD
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text) - 1))
        slip = data.draw(st.text(st.sampled_from('Fnpqrs.^+0159"[]=\n\\xé\x00'), max_size=3))
        text = text[:at] + slip + text[at + data.draw(st.integers(0, 3)) :]
    check(read_card(text.encode()))
