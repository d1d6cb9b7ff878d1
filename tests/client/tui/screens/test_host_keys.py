"""What the host does from the table: settings between heats, and what everybody is told of it."""

import pytest

from client.connection.link import Lost
from client.models.played import standing_words
from client.plain.sentences import changes, question
from client.tui.screens.end import HeatEndScreen, SetEndScreen
from client.tui.screens.host import TableSettingsScreen
from client.tui.screens.review import ReviewScreen
from client.tui.screens.seats import SeatsScreen
from client.tui.screens.table import TableScreen
from server.table.output import Joined
from shared.rules.intents import ChangeSettings, NewSet, Ready
from shared.rules.settings import Settings
from shared.wire.messages import Command
from tests.client.frozen import text_of
from tests.client.player import Player, at

QUICK = Settings(seed=7, bot_pace="quick", bot_skill="simple", hints="none")
SIZES = [(80, 24), (120, 40)]
ONE_HEAT = QUICK.model_copy(update={"heats": 1, "hints": "at the end", "seed": 8})
CHANGED = "Changed: Clock 2:50, was 3:00."


@pytest.mark.parametrize("size", SIZES)
async def test_the_host_changes_the_clock_between_heats_and_everybody_reads_it(size: tuple[int, int]) -> None:
    async with at(size, settings=QUICK) as player:
        assert "F8 settings" in text_of(player.app)
        await player.press("enter")
        await player.play_to("over")
        assert isinstance(player.app.screen, HeatEndScreen)
        assert "F8 settings" in text_of(player.app)
        await player.press("f8")
        assert isinstance(player.app.screen, TableSettingsScreen)
        await player.press("left", "f5")
        assert isinstance(player.app.screen, HeatEndScreen)
        assert CHANGED in text_of(player.app)
        assert player.line.table.record.settings == QUICK.model_copy(update={"level_ms": 170_000})
        await player.press("enter")
        assert isinstance(player.app.screen, TableScreen)
        assert "Clock 2:50, was 3:00" in text_of(player.app), "said again at the first step"
        assert player.line.heat().route[0].length_ms == player.line.table.record.settings.length_ms("first right")


@pytest.mark.parametrize("size", SIZES)
async def test_the_footer_names_the_hosts_keys_in_every_step_and_a_guest_has_none(size: tuple[int, int]) -> None:
    async with at(size, settings=QUICK.model_copy(update={"plan": True})) as player:
        await player.press("enter")
        for step in ("first right", "first left", "go on", "courtesy offer", "plan"):
            await player.play_to(step)
            shown = text_of(player.app)
            assert "p pause" in shown, step
            assert "x +10 s" in shown, step
        view = player.model.view
        assert view is not None
        player.model.hear(view.model_copy(update={"host": False}), 0, 0)
        screen = player.app.screen
        assert isinstance(screen, TableScreen)
        footer = screen.keys()  # asked at once: the table's next view would make this player the host again
        assert not {"p", "x"} & {key for *_, key in footer}


@pytest.mark.parametrize("size", SIZES)
async def test_a_bot_is_offered_after_ten_seconds_away_and_the_seat_is_the_persons_on_return(
    size: tuple[int, int],
) -> None:
    async with at(size, settings=QUICK) as player:
        line = player.line
        answer = line.table.join("Bo", bytes(range(16)), line.now_ms())
        assert isinstance(answer, Joined)
        line.pass_time(0)
        await player.press("s")
        line._take(line.table.disconnected(answer.chair, line.now_ms()))
        await player.settle()
        await player.press("f5")
        assert "away for 10 s" in text_of(player.app)
        line.pass_time(9_000)
        await player.press("left")
        assert "F5: a bot plays there" not in text_of(player.app)
        line.pass_time(1_000)
        await player.pilot.pause(0.25)
        assert "Bo is away. F5: a bot plays there until Bo is back." in text_of(player.app)
        await player.press("f5")
        assert line.table.record.chairs[answer.chair].stand_in
        assert "F5: a bot plays" not in text_of(player.app)
        line._take(line.table.join("Bo", bytes(range(16)), line.now_ms()).output)
        assert not line.table.record.chairs[answer.chair].stand_in


@pytest.mark.parametrize("size", SIZES)
async def test_a_clock_without_a_line_stands_still_and_says_so(size: tuple[int, int]) -> None:
    async with at(size, settings=QUICK) as player:
        await player.press("enter")
        player.line.now_ms.ms += 2_000
        player.app.hear(Lost("The connection broke.", 100))
        left_ms = player.model.face(player.line.now_ms()).left_ms
        player.line.now_ms.ms += 7_000
        player.app.hear(Lost("The connection broke.", 100))
        face = player.model.face(player.line.now_ms())
        assert (face.left_ms, face.running) == (left_ms, False)
        await player.settle()
        assert "not connected: stands still" in text_of(player.app)
        assert "clocks stand still here" in text_of(player.app)
        player.line.pass_time(0)
        await player.settle()
        assert player.model.face(player.line.now_ms()).running
        assert player.model.face(player.line.now_ms()).left_ms < left_ms
        assert "stands still" not in text_of(player.app)


