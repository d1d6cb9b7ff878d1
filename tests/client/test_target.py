"""A target is named by one key, changed freely, told to nobody, and kept with its times beside the heat."""

from contextlib import closing
from pathlib import Path

from client.storage.history_db import History
from client.storage.journal import disk_journal
from client.target import Named, Targets, targets_in_words
from client.tui.screens.table import TARGET
from shared.rules.intents import Arrange, Lift, Ready
from tests.client.frozen import text_of
from tests.client.heats import heat
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
