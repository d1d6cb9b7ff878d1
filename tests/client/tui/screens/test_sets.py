"""Sets to take home on the screen: from a pasted line to a comparison, and what is said when something is wrong."""

from dataclasses import replace
from pathlib import Path

import pytest
from textual.events import Paste

from client.connection.opened import Opening
from client.hosting.result_lines import line_of, pasted, result_of_line
from client.storage.files import data_folder
from client.storage.heat_files import heats_folder, keep_heat
from client.storage.set_reviews import keep_found
from client.storage.sets import KeptSet, Try, keep_set, kept_sets, made_here
from client.tui.ports import AtHome
from client.tui.screens.compare import CompareScreen
from client.tui.screens.home import HomeScreen
from client.tui.screens.sets import SetScreen, SetsScreen
from shared import versions
from shared.measures.side_by_side import HeatFound, StepFound
from shared.measures.standings import Reviewed
from shared.rules.set_line import TakeHome
from shared.rules.set_result import RESULT, SetResult
from tests.client.frozen import check_frozen, check_text, sized, text_of
from tests.client.player import at
from tests.take_home import SETTINGS, handed_in, made, played

SIZE = (80, 24)
TAKEN = made(SETTINGS.model_copy(update={"heats": 1}))


def played_here(taken: TakeHome = TAKEN, who: int = 7) -> None:
    """Keep a set as if it had been played on this machine."""
    for heat in played(taken, who):
        assert not isinstance(keep_heat(heat, heats_folder()), str)
    keep_set(KeptSet(line=taken.line, player=f"{who:016x}", title="Tuesday", tries=(Try(table=f"{who:016x}"),)))


def handed(folder: Path, *results: SetResult) -> None:
    """Put results into a folder, the coach's work on them done."""
    folder.mkdir(parents=True, exist_ok=True)
    for number, result in enumerate(results):
        (folder / f"{number}.result").write_bytes(RESULT.pack(result))
        for packed in result.heats:
            step = StepFound(
                step="first right",
                best=("1b", "7c", "7d"),
                words=("It keeps 2468 four pungs, two suits, 2 F (9 to go).",),
                cost=1.25 * number,
                close=False,
            )
            reviewed = Reviewed(loss=2.5 + number, unforced=6, points=20.0 + number)
            keep_found(result.line, packed, HeatFound(reviewed=reviewed, steps=(step,)))


async def test_a_line_that_is_pasted_at_home_leads_to_its_set() -> None:
    async with at(SIZE, AtHome()) as player:
        player.app.screen.post_message(Paste(f" {TAKEN.line.lower()} \n"))
        await player.settle()
        assert isinstance(player.app.screen, SetsScreen)
        await player.press("enter")
        await player.until(lambda: isinstance(player.app.screen, SetScreen))
        screen = player.app.screen
        assert isinstance(screen, SetScreen)
        await player.until(lambda: screen.shown.line == TAKEN.line)
        assert TAKEN.line in text_of(player.app)
        assert "1 heat of 2:00" in text_of(player.app)


async def test_any_other_pasted_word_does_nothing_at_home() -> None:
    async with at(SIZE, AtHome()) as player:
        before = text_of(player.app)
        player.app.screen.post_message(Paste("hello"))
        await player.settle()
        assert text_of(player.app) == before


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "Paste or type the line of a set"),
        ("nothing.set", "There is no such file"),
        ("abc", "This is not the line of a set"),
        (TAKEN.line[:8] + ("X" if TAKEN.line[8] != "X" else "Y") + TAKEN.line[9:], "Group 2 ("),
    ],
)
async def test_what_is_wrong_with_a_line_is_said_where_it_is_typed(text: str, told: str) -> None:
    async with at(SIZE, AtHome()) as player:
        await player.press("s")
        player.app.screen.post_message(Paste(text))
        await player.settle()
        await player.press("enter")
        await player.until(lambda: told in text_of(player.app))
        assert told in text_of(player.app)


@pytest.mark.parametrize("is_over", [False, True])
async def test_a_set_is_played_under_the_typed_name_and_again_only_as_another_try(is_over: bool) -> None:
    if is_over:
        played_here()
    asked: list[tuple[str, str, bool]] = []

    def opening(text: str, name: str, again: bool) -> Opening:
        asked.append((text, name, again))
        raise ValueError("The table stays shut in this test.")

    async with at(SIZE, AtHome(), name="") as player:
        player.app.openers = replace(player.app.openers, take_home=opening)
        player.app.screen.post_message(Paste(TAKEN.line))
        await player.settle()
        await player.press("enter")
        await player.until(lambda: isinstance(player.app.screen, SetScreen))
        screen = player.app.screen
        assert isinstance(screen, SetScreen)
        await player.press("up", "up", *"Bea", "down", "down", "enter")
        await player.until(lambda: asked)
        assert asked == [(TAKEN.line, "Bea", is_over)]
        assert player.app.player == "Bea"
        assert "stays shut" in text_of(player.app)


