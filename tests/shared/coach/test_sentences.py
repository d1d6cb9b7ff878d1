"""What is said about a pass is true of the numbers: 200 seeded decisions, read back and worked out anew."""

import re
from collections import Counter, defaultdict
from functools import lru_cache

import numpy as np
import pytest

from shared.cards.freedom import NUMBERS
from shared.cards.said import called
from shared.cards.tell import tell
from shared.coach.distance import JOKER_INDEX, Counts, counts_of
from shared.coach.engine import Engine
from shared.coach.ranking import Effort
from shared.coach.reasons import FUTURES, Difference, Given, Kept, difference
from shared.coach.sentences import Told, reasons_told
from shared.coach.targets import HandReading
from shared.rules.steps import PASSES
from shared.rules.tiles import INDEX, KINDS, Rack, Tile, rank, suit
from tests.client.test_no_notation import check
from tests.shared.coach.decisions import EFFORT, SEED, Decision, decisions

COUNT = 200
CALLED = {called(tile): tile for tile in KINDS}
GAVE = re.compile(
    r"You let go (?P<tiles>.+?)(?: with (?P<later>\w+) passes still to come)?"
    r"(?:, and (?P<gap>.+?) fills the gap in (?P<h1>.+?)"
    r"| out of the run (?P<run>.+?), and (?P<h2>.+?) needs (?:it|them)"
    r"|, which (?P<h3>[^:]+?) needs(?P<bare> and no joker can replace)?"
    r"|; all hands within reach play in (?P<suit>\w+), and (?P<h4>.+?) needs (?:it|them))"
    r": (?P<hand>.+) \((?P<near>\d+) to go with (?:it|them), (?P<far>\d+) without\)\."
)
LATER = re.compile(
    r"You let go (?P<tiles>.+?)(?: with (?P<later>\w+) passes still to come)?"
    r", which serves no hand within reach, only some that may still come\."
)
KEPT = re.compile(
    r"You kept (?P<tiles>.+?), which (?P<often>often comes? by and )?"
    r"(?:fits? no hand within reach|serves? at best (?P<hand>.+) \((?P<away>\d+) to go\))\."
)
BETTER = re.compile(
    r"(?:Better:|The coach would pass) (?P<tiles>.+?)"
    r"(?:; it leaves (?P<first>.+) \((?P<away>\d+) to go\) as the likeliest hand"
    r"|; it leaves one hand that is enough to commit to: (?P<commit>.+) \((?P<left>\d+) to go\)"
    r"|; it leaves (?P<more>\w+) hands within reach instead of (?P<less>\w+)"
    r"|; it brings (?P<came>\w+) tiles? instead of (?P<instead>\w+)"
    r"|; the gift decides, for it helps .+ less than (?P<own>.+))?\."
)
RISK = re.compile(
    r"The risk: (?:(?P<tiles>.+) go together, and )?your pass helps the player on your (?:left|right) more than the "
    r"better one\."
)
BEST = re.compile(
    r"It keeps (?P<hand>.+?) \((?P<away>\d+) to go"
    r"(?:, (?P<bare>\w+) in singles or pairs, which no joker fills)?\)"
    r"(?:(?P<only>, the only hand within reach: commit to it)"
    r"|(?P<commit>, enough to commit to: (?P<far>\w+) other hands? within reach (?:is|are) far less likely)"
    r"|; (?P<more>\w+) other hands? (?:is|are) within reach)"
    r"(?:, (?P<who>all|\w+ of the \w+) (?:in (?P<suit>bams|craks|dots)|with (?P<parity>even|odd) ranks"
    r"|in the section (?P<family>.+?)))?"
    r"(?:; its gap waits for (?P<gap>.+), of which (?P<out>\w+) (?:is|are) unseen)?\."
)
SUITS = {"bams": "b", "craks": "c", "dots": "d"}


@lru_cache(maxsize=1)
def all_decisions() -> tuple[Decision, ...]:
    return tuple(decisions(COUNT))


@lru_cache(maxsize=COUNT)
def told_of(decision: Decision) -> Told:
    return decision.told()


@lru_cache(maxsize=COUNT)
def reasons_of(decision: Decision) -> Difference:
    own, best = decision.ranking.passes[decision.place], decision.ranking.best
    return difference(decision.engine, decision.card, decision.position, own, best, SEED)


