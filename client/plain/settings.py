"""The settings of a table in plain lines: what can be set, the settings after one was, and the rules by them. Pure."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from client.models.settings_form import LOAD, OPEN, SAVE, Row, SettingsForm
from client.reports.rules import GLOSSARY, found_in, rules_of
from client.setup import Setup
from shared.rules.settings import Settings

_ALSO = {"level": "clock", LOAD: "preset"}
"""What rows are called besides."""


def settable(settings: Settings, presets: Mapping[str, Setup]) -> list[str]:
    """Return every setting with its value, a line each."""
    rows = _rows(SettingsForm(settings, presets))
    return [*(f"{row.label}: {row.value}." for row in rows), "Host, between heats: set clock 3:00, or set preset NAME."]


def set_by(settings: Settings, presets: Mapping[str, Setup], words: Iterable[str]) -> Settings | str:
    """Return the settings with one of them set, or a sentence why not."""
    line = " ".join(words).lower()
    form = SettingsForm(settings, presets)
    for row in sorted(_rows(form), key=lambda row: -len(row.label)):
        for name in (row.label.lower(), _ALSO.get(row.name, "")):
            if name and line.startswith(f"{name} "):
                return _set(replace(form, at=form.place_of(row.name)), line.removeprefix(name).strip())
    return "No setting has this name; write set alone for all of them."


def _set(form: SettingsForm, value: str) -> Settings | str:
    if form.row.typed:
        after = replace(form, typed=value).entered()
        return after.told or after.settings
    known, after = list[str](), form
    while (after := after.changed(1)).row.value not in known:
        known.append(after.row.value)
        if after.row.value.lower() == value:
            return after.settings
    return f"{form.row.label} can be {', '.join(known)}."


def _rows(form: SettingsForm) -> list[Row]:
    return [row for row in form.rows() if (row.changes or row.typed) and row.name not in (SAVE, OPEN)]


def rules_lines(settings: Settings, word: str) -> list[str]:
    """Return the rules of the table, or what the glossary says about a word."""
    if not word:
        told = [f"{section.title}: {' '.join(section.lines)}" for section in rules_of(settings)]
        return [*told, f"To look a word up, write rules and the word. The words are {', '.join(GLOSSARY)}."]
    found = [f"{name}: {means}" for name, means in found_in(word)]
    return found or [f"The glossary has no word like {word}. Write rules alone for all of its words."]
