"""A target is named by one key, changed freely, told to nobody, and kept with its times beside the heat."""

from contextlib import closing
from pathlib import Path

import pytest

from client.storage.history_db import History
from client.storage.journal import disk_journal
from client.target import Became, Named, Targets, targets_in_words, what_became
from client.tui.screens.table import TARGET
from shared.coach.estimate import Estimate
from shared.coach.ledger import Judged
from shared.coach.lived import Lived
from shared.coach.planned import End
from shared.coach.ranking import RankedPass
from shared.coach.review import Review, StepReview, Verdict, Way
from shared.coach.standing import Standing
from shared.rules.intents import Arrange, Lift, Ready
from shared.rules.steps import PASSES, StepName
from tests.client.frozen import text_of
from tests.client.heats import heat, step
from tests.client.player import at


def test_the_key_names_the_hand_then_its_family_then_nothing_and_another_hand_anew() -> None:
    targets = Targets()
    for _ in range(3):
        targets = targets.naming("first right", 5, "h1", "run 3-4-3", "Stairs")
    targets = targets.naming("second left", 9, "h2", "pairs", "Pairs")
    assert [(one.step, one.hand, one.words) for one in targets.named] == [
        ("first right", "h1", "run 3-4-3"),
        ("first right", "", "Stairs"),
        ("first right", "", ""),
        ("second left", "h2", "pairs"),
    ]
    assert targets_in_words(targets.named) == "You named nothing at first right, then pairs at second left."
    assert targets_in_words(targets.named[:3]) == ""


def test_targets_are_kept_beside_the_heat_in_their_order_and_go_with_it(tmp_path: Path) -> None:
    path = tmp_path / "history.sqlite3"
    named = tuple(Named(step="first right", after_ms=ms, words=f"hand {ms}") for ms in (3, 1, 2))
    journal = disk_journal(path)
    assert journal.add(heat(1), "table", "", 1).is_new
    assert journal.add_targets(heat(1), named) == ""
    assert [entry.targets for entry in journal.read().entries] == [named]
    with closing(History(path)) as history:
        history.delete_all()
        assert history._disk.execute("SELECT count(*) FROM targets").fetchone() == (0,)


def review_of(*chances: tuple[float, float, float]) -> Review:
    """Return a review: at each pass and at the end, the chances of two hands of Stairs, then of one of Pairs."""

    def hands(run: float, steps: float, pairs: float) -> tuple[Standing, ...]:
        return (Standing("run", "Stairs", run), Standing("steps", "Stairs", steps), Standing("pairs", "Pairs", pairs))

    ranked = RankedPass((), 0, 10.0, 0.1)
    way = Way(ranked, 0, Estimate(0.0, 0.0))
    *passes, end = chances
    reviewed = [
        StepReview(
            Lived(step(name), (), (), 0, None),
            Verdict((way,), way, 1, Judged(name, "person", False, ranked, ranked, 0.0), hands=hands(*each)),
        )
        for name, each in zip(PASSES, passes, strict=False)
    ]
    return Review(tuple(reviewed), 1.0, end=End((), hands=hands(*end)))


def naming(at: StepName, words: str, hand: str = "") -> Named:
    return Named(step=at, after_ms=1, words=words, hand=hand)


STAIRS, RUN, PAIRS = (
    naming("first right", "Stairs"),
    naming("first right", "run", "h1"),
    naming("first right", "Pairs"),
)


def later(one: Named, at: StepName) -> Named:
    return one.model_copy(update={"step": at})


