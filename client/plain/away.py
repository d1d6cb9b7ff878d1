"""Who is away at a table in plain lines, and the offer of a bot some time after. Pure."""

from dataclasses import dataclass, field

from client.models.host import AWAY_MS
from client.plain.sentences import name_of
from shared.wire.views import View


@dataclass(slots=True)
class Away:
    """When a bot is to be offered for whom: due_ms by chair. Each is offered once for every time away."""

    due_ms: dict[int, int] = field(default_factory=dict)

    def see(self, old: View | None, view: View, now_ms: int) -> None:
        """Take in a view; only who may put a bot on a chair is offered one."""
        if view.heat is None or not (view.host or view.keeps):
            self.due_ms.clear()
            return
        for chair, seated in enumerate(view.chairs):
            if seated.sitter != "person" or seated.connected:
                self.due_ms.pop(chair, None)
            elif old is None or old.heat is None or old.chairs[chair].connected or not (old.host or old.keeps):
                self.due_ms[chair] = now_ms + AWAY_MS

    def offers(self, view: View | None, now_ms: int) -> list[str]:
        """Return the offers that are due now, in sentences."""
        due = [chair for chair, at_ms in self.due_ms.items() if at_ms <= now_ms]
        for chair in due:
            del self.due_ms[chair]
        names = {chair: name_of(view.chairs[chair]) for chair in due} if view else {}
        return [f"{name} is away. bot {chair + 1}: a bot plays until {name} is back." for chair, name in names.items()]