@pytest.mark.parametrize("size", SIZES)
async def test_after_a_restart_the_screen_says_what_was_given_back(size: tuple[int, int]) -> None:
    async with at(size, settings=QUICK) as player:
        await player.press("enter")
        table = player.line.table
        events = table._heat.events if table._heat else ()
        player.line._take(table.restore(events, (), player.line.now_ms()))
        await player.settle()
        assert "Back after a restart: racks, passes and clocks are as they were." in text_of(player.app)
        view = player.model.view
        assert view is not None
        assert question(view, ())[0].startswith("The table is back after a restart: racks, passes and clocks are as")
        await player.press("p")
        assert "Back after a restart" not in text_of(player.app)


async def set_over(player: Player) -> int:
    """Play a set of one heat with a guest, whom a bot stands in for, and return the guest's chair."""
    line = player.line
    answer = line.table.join("Bo", bytes(range(16)), line.now_ms())
    assert isinstance(answer, Joined)
    line.pass_time(0)
    await player.press("s")
    await player.play_to("over")
    line.pass_time(400_000)
    await player.settle()
    assert isinstance(player.app.screen, SetEndScreen)
    return answer.chair


@pytest.mark.parametrize("size", SIZES)
async def test_the_end_of_a_set_shows_totals_and_a_standing_by_people(size: tuple[int, int]) -> None:
    async with at(size, settings=ONE_HEAT) as player:
        await set_over(player)
        view = player.model.view
        assert view is not None
        assert standing_words(view).startswith("Time in all: 1 ")
        assert f"The set is over: n deals the next one. {standing_words(view)}" in text_of(player.app)
        await player.press("enter")
        shown = text_of(player.app)
        assert "in all" in shown
        assert standing_words(view) in shown
        lines = changes(None, view, ())
        assert f"The set is over. {standing_words(view)}" in lines


@pytest.mark.parametrize("size", SIZES)
async def test_a_new_set_pulls_nobody_out_of_a_review(size: tuple[int, int]) -> None:
    async with at(size, settings=ONE_HEAT) as player:
        await set_over(player)
        await player.until(lambda: player.app.screen.end().points)  # type: ignore[attr-defined]
        await player.press("r")
        review = player.app.screen
        assert isinstance(review, ReviewScreen)
        before = player.line.table.record
        player.line._take(player.line.table.command(0, Command(id=2**40, heat=1, intent=NewSet()), 10**6))
        await player.settle()
        assert player.line.table.record.phase == "seating" != before.phase
        assert player.app.screen is review
        assert "a new set waits" in text_of(player.app).splitlines()[-1]
        await player.press("q")
        assert isinstance(player.app.screen, SetEndScreen)
        assert player.app.screen.result() is not None, "what was read is still there"
        assert "A new set has begun; it waits for you. Enter leads to its seats." in text_of(player.app)
        await player.press("enter")
        assert isinstance(player.app.screen, SeatsScreen)
        assert "a new set waits" not in text_of(player.app)


async def test_who_asks_for_the_new_set_goes_there_at_once_and_a_heat_calls_everybody() -> None:
    async with at((80, 24), settings=ONE_HEAT) as player:
        guest = await set_over(player)
        await player.press("enter", "n")
        assert isinstance(player.app.screen, SeatsScreen)
        await player.press("enter")
        line = player.line
        line._take(line.table.command(guest, Command(id=1, heat=1, intent=Ready()), line.now_ms()))
        await player.settle()
        assert isinstance(player.app.screen, TableScreen)


@pytest.mark.parametrize("size", SIZES)
async def test_who_keeps_the_table_for_a_host_who_is_away_reads_what_they_may_do(size: tuple[int, int]) -> None:
    words = "The host is away: until then you may pause, start heats and seat bots."
    async with at(size, settings=QUICK) as player:
        view = player.model.view
        assert view is not None
        for keeps in (False, True):
            player.model.hear(view.model_copy(update={"host": False, "keeps": keeps}), 0, 0)
            player.app.redraw()
            await player.settle()
            shown = text_of(player.app)
            assert (words in shown, "s start now" in shown) == (keeps, keeps)
            assert "F8 settings" not in shown
        await player.press("f8")
        assert "Only the host changes the settings." in text_of(player.app)


async def test_what_is_changed_before_the_first_heat_is_told_against_what_was_there() -> None:
    async with at((80, 24), settings=QUICK) as player:
        await player.press("f8", "left", "f5")
        assert isinstance(player.app.screen, SeatsScreen)
        assert CHANGED in text_of(player.app)
        await player.press("f8", "right", "f5")
        assert "Changed:" not in text_of(player.app)


async def test_a_running_heat_keeps_its_settings_and_says_so() -> None:
    async with at((80, 24), settings=QUICK) as player:
        await player.press("enter", "f8")
        assert isinstance(player.app.screen, TableScreen)
        assert "Settings change between heats; this heat goes on as it began." in text_of(player.app)


async def test_the_form_without_a_change_asks_nothing_and_the_way_back_changes_nothing() -> None:
    async with at((80, 24), settings=QUICK) as player:
        await player.press("f8", "f5", "f8", "left", "escape")
        assert isinstance(player.app.screen, SeatsScreen)
        assert not any(isinstance(intent, ChangeSettings) for intent in player.line.asked)
        assert player.line.table.record.settings == QUICK


async def test_plain_lines_tell_the_same_words() -> None:
    async with at((80, 24), settings=QUICK) as player:
        before = player.line.table.view(1, 0)
        await player.press("f8", "left", "f5")
        assert CHANGED in changes(before, player.line.table.view(1, 0), ())
