"""The round in which a wall is made: hashes first, values only after all of them, and nothing is taken back."""

import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from shared.rules.refusals import Refusal
from shared.rules.wall import CONTRIBUTION_BYTES, commitment
from shared.rules.wall_round import MOST_ATTEMPTS, Attempt, Round, fits, follows, round_faults, value_hash

TABLE, HEAT = "boathouse", 7
SECRETS = tuple(bytes([number]) * 32 for number in range(1, 5))
VALUES = tuple(bytes([65 + chair]) * CONTRIBUTION_BYTES for chair in range(4))


def begun(chairs: tuple[int, ...] = (0, 1, 3)) -> Round:
    return Round.begun(TABLE, HEAT, commitment(SECRETS[0]), chairs)


def hash_of(making: Round, chair: int, value: bytes | None = None) -> bytes:
    return value_hash(TABLE, HEAT, making.now, chair, VALUES[chair] if value is None else value)


def done(answer: Round | Refusal) -> Round:
    assert isinstance(answer, Round), answer
    return answer


def promised(making: Round, *chairs: int) -> Round:
    for chair in chairs or making.now.chairs:
        making = done(making.hashed(chair, HEAT, making.now.number, hash_of(making, chair)))
    return making


def opened(making: Round, *chairs: int) -> Round:
    for chair in chairs or making.now.chairs:
        making = done(making.opened(chair, HEAT, making.now.number, VALUES[chair]))
    return making


def finished() -> Round:
    return opened(promised(begun()))


def faults(making: Round, attempts: tuple[Attempt, ...] | None = None) -> tuple[str, ...]:
    attempts = making.attempts if attempts is None else attempts
    return round_faults(TABLE, HEAT, attempts, making.now.commitment, making.now.values)


def test_a_round_is_complete_when_every_chair_has_opened_its_value() -> None:
    making = begun()
    assert making.now.awaited == (0, 1, 3)
    making = promised(making, 0, 3)
    assert (making.now.awaited, making.now.has_all_hashes) == ((1,), False)
    making = promised(making, 1)
    assert (making.now.awaited, making.now.has_all_hashes) == ((0, 1, 3), True)
    making = opened(making, 3, 1)
    assert (making.now.awaited, making.now.is_complete) == ((0,), False)
    making = opened(making, 0)
    assert (making.now.awaited, making.now.is_complete) == ((), True)
    assert faults(making) == ()
    assert making.now.values == (VALUES[0], VALUES[1], b"", VALUES[3])


def test_a_round_without_anybody_is_complete_at_once() -> None:
    assert begun(()).now.is_complete
    assert faults(begun(())) == ()


def test_no_value_is_taken_before_all_hashes_are_there() -> None:
    making = promised(begun(), 0, 1)
    answer = making.opened(0, HEAT, 1, VALUES[0])
    assert isinstance(answer, Refusal)
    assert answer.code == "not now"


def test_a_second_hash_and_a_second_value_are_refused() -> None:
    making = promised(begun(), 0)
    for hashed in (hash_of(making, 0), hash_of(making, 0, VALUES[1])):
        answer = making.hashed(0, HEAT, 1, hashed)
        assert isinstance(answer, Refusal)
        assert answer.code == "final"
    making = opened(promised(begun()), 0)
    again = making.opened(0, HEAT, 1, VALUES[0])
    assert isinstance(again, Refusal)
    assert again.code == "final"


def test_who_takes_no_part_adds_nothing_and_another_heat_or_attempt_is_refused() -> None:
    making = begun()
    for chair, heat, attempt in ((2, HEAT, 1), (0, HEAT + 1, 1), (0, HEAT, 2)):
        assert isinstance(making.hashed(chair, heat, attempt, b"h" * 32), Refusal)
        assert isinstance(promised(making).opened(chair, heat, attempt, VALUES[chair]), Refusal)


def test_a_value_that_does_not_fit_its_hash_is_silence_and_burns_the_attempt() -> None:
    making = done(promised(begun()).opened(1, HEAT, 1, VALUES[0]))
    assert (making.now.why, making.now.silent, making.now.values) == ("silent", (1,), (b"",) * 4)
    again = making.again(SECRETS[0], commitment(SECRETS[1]), making.now.chairs)
    assert again.attempts[0].secret == SECRETS[0]
    assert (again.now.number, again.now.chairs, again.now.hashes) == (2, (0, 3), (b"",) * 4)
    assert isinstance(making.opened(0, HEAT, 1, VALUES[0]), Refusal), "a burned attempt takes nothing more"
    assert faults(opened(promised(again))) == ()


def test_the_hash_is_that_of_the_written_protocol() -> None:
    """Worked out here from DEVELOPERS.md, byte for byte."""
    attempt = begun().now
    parts = (
        b"racktempo contribution\x00",
        hashlib.sha256(b"racktempo wall\x00" + SECRETS[0]).digest(),
        b"\x00\x01\x03",
        b"boathouse",
        b"\x00\x00\x00\x00\x00\x00\x00\x07",
        b"\x00\x00\x00\x00\x00\x00\x00\x01",
        b"\x03",
        b"D" * 16,
    )
    packed = b"".join(len(part).to_bytes(4, "big") + part for part in parts)
    assert value_hash(TABLE, HEAT, attempt, 3, VALUES[3]) == hashlib.sha256(packed).digest()


