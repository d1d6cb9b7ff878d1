"""Bytes from strangers: whatever arrives is one of the expected values or one sentence, and costs little."""

import contextlib
import time

import msgpack
import pytest
from hypothesis import given
from hypothesis import settings as effort
from hypothesis import strategies as st

from shared.codec import BadFrame, Codec, FileCodec, NewerFile, replace_last_text
from shared.rules.intents import ChangeSettings, Intent, Lift, Pass, Ready, Vote
from shared.rules.settings import Settings
from shared.wire.messages import FRAME_LIMIT, TO_SERVER, Command, Hello

NUMBERS: Codec[tuple[int, ...]] = Codec(tuple[int, ...], 100)
PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**63), 2**64 - 1) | st.floats() | st.text() | st.binary(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=12,
)
INTENTS: list[Intent] = [
    Pass(step="first left", tiles=("1b", "F"), blind=1),
    Lift(step="first right", tiles=()),
    Vote(go_on=False),
    Ready(),
    ChangeSettings(settings=Settings(lengths_ms={"go on": 5_000}, seed=2**62)),
]
FRAMES = [
    *(TO_SERVER.pack(Command(id=2**53, heat=3, intent=intent)) for intent in INTENTS),
    TO_SERVER.pack(Hello(protocol=1, name="Ann", code="tern-12", token=b"0123456789abcdef")),
]


def fault(data: bytes) -> str:
    """Return the sentence about bytes that are no message of a client."""
    with pytest.raises(BadFrame) as caught:
        TO_SERVER.unpack(data)
    text = str(caught.value)
    assert text.endswith(".")
    assert len(text) < 300
    assert text.isprintable()
    return text


def read(data: bytes) -> object:
    """Return the message or the fault; anything else that is raised fails the test."""
    with contextlib.suppress(BadFrame):
        return TO_SERVER.unpack(data)
    return None


@given(st.binary(max_size=300))
@effort(max_examples=400)
def test_random_bytes_are_refused_in_one_sentence(data: bytes) -> None:
    assert read(data) is None


@given(st.sampled_from(FRAMES), st.data())
@effort(max_examples=400)
def test_a_changed_frame_is_another_message_or_refused(frame: bytes, data: st.DataObject) -> None:
    changed = bytearray(frame)
    for _ in range(data.draw(st.integers(1, 4))):
        place = data.draw(st.integers(0, len(changed) - 1)) if changed else 0
        match data.draw(st.integers(0, 2)):
            case 0 if changed:
                changed[place] = data.draw(st.integers(0, 255))
            case 1:
                changed[place:place] = data.draw(st.binary(min_size=1, max_size=4))
            case _:
                del changed[place : place + data.draw(st.integers(1, 8))]
    message = read(bytes(changed))
    if message is not None:
        assert TO_SERVER.unpack(TO_SERVER.pack(message)) == message  # type: ignore[arg-type]


@given(PLAIN)
@effort(max_examples=400)
def test_any_other_value_in_messagepack_is_refused(value: object) -> None:
    assert read(msgpack.packb(value)) is None


@given(st.sampled_from(["kind", "id", "heat", "intent"]), PLAIN)
@effort(max_examples=300)
def test_a_field_of_another_type_is_refused_and_never_bent_into_shape(field: str, value: object) -> None:
    plain = {"kind": "command", "id": 1, "heat": 1, "intent": {"kind": "vote", "go_on": True}}
    message = read(msgpack.packb({**plain, field: value}))
    if message is not None:
        assert isinstance(message, Command)
        assert getattr(message, field) == value
        assert type(value) is type(plain[field])


@pytest.mark.parametrize("value", [1, 0, "true", None, 1.0])
def test_only_true_and_false_are_votes(value: object) -> None:
    fault(msgpack.packb({"kind": "command", "id": 1, "heat": 1, "intent": {"kind": "vote", "go_on": value}}))


def test_an_unknown_field_is_refused() -> None:
    text = fault(msgpack.packb({"kind": "hello", "protocol": 1, "name": "", "code": "", "admin": True}))
    assert "admin" in text


def test_what_follows_a_message_makes_it_none() -> None:
    fault(FRAMES[0] + b"\0")
    fault(FRAMES[0] + FRAMES[1])