def tiles_in(text: str) -> Rack:
    """Read tiles back from words: "both 2 bam, one of two easts and red dragon"."""
    found: list[Tile] = []
    for part in re.split(r", | and ", text):
        number, count = 1, re.fullmatch(r"(both|[a-z]+ of [a-z]+|[a-z]+) (.+)", part)
        named = part
        if part not in CALLED and count:
            first = count[1].split()[0]
            number, named = 2 if first == "both" else NUMBERS.index(first), count[2]
        if named == "blind":
            continue
        tile = CALLED.get(named) or CALLED[named.removesuffix("s")]
        found += [tile] * number
    return tuple(found)


def number_in(text: str) -> int:
    return int(text) if text.isdigit() else NUMBERS.index(text)


def lacks(engine: Engine, variant: int, rack: Counts) -> int:
    """Return how many tiles a pattern lacks, worked out plainly."""
    pairs, groups = engine.patterns.pairs[variant], engine.patterns.groups[variant]
    in_pairs = in_groups = 0
    for kind in range(JOKER_INDEX):
        have, pair = int(rack[kind]), int(pairs[kind])
        in_pairs += max(pair - have, 0)
        in_groups += max(int(groups[kind]) - max(have - pair, 0), 0)
    return in_pairs + max(in_groups - int(rack[JOKER_INDEX]), 0)


def reach(decision: Decision, tiles: Rack) -> list[HandReading]:
    found = decision.engine.hands_after(decision.position, tiles)
    most = max(reading.win for reading in found)
    near = [reading for reading in found if reading.win >= 0.3 * most]
    return sorted(near, key=lambda reading: (-reading.win, reading.away, reading.hand))


def name_of(decision: Decision, reading: HandReading) -> str:
    return tell(decision.card)[reading.hand].name


def nearer(decision: Decision, variant: int, rack: Counts, tiles: Rack) -> bool:
    """Whether a pattern lacks fewer tiles with all tiles of some kind among these."""
    bare = lacks(decision.engine, variant, rack)
    return any(lacks(decision.engine, variant, rack + counts_of((t,) * n)) < bare for t, n in Counter(tiles).items())


def check_gave(decision: Decision, said: re.Match[str]) -> None:
    own, best = decision.ranking.passes[decision.place], decision.ranking.best
    tiles, after = tiles_in(said["tiles"]), decision.position.counts() - counts_of(own.tiles)
    assert not Counter(tiles) - (Counter(own.tiles) - Counter(best.tiles)), "only what the better pass keeps"
    near = reach(decision, best.tiles)
    hand = next(reading for reading in near if name_of(decision, reading) == said["hand"])
    role = said["h1"] or said["h2"] or said["h3"] or said["h4"]
    assert (role == "the likeliest hand") == (hand is near[0])
    assert role in ("the likeliest hand", "a hand within reach")
    assert lacks(decision.engine, hand.variant, after + counts_of(tiles)) == int(said["near"])
    assert lacks(decision.engine, hand.variant, after) == int(said["far"])
    assert int(said["far"]) > int(said["near"]), "the hand needs them"
    for better in near[: near.index(hand)]:
        assert not any(
            lacks(decision.engine, better.variant, after + counts_of((tile,) * count))
            < lacks(decision.engine, better.variant, after)
            for tile, count in Counter(tiles).items()
        ), "no likelier hand needs them"
    wants = decision.engine.patterns.pairs[hand.variant] + decision.engine.patterns.groups[hand.variant]
    if said["gap"]:
        gap = tiles[0] if said["gap"] == "it" else CALLED[said["gap"]]
        assert not after[INDEX[gap]]
        beside = [kind for kind in KINDS if suit(kind) == suit(gap) and wants[INDEX[kind]] and after[INDEX[kind]]]
        ranks = [rank(kind) or 0 for kind in beside]
        assert any(0 < (rank(gap) or 0) - number <= 2 for number in ranks)
        assert any(0 < number - (rank(gap) or 0) <= 2 for number in ranks)
    if said["run"]:
        ranks = [int(number) for number in said["run"].split()[0].split("-")]
        assert len(ranks) >= 3
        assert ranks == list(range(ranks[0], ranks[-1] + 1))
        assert all(decision.position.counts()[INDEX[CALLED[f"{n} {said['run'].split()[1]}"]]] for n in ranks)
    if said["bare"]:
        assert not any(decision.engine.patterns.groups[hand.variant][INDEX[tile]] for tile in tiles)
    if said["suit"]:
        letter = SUITS[said["suit"]]
        assert {suit(tile) for tile in tiles} == {letter}
        for reading in near:
            want = decision.engine.patterns.pairs[reading.variant] + decision.engine.patterns.groups[reading.variant]
            assert sum(int(want[INDEX[kind]]) for kind in KINDS if suit(kind) == letter) >= 5


