"""A person of a soak: the product's own client, a bird's choices after a moment, and a list of what was promised."""

import asyncio
from random import Random

from client.connection.address import Address
from client.connection.link import Connected, Ended, Heard, Link
from client.models.wall import WallWatch
from server.table.bots import choose
from shared.rules.intents import Intent, NewSet, Pass, Ready, Resume, TakeSeat
from shared.rules.wall import Stream
from shared.wire.messages import Done, Refused
from shared.wire.views import View


class Person:
    """Plays as long as it is let. acknowledged holds every pass that the table said was done, by chair and heat."""

    def __init__(self, name: str, port: int, code: str, random: Random) -> None:
        self.name, self._random = name, random
        self._address, self._code = Address("127.0.0.1", port), code
        self._token = random.randbytes(16)
        self._wall = WallWatch(random.randbytes)
        self._asked: dict[int, tuple[int, int, Intent]] = {}
        self._acting: asyncio.Task[None] | None = None
        self._link: Link | None = None
        self._last: tuple[object, ...] = ()
        self.view: View | None = None
        self.acknowledged: list[tuple[int, int, Pass]] = []
        self.refused = self.connections = self.relaunches = 0
        self.ended: list[str] = []

    async def run(self) -> None:
        """Sit at the table with one client after the other; each newly started one regains the seat by its token."""
        while True:
            self._link, self._asked, self._last = self._new_link(), {}, ()
            await self._link.run(self._hear)
            if self._acting:
                self._acting.cancel()
            self.relaunches += 1
            await asyncio.sleep(0.3)

    async def leave(self) -> None:
        """Be gone without a further word; run has been cancelled."""
        if self._acting:
            self._acting.cancel()
            await asyncio.gather(self._acting, return_exceptions=True)

    def relaunch(self) -> None:
        """End this client, as a player does who closes the window; run starts the next one."""
        if self._link:
            self._link.close()

    def _new_link(self) -> Link:
        return Link(self._address, self.name, self._code, self._token, self._remember)

    def _remember(self, token: bytes) -> None:
        self._token = token

    def _hear(self, heard: Heard) -> None:
        match heard:
            case Connected():
                self.connections += 1
                self._wall.connected(heard.welcome.table)
                self._last = ()
            case Ended():
                self.ended.append(heard.text)
            case Done():
                chair, heat, intent = self._asked.pop(heard.id)
                if isinstance(intent, Pass):
                    self.acknowledged.append((chair, heat, intent))
            case Refused():
                self._asked.pop(heard.id, None)
                self.refused += 1
                self._last = ()
            case View():
                self.view = heard
                for intent in self._wall.see(heard).intents:
                    self._ask(heard, intent)
                if self._acting is None or self._acting.done():
                    self._acting = asyncio.create_task(self._act())

    async def _act(self) -> None:
        """Answer what the newest view asks, once for each question."""
        while (view := self.view) and (intent := self._wanted(view)) and self._question(view) != self._last:
            self._last = self._question(view)
            await asyncio.sleep(self._random.uniform(0.02, 0.4))
            if self.view and self._question(self.view) == self._last:
                self._ask(view, intent)
            else:
                self._last = ()

    def _question(self, view: View) -> tuple[object, ...]:
        heat = view.heat
        asks = (heat.step, heat.owes, heat.paused) if heat else ()
        return view.phase, view.heat_number, view.host, view.chairs[view.you].sitter, *asks

    def _wanted(self, view: View) -> Intent | None:
        heat = view.heat
        if view.phase == "over":
            return NewSet() if view.host else None
        if heat is None:
            return None if view.chairs[view.you].ready else Ready()
        if view.chairs[view.you].sitter == "bot":
            return TakeSeat()
        if heat.paused:
            return Resume() if view.host else None
        if not heat.owes:
            return None
        return choose(heat, Stream(self._random.randbytes(16), "soak"))

    def _ask(self, view: View, intent: Intent) -> None:
        assert self._link
        number = self._link.ask(intent, view.heat_number)
        self._asked[number] = (view.you, view.heat_number, intent)