async def test_a_new_set_is_made_and_its_line_shown() -> None:
    async with at(SIZE, AtHome()) as player:
        await player.press("s", "down", "enter")
        await player.press("f5")
        await player.until(lambda: isinstance(player.app.screen, SetScreen))
        screen = player.app.screen
        assert isinstance(screen, SetScreen)
        (kept,) = kept_sets()
        assert kept.maker
        assert kept.line in text_of(player.app)
        assert "the same for everybody" in text_of(player.app)


async def test_a_result_says_what_it_holds_before_it_is_written() -> None:
    played_here()
    async with at(SIZE, AtHome()) as player:
        await player.press("s")
        sets = player.app.screen
        assert isinstance(sets, SetsScreen)
        await player.until(lambda: sets.sets)
        await player.press("down", "down", "enter")
        await player.until(lambda: isinstance(player.app.screen, SetScreen))
        await player.press("down", "enter")
        screen = player.app.screen
        assert isinstance(screen, SetScreen)
        await player.until(lambda: screen.paper)
        assert 'The name "Anna"' in text_of(player.app)
        folder = data_folder() / "results"
        assert not folder.exists()
        await player.press("enter")
        await player.until(folder.exists)
        (file,) = folder.iterdir()
        assert RESULT.unpack(file.read_bytes()).name == "Anna"


async def test_nothing_is_handed_in_of_a_set_that_was_not_played() -> None:
    made_here(TAKEN, "ab" * 8, "Tuesday", "")
    async with at(SIZE, AtHome()) as player:
        await player.press("s")
        sets = player.app.screen
        assert isinstance(sets, SetsScreen)
        await player.until(lambda: sets.sets)
        await player.press("down", "down", "enter")
        await player.until(lambda: isinstance(player.app.screen, SetScreen))
        await player.press("down", "enter")
        await player.until(lambda: "Nothing" in player.app.screen.told)
        assert "Nothing of this set has been played" in text_of(player.app)
        await player.press("down", "down", "enter")
        await player.until(lambda: "compare" in player.app.screen.told)
        assert "There is no result to compare" in text_of(player.app)


@sized
async def test_the_screens(size: tuple[int, int]) -> None:
    made_here(made(seed=5), "cd" * 8, "Beginners", "")
    played_here()
    bo, foreign = handed_in(TAKEN, 2, name="Bo", interrupted=1), handed_in(made(seed=5), 3)
    handed(data_folder() / "results", handed_in(TAKEN, 1, name="Ada"), bo, foreign)
    async with at(size, AtHome()) as player:
        await player.press("s")
        sets = player.app.screen
        assert isinstance(sets, SetsScreen)
        await player.until(lambda: sets.sets)
        await player.press("down", "down")
        check_frozen(player.app, "sets")
        await player.press("enter")
        await player.until(lambda: isinstance(player.app.screen, SetScreen))
        screen = player.app.screen
        assert isinstance(screen, SetScreen)
        await player.until(lambda: screen.shown.is_over)
        shown = text_of(player.app).replace(TAKEN.line, "-".join(["GROUPS"] * 6))  # it changes with every version
        check_text(shown, "set", f"{size[0]}x{size[1]}")
        await player.press("down", "down", "down", "enter")
        await player.until(lambda: isinstance(player.app.screen, CompareScreen))
        compared = player.app.screen
        assert isinstance(compared, CompareScreen)
        await player.until(lambda: compared.shown)
        check_frozen(player.app, "set-compared")
        await player.press("p")
        await player.until(lambda: "Written: " in text_of(player.app))
        assert "Written: " in text_of(player.app)
        assert len(list((data_folder() / "results").glob("*.html"))) == 1


def known_here() -> str:
    """Make the set known, and return the line of somebody's result, the coach's work on it done."""
    made_here(TAKEN, "ab" * 8, "Tuesday", "")
    line = line_of(handed_in(TAKEN, 3, name="Cleo"))
    for packed in result_of_line(line).heats:
        keep_found(TAKEN.line, packed, HeatFound(reviewed=None))
    return line


