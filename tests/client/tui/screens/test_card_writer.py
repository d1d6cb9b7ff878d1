"""Writing a card on the screen: keys, mouse and paste; every change in the file, and edits by hand taken in."""

import shutil
import subprocess
from pathlib import Path

import pytest
from textual import events

from client.storage.card_files import cards_folder, find_card
from client.tui.ports import AtHome, AtWriter
from client.tui.screens.card_writer import LOOK_EVERY_MS, CardWriterScreen
from client.tui.screens.cards import CardScreen
from client.tui.widgets.canvas import Painting
from tests.bench.typist import terminal
from tests.client.frozen import check_frozen, sized, text_of
from tests.client.player import Player, at

LINE = "FFFF 111b 2222b 333b"
FAULTS = "".join(f'    "F^4 n.p^3 n+{number}.p^9",\n' for number in range(9, 37))


def path() -> Path:
    return cards_folder() / "pier evening.toml"


def screen_of(player: Player) -> CardWriterScreen:
    screen = player.app.screen
    assert isinstance(screen, CardWriterScreen)
    return screen


async def opened(player: Player) -> CardWriterScreen:
    screen = screen_of(player)
    await player.until(lambda: screen._is_read)
    return screen


async def write(player: Player, text: str, *keys: str) -> None:
    await player.press(*("space" if sign == " " else sign for sign in text), *keys)


async def saved(player: Player) -> str:
    screen = screen_of(player)
    await player.until(lambda: screen.is_saved)
    return path().read_text("utf-8")


async def looks_again(player: Player) -> None:
    """Let so much time pass that the screen looks at the file again."""
    screen = screen_of(player)
    player.line.pass_time(LOOK_EVERY_MS + 100)
    screen.tick()
    await player.until(lambda: not screen._turn.locked())


@sized
async def test_a_hand_is_written(size: tuple[int, int]) -> None:
    async with at(size, AtWriter("pier evening")) as player:
        await opened(player)
        await saved(player)
        check_frozen(player.app, "writer-new")
        await write(player, "FFFF 111b 2222b 33")
        await saved(player)
        check_frozen(player.app, "writer-fault")
        await write(player, "3b")
        await saved(player)
        check_frozen(player.app, "writer-proposals")
        await player.press("enter")
        await saved(player)
        check_frozen(player.app, "writer-hand")
        await player.press("t")
        check_frozen(player.app, "writer-try")
        await player.press("h")
        await write(player, "Year", "enter")
        await write(player, "2026b NNN EE WW SSS", "enter", "o")
        await write(player, "2026b NN EEE WWW SS", "enter", "c", "3", "0", "enter", "enter")
        await write(player, "FFFF 777c 8888c 999c", "enter", "n")
        await write(player, "From the pier", "enter", "enter")
        await write(player, "112233b 112233c", "escape", "up")
        await saved(player)
        check_frozen(player.app, "writer-card")


async def test_every_letter_is_in_the_file_at_once() -> None:
    async with at((80, 24), AtWriter("pier evening")) as player:
        await opened(player)
        await write(player, "FFFF 11")
        assert "FFFF 11" in await saved(player)
        await write(player, "1b 2222b 333b", "enter")
        assert '"F^4 n.p^3 n+1.p^4 n+2.p^3",' in await saved(player)
    assert find_card("pier evening").card.hands[0].section == "Hands"


async def test_a_card_that_was_left_half_written_is_gone_on_with() -> None:
    async with at((80, 24), AtWriter("pier evening")) as player:
        await opened(player)
        await write(player, "FFFF 111b", "escape", "q")
    async with at((80, 24), AtWriter()) as player:
        screen = await opened(player)
        assert "FFFF 111b" in text_of(player.app)
        await player.press("e")
        await write(player, " 2222b 333b", "enter")
        assert screen.model.writer.ways == 21
        await saved(player)


async def test_a_hand_is_written_with_the_mouse_and_by_pasting() -> None:
    async with at((80, 24), AtWriter("pier evening")) as player:
        screen = await opened(player)
        screen.post_message(events.Paste(LINE))
        await player.settle()
        await click(player, "only 1, 2 and 3; one suit")
        assert str(screen.model.writer.words) == "only 1, 2 and 3; one suit"
        await click(player, "s suit:")
        assert str(screen.model.writer.words) == "exactly these tiles"
        await click(player, "next hand")
        assert screen.model.entry.number == 2
        await click(player, "Pier evening")
        assert screen.model.level == "card"


async def test_the_wheel_moves_the_mark() -> None:
    async with at((80, 24), AtWriter("pier evening")) as player:
        screen = await opened(player)
        await write(player, LINE, "enter")
        pane = screen.query_one(Painting)
        pane.post_message(events.MouseScrollUp(pane, 1, 1, 0, 0, 0, False, False, False))
        await player.settle()
        assert screen.model.level == "heading"


async def test_comments_in_a_file_are_told_to_be_lost() -> None:
    path().parent.mkdir(parents=True)
    path().write_text('# mine\n[card]\ntitle = "Pier"\nyear = 2026\n[[section]]\nname = "Oars"\n', "utf-8")
    async with at((80, 24), AtWriter("pier evening")) as player:
        await opened(player)
        assert "Comments in the file are not kept" in text_of(player.app)


