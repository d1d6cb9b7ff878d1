"""A heat's ledger adds up exactly, and its luck is even."""

import numpy as np
import pytest

from shared.coach.distance import counts_of
from shared.coach.ledger import Judged, Ledger, balance
from shared.coach.passes import Position, legal_passes, tiles_of
from shared.coach.ranking import Effort
from shared.coach.targets import SET
from shared.coach.words import judged
from shared.rules.events import By
from shared.rules.steps import PASSES, StepName
from shared.rules.tiles import Rack
from tests.shared.coach.racks import racks
from tests.shared.coach.synthetic import ENGINE

EFFORT = Effort(((8, 24),))


def judge(step: StepName, position: Position, tiles: Rack, by: By) -> Judged:
    ranking = ENGINE.rank(position, 1, EFFORT, also=((tiles, 0),))
    place = ranking.place(tiles)
    return Judged(step, by, len(ranking.passes) == 1, ranking.best, ranking.passes[place], ranking.gap(place).se)


def heat(seed: int, by: By = "person", best: bool = False) -> tuple[list[Judged], Position]:
    """Play one seat from a random rack, passes at random or the best, with random naturals coming in."""
    dice = np.random.Generator(np.random.PCG64(seed))
    rack = racks(seed, 1)[0]
    passed: Rack = ()
    judged_passes = []
    for number, step in enumerate(PASSES):
        position = Position(tiles_of(rack), passed, len(PASSES) - 1 - number)
        legal = legal_passes(rack, 3)
        chosen = tiles_of(legal[dice.integers(len(legal))])
        if best:
            chosen = ENGINE.rank(position, 1, EFFORT).best.tiles
        judged_passes.append(judge(step, position, chosen, by))
        pool = [tile for tile in tiles_of(position.unseen()) if tile != "J"]
        came = [pool[index] for index in dice.choice(len(pool), 3, replace=False)]
        rack = rack - counts_of(chosen) + counts_of(came)
        passed += chosen
    return judged_passes, Position(tiles_of(rack), passed, 0)


def ledger(seed: int, by: By = "person", best: bool = False) -> Ledger:
    judged_passes, final = heat(seed, by, best)
    return balance(judged_passes, ENGINE.as_it_is(final))


def test_start_and_luck_less_loss_is_what_the_heat_ended_with_to_the_last_bit() -> None:
    for seed in range(12):
        book = ledger(seed)
        assert book.start + book.luck + book.given - book.loss == book.final
        assert book.final == ENGINE.as_it_is(heat(seed)[1])


def test_no_decision_loses_less_than_nothing() -> None:
    for seed in range(6):
        for entry in ledger(seed).entries:
            assert entry.loss >= 0
            assert entry.best.net - entry.chosen.net == entry.loss
            assert entry.best.points - entry.chosen.points == entry.loss - entry.given
            assert (entry.loss == 0) or entry.se > 0


def test_the_best_pass_loses_nothing() -> None:
    book = ledger(3, best=True)
    assert [entry.loss for entry in book.entries] == [0] * 6
    assert judged(book.entries[0]) == "First right: best."


def test_only_a_persons_own_choices_count_as_their_losses() -> None:
    own, bot, late = ledger(1), ledger(1, "bot"), ledger(1, "timeout")
    assert own.own_loss is not None
    assert own.own_loss.points == pytest.approx(own.loss / 6)
    assert bot.own_loss is None
    assert late.own_loss is None
    assert bot.loss == own.loss


def test_where_there_is_nothing_to_choose_the_entry_is_forced() -> None:
    rack: Rack = ("1b", "1b", "1b", *("J",) * 8, "N", "N")
    position = Position(rack, (), 0, gives=(0,))
    book = balance([judge("courtesy give", position, (), "person")], ENGINE.as_it_is(position))
    assert book.entries[0].forced
    assert book.own_loss is None
    assert judged(book.entries[0]) == "Courtesy give: nothing to choose."


def test_a_heat_without_a_pass_starts_where_it_ends() -> None:
    final = Position(tiles_of(racks(5, 1)[0]), (), 0)
    book = balance([], ENGINE.as_it_is(final))
    assert book.start == book.final == ENGINE.as_it_is(final)


def test_a_loss_within_two_of_its_errors_is_too_close_to_call() -> None:
    entries = [entry for seed in range(6) for entry in ledger(seed).entries]
    close = [entry for entry in entries if entry.too_close and entry.chosen != entry.best]
    clear = [entry for entry in entries if not entry.too_close]
    assert clear
    assert all(entry.loss >= 2 * entry.se for entry in clear)
    assert all(f": cost {entry.loss:.{0 if entry.loss >= 9.95 else 1}f} point" in judged(entry) for entry in clear)
    assert all(": as good as the best." in judged(entry) for entry in close)


def test_luck_is_even_in_the_last_step_over_120_heats(capsys: pytest.CaptureFixture[str]) -> None:
    """What comes is drawn as the forecast draws it, so the mean luck of the last pass is nothing but chance.

    2,000 heats against bots, all six steps, are measured by the benchmark.
    """
    changes = []
    for rack in racks(31, 120):
        position = Position(tiles_of(rack), (), 0)
        best = ENGINE.rank(position, 2, Effort(((8, 40),))).best
        dice = np.random.Generator(np.random.PCG64(int(rack.sum()) + len(changes)))
        unseen = position.unseen()
        pool = np.repeat(np.arange(35), unseen[:35])
        came = np.bincount(dice.choice(pool, 3, replace=False), minlength=36).astype(np.uint8)
        after = rack - counts_of(best.tiles) + came
        final = ENGINE.as_it_is(Position(tiles_of(after), best.tiles, 0))
        changes.append(final - best.points)
    mean, error = float(np.mean(changes)), float(np.std(changes, ddof=1) / len(changes) ** 0.5)
    with capsys.disabled():
        print(f"\nmean luck of the last pass {mean:+.2f} points, standard error {error:.2f}, {len(changes)} heats")
    assert abs(mean) < 4 * error
    assert (SET.sum(), error > 0) == (152, True)
