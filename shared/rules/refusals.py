"""Refusals: why an intent was not carried out, as a value with a code and one sentence."""

from dataclasses import dataclass
from typing import Literal

RefusalCode = Literal[
    "too few",
    "too many",
    "not held",
    "too few copies",
    "joker",
    "out of turn",
    "already answered",
    "late",
    "paused",
    "no blind here",
    "other tiles",
    "final",
    "nothing to take back",
    "too often",
    "no such discard",
    "host only",
    "other heat",
    "not now",
    "no such chair",
    "repeated",
    "ended",
    "disk",
    "no such table",
    "no such person",
    "seen",
    "no such value",
]


@dataclass(frozen=True, slots=True)
class Refusal:
    """An intent was refused and the state is unchanged. late_ms is set for "late" only."""

    code: RefusalCode
    text: str
    late_ms: int | None = None


SETTINGS_STAND = Refusal("not now", "Settings change between heats; this heat goes on as it began.")