def check_kept(decision: Decision, said: re.Match[str]) -> None:
    own, best = decision.ranking.passes[decision.place], decision.ranking.best
    tiles, after = tiles_in(said["tiles"]), decision.position.counts() - counts_of(own.tiles)
    spare = tuple((Counter(best.tiles) - Counter(own.tiles)).elements())
    assert not Counter(tiles) - Counter(spare), "only what the better pass gives"
    bare, near = after - counts_of(spare), reach(decision, own.tiles)
    serves = [reading for reading in near if nearer(decision, reading.variant, bare, tiles)]
    if said["hand"] is None:
        assert not serves
    else:
        assert name_of(decision, serves[0]) == said["hand"]
        assert lacks(decision.engine, serves[0].variant, after) == int(said["away"])
    if said["often"]:
        flow = decision.engine.others.flow[decision.position.number + 1 :].mean(axis=0)
        assert decision.position.later
        assert all(flow[INDEX[tile]] >= 1.25 for tile in tiles)


def check_better(decision: Decision, said: re.Match[str]) -> None:
    own, best = decision.ranking.passes[decision.place], decision.ranking.best
    assert sorted(tiles_in(said["tiles"])) == sorted(best.tiles)
    near, here = reach(decision, best.tiles), reach(decision, own.tiles)
    after = decision.position.counts() - counts_of(best.tiles)
    if named := said["first"] or said["commit"]:
        assert name_of(decision, near[0]) == named
        assert lacks(decision.engine, near[0].variant, after) == int(said["away"] or said["left"])
    if said["commit"]:
        assert near[0].win >= sum(reading.win for reading in near) / 2
        assert here[0].win < sum(reading.win for reading in here) / 2
    if said["more"]:
        assert (number_in(said["more"]), number_in(said["less"])) == (len(near), len(here))
        assert len(near) > len(here)
    if said["came"]:
        assert (number_in(said["came"]), number_in(said["instead"])) == (len(best.tiles), len(own.tiles))
        assert len(best.tiles) != len(own.tiles)
    if said["own"]:
        assert own.points > best.points
        assert own.given > best.given


def check_best(decision: Decision, said: re.Match[str]) -> None:
    tiles = decision.ranking.best.tiles
    near, after = reach(decision, tiles), decision.position.counts() - counts_of(tiles)
    assert name_of(decision, near[0]) == said["hand"]
    assert lacks(decision.engine, near[0].variant, after) == int(said["away"])
    told = 0 if said["only"] else number_in(said["far"] or said["more"])
    assert told == len(near) - 1
    share = near[0].win / sum(reading.win for reading in near)
    assert (share >= 0.5) == bool(said["only"] or said["commit"])
    patterns = decision.engine.patterns
    wants = [patterns.pairs[reading.variant] + patterns.groups[reading.variant] for reading in near]
    if said["bare"]:
        pairs = patterns.pairs[near[0].variant]
        missed = [max(int(want) - int(have), 0) for want, have in zip(pairs, after, strict=True)]
        assert number_in(said["bare"]) == sum(missed)
        assert number_in(said["bare"]) >= 2
    share = [0]
    if said["suit"]:
        of_suit = [kind for kind in KINDS if suit(kind) == SUITS[said["suit"]]]
        share = [sum(int(want[INDEX[kind]]) for kind in of_suit) >= 5 for want in wants]
    if said["parity"]:
        odd = [{(rank(KINDS[kind]) or 0) % 2 for kind in np.flatnonzero(want) if rank(KINDS[kind])} for want in wants]
        share = [each == {said["parity"] == "odd"} for each in odd]
    if said["family"]:
        share = [decision.card.hands[reading.hand].section == said["family"] for reading in near]
    if said["who"]:
        assert sum(share) >= len(near) * 2 / 3
        assert len(share) == len(near) > 1
        every = said["who"] == "all"
        assert every == all(share)
        assert every or [number_in(said["who"].split()[at]) for at in (0, -1)] == [sum(share), len(near)]
    if said["gap"]:
        kind = INDEX[CALLED[said["gap"]]]
        assert wants[0][kind]
        assert not after[kind]
        assert number_in(said["out"].replace("none", "no")) == decision.position.unseen()[kind]


