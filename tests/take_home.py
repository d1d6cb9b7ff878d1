"""Sets to take home for tests: made, played by invented people in virtual time, and handed in."""

import random

from server.host import new_record
from server.table import bots
from server.table.coaches import Think, thinker
from shared.cards.owned import told_card
from shared.cards.play import complete, shipped_text
from shared.rules.heat import SavedHeat
from shared.rules.set_line import TakeHome, taken_home
from shared.rules.set_result import SetResult, bare
from shared.rules.settings import Settings
from tests.tables import Evening

SETTINGS = Settings(incoming="wall", bot_pace="no wait", bot_skill="simple", level_ms=120_000, heats=3)


def made(settings: Settings = SETTINGS, seed: int = 17, card: str = "") -> TakeHome:
    """Return a set by the practice card, or by another."""
    found = taken_home(settings, told_card(card or shipped_text()).digest, seed)
    assert isinstance(found, TakeHome), found
    return found


def played(taken: TakeHome, who: int, heats: int | None = None, card: str = "") -> tuple[SavedHeat, ...]:
    """Return the heats that somebody played: each person passes other tiles and takes other times."""
    text = card or shipped_text()
    record = new_record(taken.settings, "Take home", text).with_(id=f"{who:016x}")
    think: Think = bots.choose if taken.settings.bot_skill == "simple" else thinker(taken.settings, text)
    shared = told_card(text).text
    evening = Evening(
        people=0, seed=who, think=think, record=record, complete=lambda _, rack: bool(shared) and complete(shared, rack)
    )
    evening.join(f"Person {who}")
    dice = random.Random(who)
    while len(evening.finished) < (heats or taken.settings.heats):
        if evening.table.record.phase != "heat":
            evening.ready()
        evening.wait(dice.randrange(500, 9_000))
        evening.people_answer()
    return tuple(evening.finished)


def handed_in(taken: TakeHome, who: int, heats: tuple[SavedHeat, ...] = (), **other: object) -> SetResult:
    """Return the result of a person who played a set."""
    found = {
        "line": taken.line,
        "player": f"{who:016x}",
        "name": f"Person {who}",
        "heats": tuple(bare(heat) for heat in heats or played(taken, who)),
    }
    return SetResult.model_validate({**found, **other})


def of_practice(_: str, rack: tuple[str, ...]) -> bool:
    """Say whether a rack is a finished hand of the practice card."""
    return complete(shipped_text(), rack)