async def click(player: Player, words: str) -> None:
    lines = text_of(player.app).splitlines()
    y = max(number for number, line in enumerate(lines) if words in line and not line.startswith(" Writing"))
    await player.pilot.click(offset=(lines[y].index(words) + 1, y))
    await player.settle()


async def test_a_file_edited_by_hand_is_read_again_and_undo_brings_back_what_was_here() -> None:
    async with at((80, 24), AtWriter("pier evening")) as player:
        screen = await opened(player)
        await write(player, LINE, "enter")
        text = await saved(player)
        path().write_text(text.replace("Pier evening", "Boathouse"), "utf-8")
        await looks_again(player)
        shown = text_of(player.app)
        assert "Boathouse" in shown
        assert "read again" in shown
        await player.press("3", "0", "enter")
        assert "Boathouse" in await saved(player)
        await player.press("u", "u")
        assert screen.model.writer.draft.title == "Pier evening"


async def test_a_key_never_goes_over_an_edit_that_was_not_seen_yet() -> None:
    async with at((80, 24), AtWriter("pier evening")) as player:
        await opened(player)
        await write(player, LINE, "enter")
        text = await saved(player)
        path().write_text(text.replace("Pier evening", "Boathouse"), "utf-8")
        await player.press("c")
        assert "Boathouse" in await saved(player)


async def test_faults_of_an_edited_file_scroll_and_nothing_is_saved_before_they_are_mended() -> None:
    async with at((80, 24), AtWriter("pier evening")) as player:
        screen = await opened(player)
        await write(player, LINE, "enter")
        text = await saved(player)
        broken = text.replace("hand = [\n", f"hand = [\n{FAULTS}")
        path().write_text(broken, "utf-8")
        await looks_again(player)
        assert len(screen.model.faults) == 28
        check_frozen(player.app, "writer-faults")
        await player.press(*["down"] * 30)
        assert "hand #28" in text_of(player.app)
        assert path().read_text("utf-8") == broken
        path().write_text(text, "utf-8")
        await looks_again(player)
        assert LINE in text_of(player.app)
        path().write_text(broken, "utf-8")
        await looks_again(player)
        await player.press("k")
        await player.until(lambda: not screen.model.faults)
        assert path().read_text("utf-8") == text


async def test_a_file_that_is_bad_from_the_start_shows_its_faults_and_stays() -> None:
    path().parent.mkdir(parents=True)
    path().write_text("[card]\n", "utf-8")
    async with at((80, 24), AtWriter("pier evening")) as player:
        await opened(player)
        assert "title is missing" in text_of(player.app)
        await player.press("k", "x", "h", "q")
        assert not isinstance(player.app.screen, CardWriterScreen)
    assert path().read_text("utf-8") == "[card]\n"


async def test_the_card_screen_leads_to_the_writer_and_shows_the_card_afterwards() -> None:
    async with at((80, 24), AtHome()) as player:
        await player.press("c")
        screen = player.app.screen
        assert isinstance(screen, CardScreen)
        await player.until(lambda: len(screen._cards) == 2)
        await player.press("e")
        await opened(player)
        await write(player, LINE, "enter", "q")
        await player.until(lambda: len(screen._cards) == 3)
        await player.press("left")
        assert "My card" in text_of(player.app)
        await player.press("e")
        assert (await opened(player)).file.path.stem == "my card"


async def test_no_key_bar_is_cut_at_80_columns() -> None:
    async with at((80, 24), AtWriter("pier evening")) as player:
        screen = await opened(player)
        for keys in (LINE, "enter", "right", "3", "enter", "h", "escape", "m", "up", "up", "up"):
            await (write(player, keys) if keys == LINE else player.press(keys))
            shown = text_of(player.app).splitlines()[-1]
            footer = screen.keys()
            assert len(footer) <= 6
            assert all(f"{key} {does}" in shown for key, does, _ in footer), shown


async def test_it_fits_a_small_terminal() -> None:
    async with at((60, 20), AtWriter("pier evening")) as player:
        await opened(player)
        await write(player, LINE)
        assert "any three ranks in a row, one suit" in text_of(player.app)
        await player.press("enter")
        assert "14 of 14" in text_of(player.app)
        assert player.app.screen.query_one(Painting).size.height > 10


@pytest.mark.skipif(shutil.which("tmux") is None, reason="tmux is not installed here")
def test_what_was_typed_is_there_after_kill_9(tmp_path: Path) -> None:
    with terminal(tmp_path, "pier") as screen:
        screen.until("0 of 14")
        screen.press([*LINE, "enter"])
        screen.until("1 hand, saved")
        screen.press(["enter", *"FFFF 22"])
        screen.until("1 hand, 1 open, saved", "FFFF 22 ")
        pane = ["list-panes", "-t", "pier", "-F", "#{pane_pid}"]
        found = subprocess.run([*screen.tmux, *pane], check=True, capture_output=True)
        subprocess.run(["kill", "-9", found.stdout.decode().strip()], check=True)
    text = (tmp_path / "racktempo" / "cards" / "pier.toml").read_text("utf-8")
    assert '"F^4 n.p^3 n+1.p^4 n+2.p^3",' in text
    assert 'open = [{line = 2, tiles = "FFFF 22"}]' in text