def test_every_sentence_about_200_decisions_is_true_of_the_numbers(capsys: pytest.CaptureFixture[str]) -> None:
    seen: Counter[str] = Counter()
    checks = ((GAVE, check_gave), (KEPT, check_kept), (BETTER, check_better), (BEST, check_best))
    for decision in all_decisions():
        told, own, best = told_of(decision), decision.ranking.passes[decision.place], decision.ranking.best
        loss = decision.ranking.gap(decision.place)
        assert loss.points == best.net - own.net
        if told.verdict.startswith("Cost "):
            assert loss.points >= 2 * loss.se
            assert float(told.verdict.split()[1]) == pytest.approx(
                loss.points, abs=0.51 if loss.points > 9.9 else 0.051
            )
        else:
            assert told.verdict == ("Best." if not decision.place else "As good as the best.")
            assert not decision.place or loss.points < 2 * loss.se
        seen[told.verdict.split()[0].rstrip(".")] += 1
        for sentence in told.plain:
            found = [(match, look) for pattern, look in checks if (match := pattern.fullmatch(sentence))]
            if risk := RISK.fullmatch(sentence):
                alike = {tile for tile, count in Counter(own.tiles).items() if count > 1}
                assert set(tiles_in(risk["tiles"]) if risk["tiles"] else ()) == alike
                assert own.given - best.given >= 0.1
                assert decision.step in PASSES
                assert "across" not in decision.step
                seen["risk"] += 1
                continue
            if later := LATER.fullmatch(sentence):
                near = reach(decision, best.tiles)
                after = decision.position.counts() - counts_of(own.tiles)
                assert not any(nearer(decision, one.variant, after, tiles_in(later["tiles"])) for one in near)
                seen["later"] += 1
                continue
            assert len(found) == 1, sentence
            found[0][1](decision, found[0][0])
            seen[found[0][1].__name__] += 1
    with capsys.disabled():
        print(f"\n{dict(seen)}")
    assert min(seen[name] for name in ("Best", "As", "Cost", "check_gave", "check_kept", "check_better", "risk")) > 5


def test_the_reasons_add_up_to_what_the_passes_differ_in_the_same_futures() -> None:
    """Where both passes give equally many tiles and differ in one kind each, to the last bits."""
    counted = 0
    for decision in all_decisions():
        own, best = decision.ranking.passes[decision.place], decision.ranking.best
        if not decision.place or len(own.tiles) != len(best.tiles):
            continue
        found = reasons_of(decision)
        if len(found.given) == len(found.kept) == 1:
            apart = decision.ranking.outcomes[0] - decision.ranking.outcomes[decision.place]
            assert len(apart) == FUTURES
            assert found.given[0].cost.points - found.kept[0].worth.points == pytest.approx(apart.mean(), abs=1e-5)
            assert found.kept[0].cost.points == pytest.approx(apart.mean(), abs=1e-5)
            counted += 1
    assert counted > 20


def test_what_was_kept_costs_what_the_pass_gains_by_giving_it_instead() -> None:
    counted = 0
    for decision in all_decisions()[:60]:
        own, best = decision.ranking.passes[decision.place], decision.ranking.best
        lost = Counter(own.tiles) - Counter(best.tiles)
        if len(own.tiles) != len(best.tiles) or lost.total() != 2:
            continue
        found = reasons_of(decision)
        for kept in found.kept if len(found.kept) == 2 else ():
            both = Counter(own.tiles) & Counter(best.tiles)
            swaps = [tuple((both + Counter([stays]) + Counter(kept.tiles)).elements()) for stays in lost]
            gains = []
            for tiles in swaps:
                asked = ((tiles, own.blind), (own.tiles, own.blind))
                ranking = decision.engine.rank(decision.position, SEED, Effort(((2, FUTURES),)), also=asked)
                rows = [ranking.outcomes[ranking.place(*each)] for each in asked]
                gains.append(float((rows[0] - rows[1]).mean()))
            assert any(kept.cost.points == pytest.approx(gain, abs=1e-5) for gain in gains)
            counted += 1
    assert counted >= 3


