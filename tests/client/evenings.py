"""An invented evening at the Boathouse: six tables, three heats, the same deals everywhere. Nobody in it is real."""

from random import Random

from shared.measures.standings import Played, Spent
from shared.rules.settings import Settings
from shared.rules.steps import STEP_NAMES

# fmt: off
PEOPLE = (
    "Ada", "Alba", "Bea", "Ben", "Cleo", "Cosmo", "Dora", "Dov", "Elif", "Enzo", "Fay", "Finn",
    "Gita", "Gus", "Hana", "Hugo", "Ines", "Ivo", "Juno", "Jens", "Kira", "Kofi", "Lena", "Lars",
)
# fmt: on
_LEVEL = Settings(level_ms=120_000)
_STEPS = tuple(step for step in STEP_NAMES if step != "plan")


def invented_evening(seed: int = 1) -> tuple[Played, ...]:
    """Everybody has a pace and a care of their own; a bot sits in once, and the last table was not reviewed."""
    dice = Random(seed)
    pace = {name: dice.uniform(0.5, 1.05) for name in PEOPLE}
    care = {name: dice.uniform(0.1, 2.5) for name in PEOPLE}
    return tuple(
        _played(name, heat, place, pace[name], care[name], dice)
        for heat in (1, 2, 3)
        for place, name in enumerate(PEOPLE)
    )


def _played(name: str, heat: int, place: int, pace: float, care: float, dice: Random) -> Played:
    table, chair = divmod(place, 4)
    spent = tuple(
        Spent(step=step, spent_ms=round(length_ms * pace * dice.uniform(0.6, 1.2)), length_ms=length_ms)
        for step in _STEPS
        for length_ms in (_LEVEL.length_ms(step),)
    )
    is_reviewed = table < 5
    return Played(
        heat=heat,
        table=f"Boathouse {table + 1}",
        seat=(chair + heat - 1) % 4,
        person=name.lower(),
        name=name,
        bot=(heat, place) == (2, 7),
        total_ms=sum(one.spent_ms for one in spent),
        level_ms=sum(one.length_ms for one in spent),
        timeouts=int(pace > 1 and dice.random() < 0.5),
        loss=round(care * 7 * dice.uniform(0.5, 1.5), 3) if is_reviewed else None,
        unforced=7 if is_reviewed else 0,
        points=round(dice.uniform(2, 40), 1) if is_reviewed else None,
        deal=f"deal {heat}",
        spent=spent,
    )