@given(st.data())
def test_a_hash_fits_nothing_else(data: st.DataObject) -> None:
    making = promised(begun())
    assert fits(TABLE, HEAT, making.now, 1, VALUES[1])
    value = data.draw(st.binary(max_size=20).filter(lambda value: value != VALUES[1]))
    assert not fits(TABLE, HEAT, making.now, 1, value)
    assert not fits(TABLE + "x", HEAT, making.now, 1, VALUES[1])
    assert not fits(TABLE, HEAT + 1, making.now, 1, VALUES[1])
    for changes in ({"number": 2}, {"chairs": (0, 1)}, {"commitment": commitment(SECRETS[1])}):
        assert not fits(TABLE, HEAT, making.now.model_copy(update=changes), 1, VALUES[1])
    swapped = making.now.model_copy(update={"hashes": (making.now.hashes[1], *making.now.hashes[1:])})
    assert not fits(TABLE, HEAT, swapped, 0, VALUES[1]), "a hash that is copied from another chair"


CHANGED = {
    "a value": (
        {"values": (VALUES[1], VALUES[1], b"", VALUES[3])},
        "The value of chair 1 does not fit its hash in attempt 1.",
    ),
    "a value left out": (
        {"values": (VALUES[0], b"", b"", VALUES[3])},
        "The last attempt of the round is not complete.",
    ),
    "a hash": (
        {"hashes": (finished().now.hashes[0], b"x" * 32, *finished().now.hashes[2:])},
        "The value of chair 2 does not fit its hash in attempt 1.",
    ),
    "a value of nobody": (
        {"values": (VALUES[0], VALUES[1], VALUES[2], VALUES[3])},
        "Chair 3 took no part in attempt 1, but has a part in it.",
    ),
    "another promise": (
        {"commitment": commitment(SECRETS[3])},
        "The value of chair 4 does not fit its hash in attempt 1.",
    ),
    "another number": ({"number": 2}, "Attempt 1 of the round is numbered 2."),
    "burned": ({"why": "silent"}, "The last attempt of the round is not complete."),
}


@pytest.mark.parametrize("what", CHANGED)
def test_a_round_that_was_changed_has_a_fault(what: str) -> None:
    changes, told = CHANGED[what]
    making = finished()
    changed = making.now.model_copy(update=changes)
    assert told in faults(making, (changed,))


@pytest.mark.parametrize("number", [0, MOST_ATTEMPTS + 1])
def test_an_attempt_is_one_of_the_few_that_a_round_may_have(number: int) -> None:
    with pytest.raises(ValidationError):
        Attempt(number=number, commitment=commitment(SECRETS[0]), chairs=())


def test_no_round_at_all_and_other_values_than_the_walls_are_faults() -> None:
    making = finished()
    assert faults(making, ())
    assert round_faults(TABLE, HEAT, making.attempts, making.now.commitment, VALUES)
    assert round_faults(TABLE, HEAT, making.attempts, commitment(SECRETS[2]), making.now.values)


def again(silent: tuple[int, ...]) -> Round:
    burned = promised(begun()).burned("silent", silent)
    return burned.again(SECRETS[0], commitment(SECRETS[1]), burned.now.chairs)


def test_a_burned_attempt_tells_its_secret_its_reason_and_who_goes_on() -> None:
    making = opened(promised(again((1,))))
    assert faults(making) == ()
    first, last = making.attempts
    for changes, told in (
        ({"secret": SECRETS[1]}, "The secret of attempt 1 does not fit its commitment."),
        ({"why": ""}, "Nothing says why attempt 1 failed."),
        ({"silent": (0,)}, "Attempt 2 was not made by those who were left of attempt 1."),
    ):
        assert told in faults(making, (first.model_copy(update=changes), last))


def third(secret: bytes) -> Round:
    """Return a round that two chairs have burned, done by the last one with this secret."""
    burned = promised(again((1,))).burned("silent", (3,))
    return opened(promised(burned.again(SECRETS[1], commitment(secret), burned.now.chairs)))


def test_the_faults_of_a_later_attempt_name_it() -> None:
    making = third(SECRETS[2])
    assert faults(making) == ()
    first, second, last = making.attempts
    for changes, told in (
        ({"secret": SECRETS[2]}, "The secret of attempt 2 does not fit its commitment."),
        ({"why": ""}, "Nothing says why attempt 2 failed."),
        ({"silent": (0,)}, "Attempt 3 was not made by those who were left of attempt 2."),
    ):
        assert told in faults(making, (first, second.model_copy(update=changes), last))


def test_the_host_cannot_keep_a_secret_for_another_attempt() -> None:
    burned = promised(begun()).burned("silent", (1,))
    kept = opened(promised(burned.again(SECRETS[0], commitment(SECRETS[0]), burned.now.chairs)))
    assert faults(kept) == ("Attempt 2 has no secret of its own.",)
    assert faults(third(SECRETS[1])) == ("Attempt 3 has no secret of its own.",)


def test_after_a_failure_of_the_host_those_who_are_left_go_on() -> None:
    failed = begun().burned("host").now
    assert follows(failed, failed.model_copy(update={"number": 2, "chairs": (0, 3)}))
    assert not follows(failed, failed.model_copy(update={"number": 2, "chairs": (0, 2)}))
