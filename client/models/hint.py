"""What the coach says of a pass that has been made, where the host wants that: one quiet line, and more on request.

Never of a pass that can still be changed: whoever asks for a hint asks with a pass that is committed. Pure, and without
the coach itself, which is slow to load.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from shared.rules.events import By
from shared.rules.settings import Settings
from shared.rules.steps import STEPS, StepName
from shared.rules.tiles import Rack
from shared.wire.views import HeatView

if TYPE_CHECKING:
    from shared.coach.review import Compared


@dataclass(frozen=True, slots=True)
class Asked:
    """An answer that the coach looks at: of which heat and step, the table's settings, what went, if tiles did, and
    who answered."""

    heat: HeatView
    step: StepName
    settings: Settings
    tiles: Rack
    blind: int
    by: By = "person"


@dataclass(frozen=True, slots=True)
class Hint:
    """What is known of the last pass; compared is None while the coach is at it, trouble says why it never comes."""

    step: StepName
    compared: "Compared | None" = None
    trouble: str = ""

    def line(self) -> str:
        """Return it in a few words."""
        if self.compared is None:
            return f"{self.step}: {self.trouble or 'looking ...'}"
        verdict = self.compared.own.verdict
        return f"{self.step}: {verdict[:1].lower()}{verdict[1:-1]} (y why)"


def pass_made(heat: HeatView | None, settings: Settings | None) -> Asked | None:
    """Return the last pass that this seat has committed for good, if its table gives hints after each pass.

    Where an answer may be taken back until the step ends, nothing is committed for good before that. After the end
    the rack from before the pass is put together again from what went and what came.
    """
    if heat is None or settings is None or settings.hints != "after each pass" or heat.step is None or heat.paused:
        return None
    if heat.answered and settings.final_at == "commit" and STEPS[heat.step].ask in ("pass", "give"):
        now = next(step for step in heat.route if step.state == "now")
        return Asked(heat, heat.step, settings, now.given, now.blind) if now.by == "person" else None
    made = _before(heat, settings)
    if made is None or made.by != "person" or STEPS[made.step].ask not in ("pass", "give"):
        return None
    return made if made.tiles or made.blind else None


def step_closed(heat: HeatView | None, settings: Settings) -> Asked | None:
    """Return the last step that has closed, with the view as it was before it, for the coach to think about ahead.

    Nothing of this is shown before the heat is over.
    """
    return _before(heat, settings) if heat and settings.hints != "none" and not heat.paused else None


def _before(heat: HeatView, settings: Settings) -> Asked | None:
    done = [number for number, step in enumerate(heat.route) if step.state == "done"]
    if not done:
        return None
    at, step = done[-1], heat.route[done[-1]]
    came, face_down = step.came, 0
    if STEPS[step.step].ask == "vote" and at and settings.hides(heat.route[at - 1].step):
        came, face_down = heat.route[at - 1].came, len(heat.route[at - 1].came)
    elif STEPS[step.step].ask == "plan" or len(step.given) != len(came) + heat.face_down:
        return None
    rack = list(heat.rack)
    for tile in came:
        rack.remove(tile)
    route = (
        *heat.route[:at],
        step.model_copy(update={"state": "now"}),
        *(later.model_copy(update={"state": "ahead"}) for later in heat.route[at + 1 :]),
    )
    before = heat.model_copy(
        update={
            "step": step.step,
            "rack": (*rack, *step.given),
            "route": route,
            "give": len(step.given) + step.blind,
            "most_blind": settings.most_blind(step.step),
            "face_down": face_down,
        }
    )
    return Asked(before, step.step, settings, step.given, step.blind, step.by or "person")
