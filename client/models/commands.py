"""Commands that wait for an answer: what was sent, and what was done but is not yet in sight.

Pure. Drafts (what is lifted, how the rack is arranged) commit nothing; we do not wait for their answers, and they are
not held here.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from shared.rules.intents import Arrange, Intent, Lift
from shared.wire.desk_intents import DeskIntent


@dataclass(frozen=True, slots=True)
class Commands:
    """The commands of one line by their ids: those not answered yet, and those done since the last view."""

    unanswered: Mapping[int, Intent | DeskIntent] = field(default_factory=dict)
    unseen: Mapping[int, Intent | DeskIntent] = field(default_factory=dict)

    @property
    def on_their_way(self) -> tuple[Intent | DeskIntent, ...]:
        """The commands whose effect no view has shown yet."""
        return (*self.unanswered.values(), *self.unseen.values())

    def sent(self, command_id: int, intent: Intent | DeskIntent) -> "Commands":
        """A command was sent under this id."""
        if isinstance(intent, Lift | Arrange):
            return self
        return replace(self, unanswered={**self.unanswered, command_id: intent})

    def done(self, command_id: int) -> "Commands":
        """The command was done; the next view shows its effect."""
        intent = self.unanswered.get(command_id)
        return self if intent is None else replace(self.refused(command_id), unseen={**self.unseen, command_id: intent})

    def refused(self, command_id: int) -> "Commands":
        """The command was refused and changed nothing."""
        return replace(self, unanswered={key: intent for key, intent in self.unanswered.items() if key != command_id})

    def shown(self) -> "Commands":
        """A view came: it shows the effect of all that was done before."""
        return replace(self, unseen={})