@pytest.mark.parametrize(
    ("named", "chances", "became"),
    [
        (
            (STAIRS,),
            [(9, 20, 15), (4, 25, 12)],
            Became(
                "You named Stairs at first right and stayed with it: rightly, nothing is clearly likelier at the end "
                "(25 in 100).",
                None,
                True,
            ),
        ),
        (
            (RUN,),
            [(9, 2, 1), (9, 2, 20)],
            Became(
                "You named run at first right and stayed with it; pairs is likelier at the end, 20 in 100 against "
                "9 in 100."
            ),
        ),
        (
            (RUN,),
            [(9, 2, 1), (2, 2, 20), (1, 0, 30), (0.2, 0, 40)],
            Became(
                "You named run at first right and stayed with it, too long: from first across on pairs was far "
                "likelier, 20 in 100 against 2 in 100.",
                None,
                False,
            ),
        ),
        (
            (STAIRS, later(RUN, "first across")),
            [(9, 2, 1), (9, 2, 1), (9, 2, 1)],
            Became(
                "You named Stairs at first right, then run at first across and stayed with it: rightly, nothing is "
                "clearly likelier at the end (9 in 100).",
                None,
                True,
            ),
        ),
        (
            (STAIRS, later(PAIRS, "first across")),
            [(9, 2, 1), (4, 5, 12), (20, 1, 1)],
            Became(
                "You named Stairs at first right and changed to Pairs at first across: rightly, that was likelier, "
                "12 in 100 against 5 in 100.",
                "first across",
                True,
            ),
        ),
        (
            (STAIRS, later(PAIRS, "first across"), later(RUN, "first left")),
            [(9, 2, 1), (4, 5, 12), (4, 5, 12), (20, 1, 1)],
            Became(
                "You named Stairs at first right, then Pairs at first across and changed to run at first left, though "
                "Pairs was likelier, 12 in 100 against 4 in 100.",
                "first left",
                False,
            ),
        ),
        (
            (STAIRS, later(PAIRS, "first across")),
            [(9, 2, 1), (4, 11, 12), (20, 1, 1)],
            Became(
                "You named Stairs at first right and changed to Pairs at first across, which was about as likely, "
                "12 in 100 against 11 in 100.",
                "first across",
            ),
        ),
        (
            (STAIRS, naming("first across", "")),
            [(9, 2, 1), (4, 11, 12), (20, 1, 1)],
            Became(
                "You named Stairs at first right and dropped it at first across, too early: it was within reach, "
                "11 in 100.",
                "first across",
                False,
            ),
        ),
        (
            (STAIRS, naming("first across", "")),
            [(9, 2, 1), (0.1, 0.2, 12), (20, 1, 1)],
            Became(
                "You named Stairs at first right and dropped it at first across: rightly, pairs won 12 in 100 by then, "
                "it less than 1 in 100.",
                "first across",
                True,
            ),
        ),
        ((naming("first right", "Waves"),), [(9, 2, 1)], Became("You named Waves at first right.")),
        ((STAIRS, naming("first right", "")), [(9, 2, 1)], None),
        ((), [(9, 2, 1)], None),
    ],
)
def test_what_became_of_it_is_judged_by_the_chances_of_its_own_moment(
    named: tuple[Named, ...], chances: list[tuple[float, float, float]], became: Became | None
) -> None:
    assert what_became(named, review_of(*chances)) == became


def test_before_the_review_is_whole_only_the_targets_are_told() -> None:
    changed = (STAIRS, later(PAIRS, "first across"))
    assert what_became(changed, None) == Became(
        "You named Stairs at first right, then Pairs at first across.", "first across"
    )


async def test_at_the_table_it_stands_in_the_head_is_timed_and_nothing_of_it_is_sent() -> None:
    async with at((120, 40)) as player:
        await player.press("enter")
        player.line.pass_time(7_000)
        await player.settle()
        await player.press(TARGET)
        (one,) = player.model.targets[player.model.heat_number].named
        assert (one.step, one.after_ms) == ("first right", 7_000)
        assert f"target: {one.words[:15]}" in text_of(player.app)
        assert player.model.pane.pinned == one.hand
        await player.press(TARGET)
        family = player.model.target
        assert family in [section.name for section in player.model.pane.sections]
        await player.press(TARGET)
        assert player.model.target == ""
        assert "target:" not in text_of(player.app)
        assert {type(intent) for intent in player.line.asked} <= {Ready, Arrange, Lift}


async def test_without_the_card_in_sight_the_key_names_nothing() -> None:
    async with at((80, 24)) as player:
        await player.press("enter", TARGET)
        assert player.model.targets == {}
