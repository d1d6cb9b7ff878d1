"""The wall: nobody can choose it, anybody can rebuild it, and every order is equally likely."""

import hashlib
from collections import Counter
from collections.abc import Callable, Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from shared.rules.tiles import by_suit, full_set
from shared.rules.wall import Stream, build_wall, commitment, deal, seeded_secret, wall_key
from tests.chi_square import CRITICAL, even, positions

SHUFFLES = 1_000
TILES = 152
DEGREES = (TILES - 1) ** 2
KEYS = st.binary(max_size=40)
FOUR = st.tuples(*[st.binary(max_size=16)] * 4)


class Scripted(Stream):
    """A stream that gives these bytes."""

    def __init__(self, given: bytes) -> None:
        super().__init__(b"", "")
        self._left = given

    def _take(self, count: int) -> bytes:
        taken, self._left = self._left[:count], self._left[count:]
        assert len(taken) == count, "the script is over"
        return taken


# ---- a wall is made of the whole set, from its key alone


@given(KEYS, st.sampled_from([0, 8]), st.integers(0, 3))
def test_a_wall_is_the_whole_set_in_some_order_and_the_deal_loses_no_tile(
    key: bytes, jokers: int, attempt: int
) -> None:
    wall = build_wall(key, jokers, attempt)
    racks, left = deal(wall)
    assert Counter(wall) == Counter(full_set(jokers))
    assert Counter(tile for part in (*racks, left) for tile in part) == Counter(wall)
    assert all(rack == by_suit(rack) for rack in racks)


def test_another_key_another_attempt_or_another_label_is_another_order() -> None:
    walls = [build_wall(b"key", 8), build_wall(b"kez", 8), build_wall(b"key", 8, 1), build_wall(b"", 8)]
    assert len(set(walls)) == 4
    assert build_wall(b"key", 8) == walls[0]
    assert Stream(b"ab", "c").shuffled(range(50)) != Stream(b"a", "bc").shuffled(range(50))


# ---- commitment and contributions


