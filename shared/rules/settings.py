"""How a table plays: every choice a host has, with its range and its default.

House rules differ; if a table's own sheet says otherwise, the sheet wins. A bad value gives one sentence with the
field, the value and the range. The levels (4:00, 3:00 and 2:00 for a whole Charleston) are common practice among
those who train it; we know no published source.
"""

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationError

from shared.records import Record
from shared.rules.steps import FIRST, STEPS, TIMED, StepName
from shared.troubles import quoted

LEVELS_MS = (100_000, 120_000, 180_000, 240_000)
"""The levels that a screen offers; any other can be typed."""
Millis = Annotated[int, Field(ge=1_000, le=600_000, description="1 to 600 seconds")]


class Settings(Record):
    """Everything that shapes a set of heats; times in milliseconds."""

    level_ms: int = Field(180_000, ge=10_000, le=1_800_000, description="0:10 to 30:00")
    lengths_ms: dict[StepName, Millis] = Field({}, description="1 to 600 seconds")
    carry_over: bool = Field(True, description="true or false")
    second: Literal["offered", "always", "never"] = Field("offered", description="offered, always or never")
    silence: Literal["go on", "stop"] = Field("go on", description="go on or stop")
    stop_unseen: bool = Field(False, description="true or false")
    blind: bool = Field(True, description="true or false")
    blind_most: Literal[3, 2, 1] = Field(3, description="3, 2 or 1")
    blind_at: Literal["both", "last right"] = Field("both", description="both or last right")
    courtesy: bool = Field(True, description="true or false")
    side_courtesy: bool = Field(False, description="true or false")
    plan: bool = Field(False, description="true or false")
    plan_ms: Millis = Field(30_000, description="1 to 600 seconds")
    heats: int = Field(3, ge=1, le=12, description="a whole number from 1 to 12")
    first_east: Literal["1", "2", "3", "4", "lot"] = Field("1", description="1, 2, 3, 4 or lot")
    jokers: Literal[8, 10, 0] = Field(8, description="8, 10 or 0")
    east_complete: Literal["new deal", "wins"] = Field("new deal", description="new deal or wins")
    incoming: Literal["racks", "wall"] = Field("racks", description="racks or wall")
    final_at: Literal["commit", "step end"] = Field("commit", description="commit or step end")
    bot_pace: Literal["quick", "steady", "slow", "no wait"] = Field(
        "steady", description='quick, steady, slow or "no wait"'
    )
    bot_skill: Literal["simple", "coach, distracted", "coach, at a glance", "coach, thinking ahead"] = Field(
        "coach, at a glance",
        description='"simple", "coach, distracted", "coach, at a glance" or "coach, thinking ahead"',
    )
    hints: Literal["none", "after each pass", "at the end"] = Field(
        "at the end", description="none, after each pass or at the end"
    )
    play_for: Literal["winning", "values"] = Field("winning", description="winning or values")
    open_racks: bool = Field(True, description="true or false")
    late: Literal["at once", "next heat"] = Field("at once", description="at once or next heat")
    host_away_ms: Literal[0, 60_000, 180_000, 600_000] = Field(60_000, description="0:00, 1:00, 3:00 or 10:00")
    same_deal: bool = Field(False, description="true or false")
    seed: int | None = Field(None, ge=0, le=2**63 - 1, description="a whole number from 0 to 2^63 - 1")

    def length_ms(self, step: StepName) -> int:
        """Return a step's length: the host's if set, else its share of the level."""
        share_ms = self.plan_ms if step == "plan" else max(1_000, self.level_ms * STEPS[step].share // 100)
        return self.lengths_ms.get(step, share_ms)

    def plays(self, step: StepName) -> bool:
        """Say whether a table with these settings plays a step, if nothing that happens leaves it out."""
        return all(getattr(self, field) in values for field, values in STEPS[step].played_if)

    def most_blind(self, step: StepName) -> int:
        """Return how many tiles may be passed on unseen at a step."""
        return self.blind_most if self.blind and self.blind_at in STEPS[step].blind_at else 0

    def gives(self, step: StepName) -> tuple[int, ...]:
        """Return how many own tiles a seat may give at one of the six passes; what is left of three goes unseen."""
        return tuple(range(3, 2 - self.most_blind(step), -1))

    def hides(self, step: StepName) -> bool:
        """Say whether the tiles of a pass stay face down until everybody has said go on or stop."""
        return self.stop_unseen and step == FIRST[-1] and self.plays("go on")

    def total_ms(self) -> int:
        """Return the length of all steps that a Charleston can have here, without the plan step."""
        return sum(self.length_ms(step) for step in TIMED if self.plays(step))

    def unseeded(self) -> "Settings":
        """Return the settings without the seed, from which anybody could compute every wall of the set."""
        return self.model_copy(update={"seed": None})


def read_settings(values: Mapping[str, Any]) -> Settings | tuple[str, ...]:
    """Return the settings, or one sentence for each bad value."""
    try:
        return Settings.model_validate(dict(values))
    except ValidationError as error:
        return tuple(_sentence(fault["loc"], fault["input"]) for fault in error.errors(include_url=False))


def _sentence(where: tuple[int | str, ...], value: object) -> str:
    field = str(where[0]) if where else "settings"
    if field not in Settings.model_fields:
        return f"There is no setting named {quoted(field)}."
    label = " ".join(str(part).removesuffix("_ms") for part in where if part != "[key]")
    if where[-1] == "[key]":
        return f"{field} names {quoted(value)}, which is not a step of the Charleston: use {', '.join(STEPS)}."
    shown = quoted(value)
    if field.endswith("_ms") and isinstance(value, int) and not isinstance(value, bool):
        shown = f"{value / 1000:g} s"
    return f"{label} is {shown}; it must be {Settings.model_fields[field].description}."
