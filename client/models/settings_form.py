"""The host's set-up: every setting as a row that left and right change, or that takes typed figures.

Pure. What is typed is checked by the settings themselves; a bad value leaves the settings as they were and a
sentence that says why.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal, get_args

from client.setup import ABOUT_CARDS, Setup, fitting_name, next_card
from shared.names import clean_name
from shared.rules.settings import Settings, read_settings
from shared.rules.steps import STEP_NAMES, TIMED, StepName
from shared.times import read_time_ms, write_time

SAVE, LOAD, WHO, OPEN, CARD = "save", "load", "who", "open", "card"
FIRST_CHOICE = "carry_over"
_CARD_CELLS = 24
Asked = Literal["", "back", "open", "save"]
"""What a key asks of the screen."""


@dataclass(frozen=True, slots=True)
class Row:
    """A line of a form: what it is called, its value in words, whether it can be changed and takes typing."""

    name: str
    label: str
    value: str
    changes: bool = True
    typed: bool = False


_CHOICES: dict[str, tuple[str, dict[Any, str]]] = {
    "play_for": ("Coach plays for", {"winning": "winning", "values": "values"}),
    "carry_over": ("Unused time is carried over", {True: "yes", False: "no"}),
    "second": (
        "Second Charleston",
        {value: value for value in get_args(Settings.model_fields["second"].annotation)},
    ),
    "silence": ("No answer means", {"go on": "go on", "stop": "stop"}),
    "stop_unseen": ("First left at the vote", {False: "seen", True: "face down"}),
    "blind": ("Blind passes", {True: "allowed", False: "not"}),
    "blind_most": ("Blind tiles at once", {3: "up to 3", 2: "up to 2", 1: "1"}),
    "blind_at": ("Blind passes at", {"both": "left and right", "last right": "last right"}),
    "courtesy": ("Courtesy pass", {True: "yes", False: "no"}),
    "side_courtesy": ("One more, to either side", {False: "no", True: "yes"}),
    "plan": ("Plan step", {True: "yes", False: "no"}),
    "heats": ("Heats in a set", {number: str(number) for number in range(1, 13)}),
    "first_east": (
        "First East",
        {"1": "chair 1", "2": "chair 2", "3": "chair 3", "4": "chair 4", "lot": "by lot"},
    ),
    "jokers": ("Jokers", {8: "8", 10: "10", 0: "none: plain drill"}),
    "east_complete": ("East's complete hand", {"new deal": "new deal", "wins": "East wins"}),
    "incoming": ("Passes come from", {"racks": "racks", "wall": "the wall"}),
    "final_at": ("A pass is final", {"commit": "at once", "step end": "at step's end"}),
    "bot_pace": ("Bots play", {"quick": "quick", "steady": "steady", "slow": "slow", "no wait": "without wait"}),
    "bot_skill": (
        "Bots' skill",
        {value: value for value in get_args(Settings.model_fields["bot_skill"].annotation)},
    ),
    "hints": ("Hints", {"none": "none", "after each pass": "after each pass", "at the end": "at the end"}),
    "open_racks": ("Racks opened at the end", {True: "yes", False: "no"}),
    "late": ("Who comes late plays", {"at once": "at once", "next heat": "next heat"}),
    "host_away_ms": (
        "If the host is away",
        {0: "go on at once", 60_000: "wait 1:00", 180_000: "wait 3:00", 600_000: "wait 10:00"},
    ),
    "same_deal": ("Same deal at every table", {True: "yes", False: "no"}),
}
_MEANS: dict[str, str] = {
    "level": "The time for one whole Charleston, shared out to its steps.",
    "plan_ms": "The plan has a clock of its own.",
    "carry_over": "What is left of a step's time is added to the next one.",
    "second": "Whether it is asked for, always played, or never.",
    "silence": "What the clock answers for who says neither go on nor stop.",
    "stop_unseen": "Whether its tiles are looked at before everybody has said go on or stop.",
    "blind": "At first left and last right, incoming tiles may be passed on unseen.",
    "blind_most": "How many tiles of a pass may go unseen.",
    "blind_at": "At first left and last right, or only at last right.",
    "courtesy": "At the end, those who sit across swap up to three tiles.",
    "side_courtesy": "After that, a swap with the neighbour on the left or the right.",
    "plan": "After the passing, everybody names a hand and their first discards.",
    "heats": "How many Charlestons a set has.",
    "first_east": "Who deals first; the deal moves on with every heat.",
    "jokers": "How many jokers are in the wall; with ten it has 154 tiles.",
    "east_complete": "Seldom: what happens if East is dealt fourteen tiles that win.",
    "incoming": "Whether incoming tiles come from the other racks or from the wall.",
    "final_at": "Whether a pass may be taken back until its step closes.",
    "bot_pace": "How long bots take to answer; without wait: never longer than you.",
    "bot_skill": "How well bots pass.",
    "play_for": "Winning at all, or the hands' values: for coach and bots alike.",
    "hints": "When the coach says what a pass was worth.",
    "open_racks": "Whether everybody sees all racks after a heat.",
    "late": "When a friend who comes late takes over from a bot.",
    "host_away_ms": "After that a guest may pause and start heats. All else stays the host's.",
    "same_deal": "For an evening: all tables play the same tiles, seat for seat.",
    "seed": "A number makes the deals repeatable: to practise, not to compete.",
    CARD: ABOUT_CARDS,
    LOAD: "Left and right take the settings that you kept.",
    SAVE: "Type a name and press enter.",
}
"""What a row sets, if its name and value may not make it clear; one line each."""


@dataclass(frozen=True, slots=True)
class SettingsForm:
    """The form: the settings, the selected row, the text being typed into it, and a sentence.

    player is the host's name, None if it is not asked for; opens is what the last row does. card is the chosen one of
    the cards; where there are none to choose from there is no such row.
    """

    settings: Settings
    presets: Mapping[str, Setup]
    at: int = 0
    typed: str | None = None
    name: str = ""
    preset: str = ""
    player: str | None = ""
    opens: str = "Open the table"
    told: str = ""
    cards: tuple[str, ...] = ()
    card: str = ""

    def rows(self) -> tuple[Row, ...]:
        """Return all rows: the clock first, then the choices, then what to do."""
        settings = self.settings
        times = [Row("level", "Whole Charleston", write_time(settings.level_ms), typed=True)]
        times += [
            Row(step, step.capitalize(), write_time(settings.length_ms(step)) + self._own(step), typed=True)
            for step in TIMED
            if settings.plays(step)
        ]
        total = f"{write_time(settings.total_ms())} of {write_time(settings.level_ms)}"
        times.append(Row("total", "Steps together", total, changes=False))
        times.append(Row("plan_ms", "Plan step's length", write_time(settings.plan_ms), typed=True))
        if self.cards:
            times.append(Row(CARD, "Card", fitting_name(Path(self.card).stem, _CARD_CELLS)))
        choices = [Row(name, label, values[getattr(settings, name)]) for name, (label, values) in _CHOICES.items()]
        seed = "a new one" if settings.seed is None else str(settings.seed)
        choices.append(Row("seed", "Seed of the deal", seed, typed=True))
        known = f"{len(self.presets)} kept" if self.presets else "none kept yet"
        ends = [
            Row(LOAD, "Use a preset", self.preset or known, changes=bool(self.presets)),
            Row(SAVE, "Keep as preset named", self.name, typed=True, changes=False),
            *((Row(WHO, "Your name", self.player, typed=True, changes=False),) if self.player is not None else ()),
            Row(OPEN, self.opens, "", changes=False),
        ]
        shown = (*times, *choices, *ends)
        if self.typed is None:
            return shown
        here = replace(shown[self.at], value=f"{self.typed}_")
        return (*shown[: self.at], here, *shown[self.at + 1 :])

    @property
    def setup(self) -> Setup:
        """What a preset keeps: the settings, and the card where one can be chosen."""
        return Setup(self.settings, self.card if self.cards else "")

    @property
    def row(self) -> Row:
        """The selected row."""
        return self.rows()[self.at]

    @property
    def meaning(self) -> str:
        """What the selected row sets."""
        return _MEANS.get(self.row.name, "")

    @property
    def takes_text(self) -> bool:
        """Whether any character can be typed into the selected row."""
        return self.row.name in (SAVE, WHO)

    def place_of(self, name: str) -> int:
        """Return the number of the row with this name."""
        return next(number for number, row in enumerate(self.rows()) if row.name == name)

    def press(self, key: str) -> tuple["SettingsForm", Asked]:
        """Take a key, or "row N", "less N" and "more N" for clicks; return the form and what the screen is to do."""
        word, _, number = key.partition(" ")
        if number and word in ("row", "less", "more"):
            form = self.moved(int(number))
            if word != "row":
                return form.changed(1 if word == "more" else -1), ""
            return (form.entered(), "open") if form.row.name == OPEN else (form, "")
        if key in ("escape", "f10") or (key == "q" and not self.takes_text):
            return self, "back"
        if key in ("enter", "f5"):
            return self._take_in(key)
        return self._edited(key), ""

    def _take_in(self, key: str) -> tuple["SettingsForm", Asked]:
        form = self.entered()
        if key == "f5" or self.row.name == OPEN:
            return form, "open"
        if self.row.name == LOAD:
            return form.changed(1), ""
        return form, "save" if self.row.name == SAVE and form.name else ""

    def _edited(self, key: str) -> "SettingsForm":
        match key:
            case "up" | "down":
                return self.moved(self.at + (1 if key == "down" else -1))
            case "tab":
                choices = self.place_of(FIRST_CHOICE)
                return self.moved(self.at + choices if self.at < choices else 0)
            case "left" | "right":
                return self.changed(1 if key == "right" else -1)
            case "backspace":
                return self.erased()
            case "space" if self.takes_text:
                return self.typing(" ")
        return self.typing(key) if len(key) == 1 else self

    def saved(self) -> "SettingsForm":
        """Return the form after its settings were kept as a preset by its name."""
        return replace(self, presets={**self.presets, self.name: self.setup}, preset=self.name, name="")

    def moved(self, to: int) -> "SettingsForm":
        """Return the form with another row selected; typed text is applied first."""
        taken = self.entered()
        return replace(taken, at=to % len(self.rows()))

    def changed(self, by: int) -> "SettingsForm":
        """Return the form with the row's value moved on or back."""
        row, form = self.row, replace(self, typed=None, told="")
        if not row.changes:
            return form
        if row.name == LOAD:
            names = sorted(self.presets)
            at = names.index(self.preset) + by if self.preset in names else 0
            chosen = names[at % len(names)]
            return form._with_preset(chosen)
        if row.name == CARD:
            return replace(form, card=next_card(self.cards, self.card, by))
        if row.name in _CHOICES:
            values = list(_CHOICES[row.name][1])
            at = (values.index(getattr(self.settings, row.name)) + by) % len(values)
            return form._with(row.name, values[at])
        if row.name == "seed":
            return form._with(
                "seed", None if self.settings.seed is None and by < 0 else max(0, (self.settings.seed or 0) + by)
            )
        if row.name in ("level", "plan_ms"):
            field = "level_ms" if row.name == "level" else "plan_ms"
            return form._with(field, getattr(self.settings, field) + by * (10_000 if row.name == "level" else 5_000))
        return form._with_length(row.name, self.settings.length_ms(_step(row.name)) // 1_000 * 1_000 + by * 1_000)

    def typing(self, character: str) -> "SettingsForm":
        """Return the form with one more character typed into the row."""
        row = self.row
        fits = character.isprintable() if row.name in (SAVE, WHO) else character in "0123456789:."
        if not row.typed or not fits:
            return self
        return replace(self, typed=((self.typed or "") + character)[:24], told="")

    def erased(self) -> "SettingsForm":
        """Return the form with the last character gone; with none typed, the row goes back to its own default."""
        if self.typed:
            return replace(self, typed=self.typed[:-1])
        row = self.row
        if row.name in self.settings.lengths_ms:
            rest = {step: length for step, length in self.settings.lengths_ms.items() if step != row.name}
            return replace(self, typed=None)._with("lengths_ms", rest)
        return self._with("seed", None) if row.name == "seed" else replace(self, typed=None)

    def entered(self) -> "SettingsForm":
        """Return the form with the typed text applied as the row's value."""
        row, text, form = self.row, self.typed, replace(self, typed=None, told="")
        if not text:
            return form
        if row.name == SAVE:
            return replace(form, name=text.strip())
        if row.name == WHO:
            return replace(form, player=clean_name(text))
        if row.name == "seed":
            return form._with("seed", int(text)) if text.isdigit() else replace(form, told="A seed is a whole number.")
        time_ms = read_time_ms(text)
        if time_ms is None:
            return replace(form, told=f"{text} is not a time: write seconds, or minutes and seconds as 2:30.")
        if row.name == "level":
            return form._with("level_ms", time_ms)
        return form._with("plan_ms", time_ms) if row.name == "plan_ms" else form._with_length(row.name, time_ms)

    def _own(self, step: StepName) -> str:
        return " set" if step in self.settings.lengths_ms else ""

    def _with_preset(self, name: str) -> "SettingsForm":
        setup = self.presets[name]
        told, card = f"These are the settings of {name}.", self.card
        if self.cards and setup.card in self.cards:
            card = setup.card
        elif setup.card:
            told += f" Its card, {setup.card}, is not here." if self.cards else " The card stays as it is."
        return replace(self, preset=name, card=card, told=told)._by(setup.settings)

    def _with_length(self, step: str, length_ms: int) -> "SettingsForm":
        lengths_ms: dict[str, int] = {**self.settings.model_dump()["lengths_ms"], step: length_ms}
        return self._with("lengths_ms", lengths_ms)

    def _with(self, field: str, value: object) -> "SettingsForm":
        values: dict[str, Any] = self.settings.model_dump()
        values[field] = value
        read = read_settings(values)
        return self._by(read) if isinstance(read, Settings) else replace(self, told=" ".join(read))

    def _by(self, settings: Settings) -> "SettingsForm":
        """Return the form with other settings. Steps that they leave out have no row; the row in hand stays in hand."""
        form = replace(self, settings=settings)
        return replace(form, at=form.place_of(self.row.name))


_HOUSE = ("jokers", "silence", "stop_unseen", "blind_most", "blind_at", "side_courtesy", "east_complete")
"""The house variants: most tables play without them."""


def house_rules(settings: Settings) -> str:
    """Return in a sentence which house variants a table plays; nothing if it plays none.

    >>> house_rules(Settings(jokers=10, silence="stop"))
    'House rules: Jokers: 10; No answer means: stop.'
    """
    plain = Settings()
    played = [name for name in _HOUSE if getattr(settings, name) != getattr(plain, name)]
    told = [f"{_CHOICES[name][0]}: {_CHOICES[name][1][getattr(settings, name)]}" for name in played]
    return f"House rules: {'; '.join(told)}." if told else ""


def said_changes(was: Settings, now: Settings) -> tuple[str, ...]:
    """Return in words what is played otherwise than before; the seed is the wall's to tell.

    >>> said_changes(Settings(level_ms=240_000, courtesy=False), Settings())
    ('Clock 3:00, was 4:00', 'Courtesy pass yes, was no')
    """
    pairs = [("Clock", write_time(now.level_ms), write_time(was.level_ms))]
    for step in TIMED:
        if was.lengths_ms.get(step) != now.lengths_ms.get(step):
            pairs.append((step.capitalize(), write_time(now.length_ms(step)), write_time(was.length_ms(step))))
    if now.plan:
        pairs.append(("Plan step's length", write_time(now.plan_ms), write_time(was.plan_ms)))
    for name, (label, values) in _CHOICES.items():
        pairs.append((label, values[getattr(now, name)], values[getattr(was, name)]))
    return tuple(f"{label} {new}, was {old}" for label, new, old in pairs if new != old)


def _step(name: str) -> StepName:
    return next(step for step in STEP_NAMES if step == name)