BOMBS = {
    "nested lists": b"\x91" * (FRAME_LIMIT - 1) + b"\0",
    "nested maps": b"\x81\xa1a" * (FRAME_LIMIT // 3 - 1) + b"\0",
    "nested beyond reason": b"\x91" * 2_000_000,
    "a list of 2^32 - 1": b"\xdd\xff\xff\xff\xff",
    "a map of 2^32 - 1": b"\xdf\xff\xff\xff\xff",
    "a text of 2^32 - 1": b"\xdb\xff\xff\xff\xff",
    "bytes of 2^32 - 1": b"\xc6\xff\xff\xff\xff",
    "an extension of 2^32 - 1": b"\xc9\xff\xff\xff\xff\x01",
    "a time stamp extension": b"\xd6\xff\0\0\0\0",
    "a map of 1001": b"\xde\x03\xe9" + b"".join(b"\xcd" + bytes(divmod(n, 256)) + b"\xc0" for n in range(1_001)),
    "the code that is never used": b"\xc1",
    "text that is no UTF-8": b"\x81\xa4kind\xa2\xff\xfe",
    "a map with a list for a key": b"\x81\x91\0\0",
    "a map with a number for a key": b"\x81\0\0",
    "nothing": b"",
    "a list for a kind": b"\x81\xa4kind\x91\0",
    "a map for a kind": b"\x81\xa4kind\x80",
    "too many bytes": b"\xc4" * (FRAME_LIMIT + 1),
}


@pytest.mark.parametrize("name", BOMBS)
def test_a_bomb_is_refused_at_once(name: str) -> None:
    began = time.process_time()
    fault(BOMBS[name])
    assert time.process_time() - began < 0.5


def test_the_sentence_names_the_limit() -> None:
    assert str(FRAME_LIMIT) in fault(b"\0" * (FRAME_LIMIT + 1))
    assert str(FRAME_LIMIT + 1) in fault(b"\0" * (FRAME_LIMIT + 1))


def test_a_strangers_text_in_the_sentence_cannot_act() -> None:
    for field in ("\x1b[2J\x1b]0;title\x07", "\u202e", "\x9b1m", "a" * 5_000):
        fault(msgpack.packb({"kind": "hello", "protocol": 1, "name": "", "code": "", field: 1}))
        fault(msgpack.packb({"kind": field}))


@given(st.lists(st.integers(-(2**63), 2**63 - 1), max_size=9).map(tuple))
def test_what_is_packed_is_unpacked_as_it_was(numbers: tuple[int, ...]) -> None:
    assert NUMBERS.unpack(NUMBERS.pack(numbers)) == numbers


def test_the_limit_is_exact() -> None:
    assert NUMBERS.unpack(NUMBERS.pack((0,) * 97)) == (0,) * 97
    data = NUMBERS.pack((0,) * 98)
    assert len(data) == 101
    with pytest.raises(BadFrame):
        NUMBERS.unpack(data)


def test_a_map_has_a_thousand_keys_at_most() -> None:
    maps: Codec[dict[str, int]] = Codec(dict[str, int], 100_000)
    thousand = {str(number): number for number in range(1_000)}
    assert maps.unpack(maps.pack(thousand)) == thousand
    with pytest.raises(BadFrame, match="within the limits"):
        maps.unpack(maps.pack({**thousand, "one more": 0}))


# ---- files


NOTES: FileCodec[dict[str, object]] = FileCodec(dict[str, object], 1_000, "racktempo notes", 2)


@pytest.mark.parametrize("version", [3, 4, 1_000])
def test_a_file_of_a_newer_version_is_said_to_be_one(version: int) -> None:
    with pytest.raises(NewerFile) as caught:
        NOTES.unpack(msgpack.packb({"format": "racktempo notes", "version": version}))
    assert str(caught.value) == (
        f'This is a "racktempo notes" of version {version}; this racktempo reads versions up to 2. '
        "Use the newer racktempo."
    )


@pytest.mark.parametrize(
    "plain",
    [
        {"format": "racktempo notes", "version": 2},
        {"format": "racktempo notes", "version": 0},
        {"format": "racktempo notes", "version": "3"},
        {"format": "racktempo notes"},
        {"format": "racktempo heat", "version": 3},
        {"format": "a", "version": 3},
        {"format": "z", "version": 3},
        {"version": 3},
    ],
)
def test_any_other_file_is_judged_by_its_own_rules(plain: dict[str, object]) -> None:
    assert NOTES.unpack(msgpack.packb(plain)) == plain


def test_the_last_text_is_replaced_and_all_else_stays_as_it_was_written() -> None:
    data = msgpack.packb({"digest": "old", "a": "old", "z": "old"})
    assert replace_last_text(data, "old", "newest") == msgpack.packb({"digest": "old", "a": "old", "z": "newest"})
    assert replace_last_text(data, "ol", "newest") == data