def test_at_most_two_reasons_are_told_what_was_given_up_first_and_none_that_costs_nothing() -> None:
    for decision in all_decisions():
        if not decision.place:
            continue
        found = reasons_of(decision)
        told, every = reasons_told(found), [*found.given, *found.kept]
        assert len(told) <= 2
        assert all(reason.cost.points > 0 for reason in told)
        dear = [*found.given[:1], *sorted([*found.given[1:], *found.kept], key=lambda each: -each.cost.points)][:2]
        assert [each.cost.points for each in found.given] == sorted((x.cost.points for x in found.given), reverse=True)
        assert list(told) == [each for each in dear if each in told], "what was given up before what was kept"
        passed_over = [each.cost.points for each in every if each not in told]
        assert all(
            points <= 0.25 * max((each.cost.points for each in told), default=0.0) + 1e-9
            or points <= min(each.cost.points for each in told[1:] or told) + 1e-9
            or points <= 0
            for points in passed_over
        ), "no dearer reason is passed over"
        said = [text for text in told_of(decision).plain if text.startswith(("You let go", "You kept"))]
        assert len(said) <= 2


def test_no_id_and_no_notation_appears_in_either_register() -> None:
    for decision in all_decisions():
        told = told_of(decision)
        text = " ".join((told.verdict, *told.plain, *told.numbers))
        check(text, decision.step)
        assert not re.search(r"(?<![\w-])(?:[1-9][bcd]|points? points?)(?![\w-])", text), text


def test_decisions_with_different_reasons_never_share_a_sentence() -> None:
    told_by: dict[str, set[object]] = defaultdict(set)
    counted = 0
    for decision in all_decisions():
        best = decision.ranking.best
        told = told_of(decision)
        if not decision.place:
            told_by[told.plain[0]].add(tuple(name_of(decision, one) for one in reach(decision, best.tiles)[:1]))
            continue
        found = reasons_of(decision)
        for reason in reasons_told(found):
            hand = reason.hand.name if reason.hand else ""
            key = (type(reason), reason.tiles, hand)
            begins = "You let go" if isinstance(reason, Given) else "You kept"
            for text in told.plain:
                if text.startswith(begins) and hand in text and all(called(tile) in text for tile in reason.tiles):
                    told_by[text].add(key)
                    counted += 1
    assert counted > 200
    assert len(told_by) > 150
    assert all(len(reasons) == 1 for reasons in told_by.values()), [text for text, r in told_by.items() if len(r) > 1]


def test_numbers_say_what_plain_says_and_more() -> None:
    worth = re.compile(r"worth (-?[\d.]+) points, give or take ([\d.]+)")
    for decision in all_decisions()[:70]:
        told = told_of(decision)
        assert not any(worth.search(text) or "in 100" in text for text in told.plain), "points only as the cost"
        bare = [re.sub(r"; (?:worth|alone)[^;)]*|\((?:worth|gifts)[^)]*\)", "", text) for text in told.numbers]
        assert [re.sub(r"\W+", " ", text) for text in bare] == [re.sub(r"\W+", " ", text) for text in told.plain]
        if not decision.place:
            assert "in 100" in told.numbers[0]
            continue
        found = reasons_of(decision)
        said = [match for text in told.numbers if (match := worth.search(text))]
        reasons = reasons_told(found)[: len(said)]
        for match, reason in zip(said, reasons, strict=True):
            exact = reason.worth if isinstance(reason, Kept) else reason.cost
            assert (float(match[1]), float(match[2])) == pytest.approx((exact.points, exact.se), abs=0.051)


def test_the_test_itself_has_seen_every_step() -> None:
    assert {decision.step for decision in all_decisions()} == {*PASSES, "courtesy give"}
    assert EFFORT.rounds[-1][1] == FUTURES
