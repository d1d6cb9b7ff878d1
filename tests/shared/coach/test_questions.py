"""What is said of votes, offers and first discards is true of the numbers: seeded racks, read back and worked out."""

import random
import re
from collections import Counter
from collections.abc import Iterator
from itertools import product

import pytest

from shared.cards.tell import tell
from shared.coach.discards import CLOSE, discards
from shared.coach.distance import counts_of
from shared.coach.passes import Position, position_at
from shared.coach.questions import discard_said, offer_said, swing, vote_said
from shared.coach.targets import HandReading
from shared.coach.votes import votes
from shared.rules.tiles import JOKER, Rack, full_set
from tests.client.test_no_notation import check
from tests.shared.coach.decisions import EFFORT, SEED, engine_of
from tests.shared.coach.test_sentences import CALLED, lacks, number_in, tiles_in

ENGINE, CARD = engine_of("practice")
FIT = (
    r"(?:(?P<idle>which fits? no hand within reach)|(?P<lesser>which serves? less likely hands only)"
    r"|(?P<all>which the likeliest hand needs)|of which the likeliest hand needs (?P<some>.+?))"
)
VOTE = re.compile(
    rf"Your likeliest hand is (?P<hand>.+) \((?P<away>\d+) to go\); going on, you would give (?P<tiles>.+?), {FIT}\."
)
CHANGE = re.compile(
    r"The passes to come bring you (?P<more>about as much as|more than|less than) they cost you by bringing the others "
    r"nearer too(?: \((?P<brings>-?[\d.]+) and (?P<costs>-?[\d.]+) points\))?\."
)
OFFER = re.compile(rf"Best to offer (?P<count>\w+): (?P<tiles>.+?), {FIT}\.")
LESS = re.compile(
    r"Offering (?P<count>\w+) would give up (?P<tiles>.+?)"
    r"(?:, (?:which|of which (?P<missed>.+)) (?:is|are) needed for (?P<hand>.+))?\."
)
DISCARD = re.compile(
    r"Your first discard, (?P<tile>.+?), (?:(?P<idle>fits no hand within reach)"
    r"|serves (?P<role>the likeliest hand|a less likely hand), (?P<hand>.+),) and costs (?P<cost>nothing|[\d.]+ points)"
    r"(?P<close>, too close to call)?"
    r"; somebody can call it in (?P<called>\d+) of 100 games\."
)


def dealt(count: int, passed: int, seed: int) -> Iterator[tuple[Rack, Rack]]:
    dice = random.Random(seed)
    for _ in range(count):
        tiles = dice.sample(full_set(), 13 + passed)
        yield tuple(tiles[:13]), tuple(tile for tile in tiles[13:] if tile != JOKER)


def in_reach(readings: tuple[HandReading, ...]) -> list[HandReading]:
    most = max(reading.win for reading in readings)
    near = [reading for reading in readings if reading.win >= 0.3 * most]
    return sorted(near, key=lambda reading: (-reading.win, reading.away, reading.hand))


def name_of(reading: HandReading) -> str:
    return tell(CARD)[reading.hand].name


def check_fit(said: re.Match[str], position: Position, tiles: Rack, near: list[HandReading]) -> None:
    """A hand needs a kind if it lacks more without all copies of it that go."""
    bare = position.counts() - counts_of(tiles)

    def needs(reading: HandReading) -> Counter[str]:
        lacked = lacks(ENGINE, reading.variant, bare)
        kinds = {tile: (tile,) * count for tile, count in Counter(tiles).items()}
        found = [of for of in kinds.values() if lacks(ENGINE, reading.variant, bare + counts_of(of)) < lacked]
        return Counter(tile for of in found for tile in of)

    first, others = needs(near[0]), [needs(reading) for reading in near[1:]]
    if said["idle"]:
        assert not first
        assert not any(others)
    elif said["lesser"]:
        assert not first
        assert any(others)
    else:
        assert first == Counter(tiles_in(said["some"]) if said["some"] else tiles)


