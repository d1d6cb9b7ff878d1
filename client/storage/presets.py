"""Named settings of a host, one TOML file each in the player's config folder.

Players may edit these files. Every fault is reported in a sentence, and a file with faults is neither
used nor touched; the others still serve. Times are "3:00" or plain seconds.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote

from client.setup import Setup
from client.storage.files import config_folder, read_at_most, write_whole
from shared.names import clean_name
from shared.rules.settings import Settings, read_settings
from shared.times import time_ms_of, write_time
from shared.toml import read_table
from shared.troubles import describe_error, quoted

_NAME_CELLS = 40
_LONGEST_FILE = 255
"""Bytes in the name of a file on common systems; every other sign than plain letters takes several."""
_BIGGEST = 64 * 1024
_LONGEST_CARD = 1_024
_TIMES = {"level": "level_ms", "plan_length": "plan_ms", "host_away": "host_away_ms"}
"""What the times are called in a file; the rest have the names of the settings."""


class BadPreset(ValueError):
    """A preset that cannot be used or kept; the message is one or more sentences for a person."""


@dataclass(frozen=True, slots=True)
class Presets:
    """The presets that can be used, by name, and a sentence for each fault in the files of the others."""

    found: Mapping[str, Setup]
    faults: tuple[str, ...]


def presets_folder() -> Path:
    """Return where presets are kept."""
    return config_folder() / "presets"


def preset_path(folder: Path, name: str) -> Path:
    """Return the file of a preset. Raises BadPreset if nothing is left of the name, or too much for a file."""
    cleaned = clean_name(name, cells=_NAME_CELLS)
    if not cleaned:
        raise BadPreset("A preset needs a name.")
    file = f"{quote(cleaned, safe=' ').replace('.', '%2E')}.toml"
    if len(file) > _LONGEST_FILE:
        raise BadPreset(f"{quoted(cleaned)} is too long for the name of a file; use fewer letters.")
    return folder / file


def load_presets(folder: Path) -> Presets:
    """Return all presets of a folder; none if there is no folder."""
    found: dict[str, Setup] = {}
    faults: list[str] = []
    for path in sorted(folder.glob("*.toml")):
        try:
            found[unquote(path.stem)] = read_preset(path)
        except BadPreset as error:
            faults.append(str(error))
    return Presets(found, tuple(faults))


def read_preset(path: Path) -> Setup:
    """Return the settings that a file holds, and the name of the card if it names one.

    Raises:
        BadPreset: every fault of the file, each in a sentence.
    """
    try:
        table = read_table(read_at_most(path, _BIGGEST), _BIGGEST)
    except OSError as error:
        raise BadPreset(f"{path} cannot be read: {describe_error(error)}.") from error
    if isinstance(table, str):
        raise BadPreset(f"{path}: {table}")
    card, faults = card_in(table)
    settings = settings_in({name: value for name, value in table.items() if name != "card"})
    if isinstance(settings, Settings) and not faults:
        return Setup(settings, card)
    raise BadPreset(f"{path}: {' '.join((*faults, *(() if isinstance(settings, Settings) else settings)))}")


def card_in(table: Mapping[str, Any]) -> tuple[str, tuple[str, ...]]:
    """Return the name of the card that a table of TOML says, "" if none, and what is wrong with it."""
    card = table.get("card", "")
    if isinstance(card, str) and len(card) <= _LONGEST_CARD and card.isprintable():
        return card, ()
    return "", (f"card is {card!r}; it must be the name of a card, or its file, in quotes.",)


def settings_in(table: Mapping[str, Any]) -> Settings | tuple[str, ...]:
    """Return the settings that a table of TOML says, or one sentence for each fault."""
    values, faults = _values(table)
    settings = read_settings(values)
    if isinstance(settings, Settings):
        return tuple(faults) or settings
    return (*faults, *settings)


def save_preset(folder: Path, name: str, setup: Setup) -> None:
    """Keep settings and the card's name under a name, in place of what had this name.

    Raises:
        BadPreset: it could not be kept; nothing changed.
    """
    path = preset_path(folder, name)
    try:
        write_whole(path, write_preset(setup).encode())
    except OSError as error:
        raise BadPreset(f"The preset could not be kept in {folder}: {describe_error(error)}.") from error


def write_preset(setup: Setup) -> str:
    """Return a set-up as TOML text that read_preset turns back into the same."""
    settings = setup.settings
    lines, lengths = [f"card = {_toml(setup.card)}"] if setup.card else [], settings.lengths_ms
    names = {field: name for name, field in _TIMES.items()}
    for field, value in settings.model_dump(exclude={"lengths_ms"}, exclude_none=True).items():
        lines.append(f"{names.get(field, field)} = {_toml(write_time(value) if field in names else value)}")
    if lengths:
        lines += ["", "[lengths]", *(f"{_toml(step)} = {_toml(write_time(ms))}" for step, ms in lengths.items())]
    return "\n".join(lines) + "\n"


def _toml(value: str | int | bool) -> str:
    """Return a value as TOML; printable text is written alike in JSON and in TOML."""
    return json.dumps(value, ensure_ascii=False)


def _values(table: Mapping[str, Any]) -> tuple[dict[str, Any], list[str]]:
    """Return the fields of settings that a file's table gives, and what is wrong with its times."""
    values, faults = dict[str, Any](), list[str]()
    for name, value in table.items():
        if name in _TIMES:
            values[_TIMES[name]] = _time(name, value, faults)
        elif name == "lengths" and isinstance(value, dict):
            values["lengths_ms"] = {step: _time(step, length, faults) for step, length in value.items()}
        else:
            values[name] = value
    if faults:
        values = {name: value for name, value in values.items() if value is not None}
        values["lengths_ms"] = {step: ms for step, ms in values.get("lengths_ms", {}).items() if ms is not None}
    return values, faults


def _time(name: str, value: object, faults: list[str]) -> int | None:
    ms = time_ms_of(value)
    if ms is None:
        faults.append(f'{name[:60]} is {quoted(value)}; it must be a time such as "0:45" or 45.')
    return ms
