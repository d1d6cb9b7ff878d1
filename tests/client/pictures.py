"""Pictures of the screens as SVG: python -m tests.client.pictures FOLDER. For the README and for looking at them."""

import argparse
import asyncio
from pathlib import Path
from tempfile import TemporaryDirectory

from client.theme import Look
from client.tui.ports import AtHome, AtHost, AtJoin, AtWriter
from client.tui.screens.card_writer import CardWriterScreen
from client.tui.screens.review import ReviewScreen
from shared.rules.settings import Settings
from tests.client.player import Player, at

SIZES = ((80, 24), (120, 40))


def keep(player: Player, folder: Path, name: str) -> None:
    """Write what is on the screen as an SVG file whose spaces every viewer keeps."""
    picture = player.app.export_screenshot(title="racktempo").replace("<text ", '<text xml:space="preserve" ')
    size = player.app.size
    (folder / f"{name}-{size.width}x{size.height}.svg").write_text(picture, "utf-8")


async def draw_forms(folder: Path, size: tuple[int, int]) -> None:
    """Draw the screens before a table is open."""
    for name, start in (("home", AtHome()), ("host", AtHost()), ("join", AtJoin())):
        async with at(size, start) as player:
            keep(player, folder, name)


async def draw_writer(folder: Path, size: tuple[int, int]) -> None:
    """Draw the card writer: what is free about an example, and a hand whose groups can be turned."""
    with TemporaryDirectory() as own:
        async with at(size, AtWriter(str(Path(own) / "pier evening.toml"))) as player:
            screen = player.app.screen
            assert isinstance(screen, CardWriterScreen)
            await player.until(lambda: screen.model.field)
            for keys in (
                ["escape", "h", *"Waves", "enter", *"FFFF 111b 2222b 333b", "enter", "enter"],
                [*"FF 444b 555c 666d GGG", "enter", "3", "0", "enter", "h", *"This year", "enter"],
                [*"2026b NNN EE WW SSS", "enter", "o", *"2026b NN EEE WWW SS", "enter", "enter"],
                [*"FFFFFF 4444b 4444c"],
            ):
                await player.press(*("space" if key == " " else key for key in keys))
            await player.until(lambda: screen.is_saved)
            keep(player, folder, "write-choose")
            await player.press("down", "enter", "enter", *"1133b", "escape", *["up"] * 5, "right", "right")
            await player.until(lambda: screen.is_saved)
            keep(player, folder, "write-hand")


async def draw_heat(folder: Path, size: tuple[int, int], look: Look, suffix: str = "") -> None:
    """Draw one heat from its seats to its end."""
    async with at(size, settings=Settings(seed=7), look=look) as player:
        keep(player, folder, f"seats{suffix}")
        await player.press("enter")
        await player.press("v", "z", "z", "down", "r", "w", *"kong")
        keep(player, folder, f"card{suffix}")
        await player.press("escape", "v")
        player.line.pass_time(21_300)
        await player.press(*player.free()[:2])
        keep(player, folder, f"pass{suffix}")
        await player.press(player.free()[2], "enter")
        for step in ("first left", "go on", "courtesy offer", "courtesy give", "the end"):
            await player.others_play()
            await player.play_to(step)
            player.line.pass_time(2_400)
            await player.settle()
            keep(player, folder, step.replace(" ", "-") + suffix)
        await player.until(lambda: player.model.own)
        await player.press("r")
        screen = player.app.screen
        assert isinstance(screen, ReviewScreen)
        await player.until(lambda: screen.looking().done == 1)
        keep(player, folder, f"review-glance{suffix}")
        await player.press("right", "s")
        keep(player, folder, f"review-step{suffix}")


async def draw_all(folder: Path) -> None:
    """Draw everything in both sizes, the heat in the light theme too."""
    for size in SIZES:
        await draw_forms(folder, size)
        await draw_writer(folder, size)
        await draw_heat(folder, size, Look())
        await draw_heat(folder, size, Look("light"), "-light")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(prog="python -m tests.client.pictures", description=__doc__)
    parser.add_argument("folder", type=Path)
    where = parser.parse_args().folder
    where.mkdir(parents=True, exist_ok=True)
    asyncio.run(draw_all(where))