def test_votes_name_the_likeliest_hand_what_would_go_and_what_the_passes_change() -> None:
    told = Counter[str]()
    every = set()
    for rack, passed in dealt(60, 9, 21):
        now = Position(rack, passed, 0, (), made=None)
        found = votes(ENGINE, now, SEED, EFFORT)
        said, moved = vote_said(ENGINE, CARD, now, found), swing(ENGINE, now, found)
        assert moved.brings - moved.costs == pytest.approx(found.gap.points, abs=1e-9)
        first, second = VOTE.fullmatch(said.plain[0]), CHANGE.fullmatch(said.plain[1])
        assert first, said.plain[0]
        assert second, said.plain[1]
        near = in_reach(ENGINE.hands(now))
        assert first["hand"] == name_of(near[0])
        assert int(first["away"]) == lacks(ENGINE, near[0].variant, now.counts())
        assert sorted(tiles_in(first["tiles"])) == sorted(found.go_on.tiles)
        check_fit(first, now, found.go_on.tiles, near)
        close = abs(found.gap.points) < 2 * found.gap.se
        assert second["more"] == ("about as much as" if close else "more than" if found.gap.points > 0 else "less than")
        figures = CHANGE.fullmatch(said.numbers[1])
        assert figures
        assert (float(figures["brings"]), float(figures["costs"])) == pytest.approx(
            (moved.brings, moved.costs), abs=0.051
        )
        check(" ".join((*said.plain, *said.numbers)), "go on")
        told[second["more"]] += 1
        every.add(said.plain[0])
    assert min(told["about as much as"], told["more than"]) > 3
    assert len(every) == 60


def test_offers_name_what_goes_and_what_a_larger_one_would_give_up() -> None:
    told = Counter[str]()
    for rack, passed in dealt(12, 12, 22):
        position = position_at("courtesy offer", rack, passed)
        ranking = ENGINE.rank(position, SEED, EFFORT)
        best_of = [next(each for each in ranking.passes if len(each.tiles) == count) for count in range(4)]
        for best, own in product(best_of[1:], best_of):
            count = len(own.tiles)
            said = offer_said(ENGINE, CARD, position, own, best)
            first = OFFER.fullmatch(said.plain[0])
            assert first, said.plain[0]
            near = in_reach(ENGINE.hands_after(position, best.tiles))
            assert number_in(first["count"]) == len(best.tiles)
            assert sorted(tiles_in(first["tiles"])) == sorted(best.tiles)
            check_fit(first, position, best.tiles, near)
            check(" ".join((*said.plain, *said.numbers)), "courtesy offer")
            told["best"] += count == len(best.tiles)
            if count > len(best.tiles):
                less = LESS.fullmatch(said.plain[1])
                assert less, said.plain[1]
                gone = Counter(own.tiles) - Counter(best.tiles)
                assert Counter(tiles_in(less["tiles"])) == gone
                if less["hand"]:
                    hand = next(reading for reading in near if name_of(reading) == less["hand"])
                    bare = position.counts() - counts_of(own.tiles)
                    missed = tiles_in(less["missed"] or less["tiles"])
                    assert not Counter(missed) - gone
                    with_them = lacks(ENGINE, hand.variant, bare + counts_of(missed))
                    assert with_them < lacks(ENGINE, hand.variant, bare)
                told["more"] += 1
            elif count < len(best.tiles):
                kept = (Counter(best.tiles) - Counter(own.tiles)).elements()
                assert sorted(tiles_in(said.plain[1].split(" keeps ")[1][:-1])) == sorted(kept)
                told["less"] += 1
    assert min(told.values()) > 3
    assert len(told) == 3


def test_first_discards_say_which_hand_needs_them_and_what_they_cost() -> None:
    told = Counter[str]()
    for rack, passed in dealt(25, 12, 23):
        final = Position(rack, passed, 0, (), courtesy=True, made=6)
        found = discards(ENGINE, final, SEED)
        near = in_reach(ENGINE.hands(final))
        for discard in found:
            text = discard_said(ENGINE, CARD, final, "Your first discard", discard)
            said = DISCARD.fullmatch(text)
            assert said, text
            assert CALLED[said["tile"]] == discard.tile
            assert int(said["called"]) == pytest.approx(100 * discard.called, abs=0.51)
            cost = 0.0 if said["cost"] == "nothing" else float(said["cost"].split()[0])
            assert cost == pytest.approx(discard.loss, abs=0.051)
            assert bool(said["close"]) == (said["cost"] != "nothing" and discard.loss < CLOSE)
            bare = final.counts() - counts_of((discard.tile,))
            wants = [
                one for one in near if lacks(ENGINE, one.variant, bare) > lacks(ENGINE, one.variant, final.counts())
            ]
            assert bool(said["idle"]) == (not wants)
            if wants:
                assert said["hand"] == name_of(wants[0])
                assert (said["role"] == "the likeliest hand") == (wants[0] is near[0])
            check(text, "first discard")
            told[said["role"] or "idle"] += 1
    assert min(told[name] for name in ("idle", "the likeliest hand", "a less likely hand")) > 10
