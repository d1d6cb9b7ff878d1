"""The card is chosen wherever a game is set up; the choice is remembered, and tables are opened with its text."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest

from client.connection.opened import Opened, Opening
from client.setup import ABOUT_CARDS
from client.storage.card_files import BadCard, card_names, cards_folder, table_card
from client.storage.preferences import Storage, disk_storage
from client.tui.app import RacktempoApp
from client.tui.ports import AtHome, AtHost, AtJoin, Openers, Start
from client.tui.screens.desk import DeskSettingsScreen
from client.tui.screens.drills import DrillScreen
from client.tui.screens.home import HomeScreen
from client.tui.screens.host import HostScreen
from client.tui.screens.join import JoinScreen
from client.tui.screens.whole_heats import WholeHeatsScreen
from shared.cards.play import shipped_text
from shared.rules.settings import Settings
from tests.client.frozen import text_of
from tests.client.here import CoachHere
from tests.client.player import AtScreen

OWN = shipped_text("first-evening").replace('"First evening"', '"Pier evening"', 1)


@dataclass
class Doors:
    """Ways in that all stay shut, and the texts of the cards with which they were tried."""

    texts: list[str] = field(default_factory=list)

    def opening(self, *given: object) -> Opening:
        self.texts.append(str(given[-1]))
        return self._shut()

    @asynccontextmanager
    async def _shut(self) -> AsyncIterator[Opened]:
        raise ValueError("The door is shut.")
        yield

    def openers(self) -> Openers:
        def join(address: str, name: str, code: str, card: str, watches: bool) -> Opening:
            return self.opening(address, name, code, card)

        return Openers(self.opening, self.opening, join, drill=self.opening, desk=self.opening)


@asynccontextmanager
async def at(start: Start, storage: Storage | None = None) -> AsyncIterator[tuple[AtScreen, Doors]]:
    """Run the app with the player's real folders, which are empty but for a card of their own."""
    cards_folder().mkdir(parents=True, exist_ok=True)
    (cards_folder() / "pier.toml").write_text(OWN, "utf-8")
    doors = Doors()
    app = RacktempoApp(
        doors.openers(),
        start,
        name="Anna",
        storage=storage or disk_storage(lambda played, name: ""),
        coach=CoachHere(),
        random_bytes=bytes,
    )
    async with app.run_test(size=(80, 24)) as pilot:
        person = AtScreen(app, pilot)
        await person.settle()
        yield person, doors


async def go_to_card(person: AtScreen) -> None:
    await person.press("up", "up", "up")
    assert isinstance(person.app.screen, HomeScreen)


async def test_home_chooses_the_card_that_one_plays_by_and_remembers_it() -> None:
    async with at(AtHome()) as (person, doors):
        await person.press("p", "enter", "q")
        await go_to_card(person)
        assert ABOUT_CARDS in text_of(person.app)
        assert "left right card" in text_of(person.app)
        seen = []
        for _ in range(3):
            await person.press("right")
            seen.append(person.app.card)
            assert f"◂ {person.app.card} ▸" in text_of(person.app)
        assert seen == ["first-evening", "pier", "practice"]
        await person.press("left", "p", "enter", "q", "e")
        assert doors.texts == [shipped_text(), OWN, OWN]
    async with at(AtHome()) as (person, doors):
        assert person.app.card == "pier"
        await person.press("p", "enter")
        assert doors.texts == [OWN]


async def test_the_level_is_changed_by_its_own_arrows_while_the_card_is_in_hand() -> None:
    async with at(AtHome()) as (person, _):
        await go_to_card(person)
        screen = person.app.screen
        assert isinstance(screen, HomeScreen)
        level = screen.level
        screen.do("more level")
        assert (screen.level != level, person.app.card) == (True, "practice")
        await person.press("up", "up")
        screen.do("more card")
        assert person.app.card == "first-evening"


async def test_a_card_that_is_gone_gives_way_to_the_practice_card() -> None:
    async with at(AtHome()) as (person, _):
        person.app.choose_card("pier")
    (cards_folder() / "pier.toml").unlink()
    assert disk_storage(lambda played, name: "").load_card() == "practice"


@pytest.mark.parametrize("content", [b"", b"card = ", b"card = 7", b"card = 'nowhere'", b"\xff", b"x" * 20_000])
def test_a_damaged_choice_is_as_if_nothing_had_been_chosen(content: bytes) -> None:
    storage = disk_storage(lambda played, name: "")
    storage.save_card("first-evening")
    assert storage.load_card() == "first-evening"
    [kept] = (path for path in cards_folder().parent.glob("*.toml"))
    kept.write_bytes(content)
    assert storage.load_card() == "practice"