async def test_a_result_is_shown_as_a_line_after_it_was_said_what_it_holds() -> None:
    played_here()
    async with at(SIZE, AtHome()) as player:
        player.app.screen.post_message(Paste(TAKEN.line))
        await player.settle()
        await player.press("enter")
        await player.until(lambda: isinstance(player.app.screen, SetScreen))
        screen = player.app.screen
        assert isinstance(screen, SetScreen)
        await player.until(lambda: screen.shown.is_over)
        await player.press("down", "down", "enter")
        await player.until(lambda: screen.paper)
        assert "rounded to tenths" in " ".join(text_of(player.app).split())
        assert not screen.handed
        await player.press("enter")
        await player.until(lambda: screen.handed)
        shown = "".join(text_of(player.app).split())
        assert screen.handed in shown
        assert player.app.clipboard == screen.handed
        assert RESULT.unpack(next(data for _, data in pasted(screen.handed) if isinstance(data, bytes))).name == "Anna"


@pytest.mark.parametrize("where", ["home", "set"])
async def test_a_result_that_came_as_a_line_is_pasted_and_kept(where: str) -> None:
    line = known_here()
    async with at(SIZE, AtHome()) as player:
        player.app.screen.post_message(Paste(line if where == "home" else TAKEN.line))
        await player.settle()
        await player.press("enter")
        await player.until(lambda: isinstance(player.app.screen, SetScreen))
        if where == "set":
            wrong = ("X" if line[0] != "X" else "Y") + line[1:]
            player.app.screen.post_message(Paste(wrong))
            await player.until(lambda: "Group 1" in text_of(player.app))
            player.app.screen.post_message(Paste(line))
        await player.until(lambda: "Taken in: Cleo." in text_of(player.app))
        (file,) = (data_folder() / "results").iterdir()
        assert RESULT.unpack(file.read_bytes()).by_line


async def test_a_result_is_pasted_beside_those_that_are_compared() -> None:
    line = known_here()
    handed(data_folder() / "results", handed_in(TAKEN, 1, name="Ada"))
    async with at(SIZE, AtHome()) as player:
        player.app.screen.post_message(Paste(TAKEN.line))
        await player.settle()
        await player.press("enter")
        await player.until(lambda: isinstance(player.app.screen, SetScreen))
        await player.press("down", "down", "down", "enter")
        await player.until(lambda: isinstance(player.app.screen, CompareScreen))
        compared = player.app.screen
        assert isinstance(compared, CompareScreen)
        await player.until(lambda: compared.shown)
        player.app.screen.post_message(Paste(line))
        await player.until(lambda: compared.shown and len(compared.shown.counts) == 2)
        assert "Taken in: Cleo." in text_of(player.app)


async def test_a_set_of_another_version_is_listed_and_says_what_can_be_done() -> None:
    older = TAKEN.model_copy(update={"heat_file": versions.HEAT_FILE - 1})
    keep_set(KeptSet(line=older.line, player="ab" * 8, title="Last year"))
    async with at(SIZE, AtHome()) as player:
        await player.press("s")
        sets = player.app.screen
        assert isinstance(sets, SetsScreen)
        await player.until(lambda: sets.sets)
        await player.press("down", "down")
        shown = " ".join(text_of(player.app).split())
        assert "Last year of another version" in shown
        assert "Made with an older racktempo: its heats stay in the history; play a new set." in shown


async def test_after_the_last_heat_a_key_leads_to_the_result_and_deals_nothing() -> None:
    played_here()
    async with at(SIZE, settings=SETTINGS.model_copy(update={"heats": 1, "seed": 17})) as player:
        player.app.session.take_home = TAKEN.line
        await player.press("enter")
        await player.play_to("over")
        await player.until(lambda: player.model.view and player.model.view.phase == "over")
        await player.press("n")
        await player.until(lambda: isinstance(player.app.screen, SetScreen))
        assert "Hand in your result as a file" in text_of(player.app)
        assert player.line.table.record.phase == "over"
        await player.press("escape")
        assert isinstance(player.app.screen, HomeScreen)


async def test_a_set_is_saved_as_a_file_and_a_picture() -> None:
    made_here(TAKEN, "ab" * 8, "Tuesday", "")
    async with at(SIZE, AtHome()) as player:
        player.app.screen.post_message(Paste(TAKEN.line))
        await player.settle()
        await player.press("enter")
        await player.until(lambda: isinstance(player.app.screen, SetScreen))
        await player.press("up", "up", "up", "enter")
        await player.until(lambda: "Written: " in text_of(player.app))
        files = {path.name: path.read_text() for path in (data_folder() / "sets to hand on").iterdir()}
        assert files.keys() == {"Tuesday.set", "Tuesday.svg"}
        assert TAKEN.line in files["Tuesday.set"]
        assert "<svg" in files["Tuesday.svg"]
