"""What a rack's tiles are for: each is with the likeliest hand, with another within reach, or idle."""

from collections import Counter

from shared.coach.distance import counts_of
from shared.coach.reasons import outlook
from shared.coach.serving import USES
from shared.rules.settings import Settings
from shared.rules.tiles import INDEX, JOKER
from tests.shared.coach.lives import coach, random_life
from tests.shared.coach.test_review import QUICK, whole
from tests.shared.coach.test_sentences import lacks

WHOLE = Settings(second="always", plan=True)


def test_the_three_uses_are_the_rack_and_the_best_hand_lacks_what_is_drawn_as_missing() -> None:
    seen = Counter[str]()
    for seed in range(3):
        for step in whole(random_life(seed, WHOLE), QUICK).steps:
            served = step.served
            assert served is not None
            assert served.before is not None
            assert sorted(tile for use in USES for tile in served.tiles(use)) == sorted(step.lived.rack)
            assert sorted(tile for tile, _ in served.came) == sorted(step.lived.step.came)
            in_it = [cell for cell in served.before.drawn.picture.cells if cell.kind == "held"]
            jokers = served.tiles("best").count(JOKER)
            assert len(served.tiles("best")) - jokers == len(in_it)
            assert served.after is not None
            assert served.after.name == served.before.name
            if step.verdict:
                seen.update(use for _, use in served.rack)
    assert min(seen[use] for use in USES) > 5


def test_what_serves_no_hand_within_reach_is_idle() -> None:
    engine, card = coach().engine, coach().card
    counted = 0
    for step in whole(random_life(4, WHOLE), QUICK).steps:
        if step.lived.position is None or step.verdict is None or step.served is None:
            continue
        hands = outlook(engine, card, step.lived.position, step.verdict.ways[0].ranked.tiles).hands
        assert step.served.reach == len(hands)
        wants = [engine.patterns.pairs[hand.variant] + engine.patterns.groups[hand.variant] for hand in hands]
        held = counts_of(step.lived.rack)
        for tile in set(step.served.tiles("idle")) - {JOKER}:
            assert all(want[INDEX[tile]] < held[INDEX[tile]] for want in wants)
            counted += 1
        first = step.served.before
        assert first is not None
        assert first.drawn.away == lacks(engine, hands[0].variant, held)
    assert counted > 5