async def test_the_hosts_form_chooses_a_card_and_opens_the_table_by_it() -> None:
    async with at(AtHost()) as (person, doors):
        screen = person.app.screen
        assert isinstance(screen, HostScreen)
        await person.press(*["down"] * screen.form.place_of("card"))
        assert ABOUT_CARDS in text_of(person.app)
        await person.press("left", "f5")
        assert doors.texts == [OWN]
        assert person.app.card == "pier"
    async with at(AtHost()) as (person, _):
        screen = person.app.screen
        assert isinstance(screen, HostScreen)
        assert screen.form.card == "pier"


async def test_a_card_named_on_the_command_line_is_in_hand_but_not_remembered(tmp_path: Path) -> None:
    path = tmp_path / "river.toml"
    path.write_text(OWN.replace("Pier", "River"), "utf-8")
    async with at(AtHost(card=str(path))) as (person, doors):
        assert "◂ river ▸" in text_of(person.app)
        await person.press("f5")
        assert doors.texts == [OWN.replace("Pier", "River")]
        assert person.app.card == "practice"


async def test_the_settings_of_a_running_evening_have_no_card() -> None:
    async with at(AtHome()) as (person, _):
        person.app.push_screen(DeskSettingsScreen(Settings()))
        await person.settle()
        assert "Card " not in text_of(person.app)
        assert "practice" not in text_of(person.app)


async def test_a_preset_keeps_the_card_and_brings_it_back() -> None:
    async with at(AtHost()) as (person, _):
        screen = person.app.screen
        assert isinstance(screen, HostScreen)
        await person.press(*["down"] * screen.form.place_of("card"), "left")
        await person.press(*["down"] * (screen.form.place_of("save") - screen.form.at), *"club", "enter")
        assert "Kept as club." in text_of(person.app)
        person.app.choose_card("practice")
    async with at(AtHost()) as (person, _):
        screen = person.app.screen
        assert isinstance(screen, HostScreen)
        assert screen.form.card == "practice"
        await person.press(*["down"] * screen.form.place_of("load"), "right")
        assert (screen.form.card, person.app.card) == ("pier", "pier")


async def test_who_joins_takes_a_copy_of_the_card_along() -> None:
    async with at(AtJoin("192.0.2.20", "otter plum")) as (person, doors):
        screen = person.app.screen
        assert isinstance(screen, JoinScreen)
        assert doors.texts == [shipped_text()]  # with everything named, the door is tried at once
        await person.press("up")
        assert "It is never sent." in text_of(person.app)
        await person.press("left", "down", "enter")
        assert doors.texts[1:] == [OWN]
        assert person.app.card == "pier"
    async with at(AtJoin("192.0.2.20", "otter plum", "first-evening")) as (person, doors):
        assert doors.texts == [shipped_text("first-evening")]


async def test_a_drill_is_laid_and_played_by_the_chosen_card(monkeypatch: pytest.MonkeyPatch) -> None:
    async with at(AtHome()) as (person, doors):
        laid_by: list[str] = []
        lay = person.app.coaching.lay

        async def spy(card: str, *given: object) -> object:
            laid_by.append(card)
            return await lay(card, *given)  # type: ignore[arg-type]

        monkeypatch.setattr(person.app.coaching, "lay", spy)
        await person.press("d", "up", "right", "right")
        assert isinstance(person.app.screen, DrillScreen)
        assert ABOUT_CARDS in text_of(person.app)
        assert person.app.card == "pier"
        await person.press("up", "up", "enter")
        assert isinstance(person.app.screen, WholeHeatsScreen)
        await person.press("down", "down", "enter")
        for _ in range(500):
            if doors.texts:
                break
            await person.pilot.pause(0.01)
        assert (laid_by, doors.texts) == ([OWN], [OWN])


async def test_a_card_with_faults_opens_no_table_and_the_first_fault_is_told() -> None:
    def text(name: str) -> str:
        raise BadCard(name, "Stairs, hand 2: too few.", "Stairs, hand 3: too many.")

    broken = replace(disk_storage(lambda played, name: ""), card_text=text)
    async with at(AtHome(), broken) as (person, doors):
        for keys, back in ((("p", "enter"), "q"), (("e",), ""), (("h", "f5"), "escape"), (("d", "down", "enter"), "q")):
            await person.press(*keys)
            await person.settle()
            assert "hand 2: too few. (and 1 more)" in text_of(person.app), keys
            await person.press(*([back] if back else []))
        assert doors.texts == []
    async with at(AtJoin("192.0.2.20", "otter"), broken) as (person, doors):
        assert doors.texts == []
        assert "hand 2: too few. (and 1 more)" in text_of(person.app)


def test_the_text_of_a_card_named_practice_is_the_practice_cards() -> None:
    assert [table_card(name) for name in card_names()[:2]] == [shipped_text(), shipped_text("first-evening")]
