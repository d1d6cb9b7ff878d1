"""What the screens keep between runs, on this machine's disk: presets, heats, and how the player likes it to look."""

import contextlib
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from client.setup import Setup
from client.storage.card_files import PRACTICE, card_names, find_played, table_card
from client.storage.files import config_folder, read_at_most, write_whole
from client.storage.heat_files import heats_folder, keep
from client.storage.presets import BadPreset, load_presets, presets_folder, read_preset, save_preset, write_preset
from client.storage.wall_files import keep_seen, recall_seen
from client.theme import Look, read_look, write_look
from shared.cards.play import SHIPPED
from shared.measures.standings import Played
from shared.rules.settings import Settings
from shared.rules.wall_seen import WallSeen
from shared.toml import read_table
from shared.wire.messages import HeatFile, OwnHeat

_LONGEST_LOOK = 16 * 1024


@dataclass(frozen=True, slots=True)
class Storage:
    """What is kept between runs; the defaults keep nothing.

    load_presets returns the presets and a sentence for each file that cannot be used; save_preset raises
    ValueError with a sentence; keep_heat returns a sentence if it could not be kept; keep_wall does the same with what
    was seen of a wall, which recall_wall returns by table, heat and chair after a restart; keep_evening writes an
    evening's results and returns a sentence about where they are, or why not; find_card returns the text of a card by
    its digest, if it is here; card_names are the cards that can be had by name; card_text raises ValueError with
    sentences; load_card returns the name of the card that was chosen last, load_solo the settings of the last table for
    one (None before the first), load_whose whose times the clock for real tiles took last ("" before the first).
    """

    load_presets: Callable[[], tuple[Mapping[str, Setup], tuple[str, ...]]] = lambda: ({}, ())
    save_preset: Callable[[str, Setup], None] = lambda name, setup: None
    keep_heat: Callable[[HeatFile | OwnHeat], str] = lambda told: ""
    keep_wall: Callable[[WallSeen], str] = lambda seen: ""
    recall_wall: Callable[[str, int, int], WallSeen | None] = lambda table, number, chair: None
    keep_evening: Callable[[tuple[Played, ...], str, int], str] = lambda played, name, least: ""
    find_card: Callable[[str], str] = lambda digest: ""
    load_look: Callable[[], Look] = Look
    save_look: Callable[[Look], None] = lambda look: None
    card_names: Callable[[], tuple[str, ...]] = lambda: tuple(SHIPPED)
    card_text: Callable[[str], str] = table_card
    load_card: Callable[[], str] = lambda: PRACTICE
    save_card: Callable[[str], None] = lambda name: None
    load_solo: Callable[[], Settings | None] = lambda: None
    save_solo: Callable[[Settings], None] = lambda settings: None
    load_whose: Callable[[], str] = lambda: ""
    save_whose: Callable[[str], None] = lambda whose: None


def disk_storage(keep_evening: Callable[[tuple[Played, ...], str, int], str], heats: Path | None = None) -> Storage:
    """Return what keeps things on this machine's disk; heats go to another folder if one is named."""
    folder = heats or heats_folder()

    def keep_heat(told: HeatFile | OwnHeat) -> str:
        kept = keep(told, folder)
        return kept if isinstance(kept, str) else ""

    def load() -> tuple[Mapping[str, Setup], tuple[str, ...]]:
        presets = load_presets(presets_folder())
        return presets.found, presets.faults

    return Storage(
        load_presets=load,
        save_preset=lambda name, setup: save_preset(presets_folder(), name, setup),
        keep_heat=keep_heat,
        keep_wall=keep_seen,
        recall_wall=recall_seen,
        keep_evening=keep_evening,
        find_card=find_played,
        load_look=load_look,
        save_look=save_look,
        card_names=card_names,
        load_card=load_card,
        save_card=save_card,
        load_solo=load_solo,
        save_solo=save_solo,
        load_whose=load_whose,
        save_whose=save_whose,
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


def load_card() -> str:
    """Return the name of the card that was chosen last; the practice card if there is none any more."""
    name = _one_word(_card_path(), "card")
    return name if name in card_names() else PRACTICE


def save_card(name: str) -> None:
    """Keep which card was chosen; if it cannot be kept it is chosen again next time."""
    _keep_word(_card_path(), "card", name)


def load_whose() -> str:
    """Return whose times the clock for real tiles took last; empty before the first."""
    return _one_word(_clock_path(), "times")


def save_whose(whose: str) -> None:
    """Keep whose times the clock takes; if it cannot be kept it is asked again next time."""
    _keep_word(_clock_path(), "times", whose)


def _one_word(path: Path, field: str) -> str:
    try:
        table = read_table(read_at_most(path, _LONGEST_LOOK), _LONGEST_LOOK)
    except OSError:
        return ""
    word = "" if isinstance(table, str) else table.get(field, "")
    return word if isinstance(word, str) else ""


def _keep_word(path: Path, field: str, word: str) -> None:
    with contextlib.suppress(OSError):
        write_whole(path, f"{field} = {json.dumps(word, ensure_ascii=False)}\n".encode())


def load_solo() -> Settings | None:
    """Return the settings of the last table for one; None if there was none or they cannot be read."""
    try:
        return read_preset(_solo_path()).settings
    except BadPreset:
        return None


def save_solo(settings: Settings) -> None:
    """Keep the settings of a table for one; if they cannot be kept they are chosen again next time."""
    with contextlib.suppress(OSError):
        write_whole(_solo_path(), write_preset(Setup(settings)).encode())


def _solo_path() -> Path:
    return config_folder() / "alone.toml"


def _clock_path() -> Path:
    return config_folder() / "clock.toml"


def _card_path() -> Path:
    return config_folder() / "chosen.toml"


def _look_path() -> Path:
    return config_folder() / "look.toml"