@given(st.binary(min_size=32, max_size=32), st.integers(0, 255))
def test_one_flipped_bit_of_the_secret_does_not_fit_the_commitment(secret: bytes, bit: int) -> None:
    flipped = bytearray(secret)
    flipped[bit // 8] ^= 1 << bit % 8
    assert commitment(bytes(flipped)) != commitment(secret)


@given(FOUR, st.integers(0, 3), st.binary(max_size=16))
def test_every_chairs_contribution_changes_the_key(four: tuple[bytes, ...], chair: int, other: bytes) -> None:
    changed = (*four[:chair], other, *four[chair + 1 :])
    assert (wall_key(b"secret", changed) == wall_key(b"secret", four)) is (other == four[chair])


@given(FOUR, FOUR)
def test_contributions_cannot_be_cut_elsewhere(one: tuple[bytes, ...], other: tuple[bytes, ...]) -> None:
    assert (wall_key(b"secret", one) == wall_key(b"secret", other)) is (one == other)
    assert wall_key(b"secret", (b"ab", b"c", b"", b"")) != wall_key(b"secret", (b"a", b"bc", b"", b""))


def test_a_seed_makes_a_repeatable_secret_of_its_own_for_every_heat() -> None:
    secrets = {seeded_secret(seed, heat) for seed in range(20) for heat in range(1, 13)}
    assert len(secrets) == 240
    assert seeded_secret(7, 2) in secrets


def test_anybody_can_rebuild_the_wall_from_the_recipe_with_sha_256_alone() -> None:
    """The recipe written a second time, with no line of the project's: SHA-256 of labelled parts, counter mode,
    whole bytes with rejection, Fisher-Yates from the end."""
    secret, four = bytes(range(32)), (b"sixteen bytes ok", b"", b"other 16 bytes !", b"")

    key = hashlib.sha256(b"racktempo key\0" + secret + b"".join(bytes([len(part)]) + part for part in four)).digest()
    prefix = hashlib.sha256(bytes([0, 0, 0, 32]) + key + b"wall 0").digest()

    def stream() -> Iterator[int]:
        block = 0
        while True:
            yield from hashlib.sha256(prefix + block.to_bytes(8, "big")).digest()
            block += 1

    numbers, order = stream(), list(full_set())
    for last in range(151, 0, -1):
        drawn = next(numbers)
        while drawn >= 256 // (last + 1) * (last + 1):
            drawn = next(numbers)
        other = drawn % (last + 1)
        order[last], order[other] = order[other], order[last]
    assert build_wall(wall_key(secret, four), 8) == tuple(order)
    assert commitment(secret) == hashlib.sha256(b"racktempo wall\0" + secret).hexdigest()


# ---- fairness


def test_a_draw_that_would_favour_some_numbers_is_thrown_away() -> None:
    assert Scripted(bytes([152, 255, 200, 151])).below(152) == 151
    assert Scripted(bytes([255, 254])).below(3) == 254 % 3
    assert Scripted(bytes([255, 255, 1, 4])).below(256 + 10) == 260 % 266
    assert Scripted(bytes([77])).below(1) == 0


@given(KEYS, st.integers(1, 70_000))
def test_a_draw_lies_below_its_bound(key: bytes, bound: int) -> None:
    stream = Stream(key, "bound")
    assert all(0 <= stream.below(bound) < bound for _ in range(5))


def test_draws_are_even_by_chi_square() -> None:
    for bound, level in ((4, 0.01), (11, 0.01), (36, 0.001)):
        stream = Stream(b"even", str(bound))
        counts = Counter(stream.below(bound) for _ in range(500 * bound))
        assert even([counts[number] for number in range(bound)]) < CRITICAL[bound - 1, level]


def test_every_order_of_four_is_equally_likely() -> None:
    stream = Stream(b"orders", "four")
    counts = Counter(stream.shuffled(range(4)) for _ in range(4_800))
    assert len(counts) == 24
    assert even(list(counts.values())) < float(stats.chi2.isf(0.001, 23))


def test_a_sample_is_any_set_of_its_size_equally_likely() -> None:
    stream = Stream(b"samples", "two of nine")
    counts = Counter(frozenset(stream.sample(range(9), 2)) for _ in range(7_200))
    assert len(counts) == 36
    assert even(list(counts.values())) < CRITICAL[35, 0.001]


@given(KEYS, st.lists(st.integers(), max_size=20), st.data())
def test_a_sample_takes_so_many_of_the_items_each_once(key: bytes, items: list[int], data: st.DataObject) -> None:
    count = data.draw(st.integers(0, len(items)))
    taken = Stream(key, "sample").sample(items, count)
    assert len(taken) == count
    assert not Counter(taken) - Counter(items)


def z(shuffle: Callable[[Stream], tuple[int, ...]]) -> float:
    """Return by how many standard deviations the position table of many whole walls lies off a fair shuffle's.

    With 22,801 degrees chi-square is as good as normal: mean k, variance 2k.
    """
    orders = (shuffle(Stream(b"position table", str(number))) for number in range(SHUFFLES))
    return (positions(orders, TILES) - DEGREES) / (2 * DEGREES) ** 0.5


def test_every_tile_comes_to_every_place_of_the_wall_equally_often() -> None:
    assert abs(z(lambda stream: stream.shuffled(range(TILES)))) < 3


def swap_with_any(stream: Stream) -> tuple[int, ...]:
    order = list(range(TILES))
    for place in range(TILES):
        other = stream.below(TILES)
        order[place], order[other] = order[other], order[place]
    return tuple(order)


def modulo_without_rejection(stream: Stream) -> tuple[int, ...]:
    order = list(range(TILES))
    for last in range(TILES - 1, 0, -1):
        other = stream.below(256) % (last + 1)
        order[last], order[other] = order[other], order[last]
    return tuple(order)


def sort_by_short_keys(stream: Stream) -> tuple[int, ...]:
    return tuple(sorted(range(TILES), key=lambda _: stream.below(32)))


def never_stays(stream: Stream) -> tuple[int, ...]:
    order = list(range(TILES))
    for last in range(TILES - 1, 0, -1):
        other = stream.below(last)
        order[last], order[other] = order[other], order[last]
    return tuple(order)


@pytest.mark.parametrize("biased", [swap_with_any, modulo_without_rejection, sort_by_short_keys, never_stays])
def test_the_same_table_catches_a_shuffle_that_is_not_fair(biased: Callable[[Stream], tuple[int, ...]]) -> None:
    assert z(biased) > 6
