"""What the screens keep between runs, on this machine's disk: presets, heats, and how the player likes it to look."""

import contextlib
from collections.abc import Mapping
from pathlib import Path

from client.reports.evening_files import keep_evening
from client.storage.files import config_folder, read_at_most, write_whole
from client.storage.heat_files import heats_folder, keep
from client.storage.presets import load_presets, presets_folder, save_preset
from client.theme import Look, read_look, write_look
from client.tui.ports import Shelf
from shared.rules.settings import Settings
from shared.toml import read_table
from shared.wire.messages import HeatFile, OwnHeat

_LONGEST_LOOK = 16 * 1024


def disk_shelf(heats: Path | None = None) -> Shelf:
    """Return the shelf on this machine's disk; heats go to another folder if one is named."""
    folder = heats or heats_folder()

    def keep_heat(told: HeatFile | OwnHeat) -> str:
        kept = keep(told, folder)
        return kept if isinstance(kept, str) else ""

    def load() -> tuple[Mapping[str, Settings], tuple[str, ...]]:
        presets = load_presets(presets_folder())
        return presets.found, presets.faults

    return Shelf(
        load_presets=load,
        save_preset=lambda name, settings: save_preset(presets_folder(), name, settings),
        keep_heat=keep_heat,
        keep_evening=keep_evening,
        load_look=load_look,
        save_look=save_look,
    )


def load_look() -> Look:
    """Return the look that was kept; what cannot be read is as if it had not been chosen."""
    try:
        table = read_table(read_at_most(_look_path(), _LONGEST_LOOK), _LONGEST_LOOK)
    except OSError:
        return Look()
    return read_look({} if isinstance(table, str) else table)


def save_look(look: Look) -> None:
    """Keep a look; if it cannot be kept it is chosen again next time."""
    with contextlib.suppress(OSError):
        write_whole(_look_path(), write_look(look).encode())


def _look_path() -> Path:
    return config_folder() / "look.toml"
