"""Simulated people: fast, slow, silent, hostile, leaving and returning ones, each with a client of their own.

A client keeps what it asked until it is answered and sends it again after every cut, as the real one does.
Everything a person does is drawn from the evening's random numbers.
"""

import asyncio
from collections.abc import Callable
from random import Random
from typing import Any

from client.models.wall import WallWatch
from shared.rules.intents import (
    Arrange,
    ChangeSettings,
    Extend,
    FreeChair,
    Intent,
    Leave,
    LetIn,
    LetSee,
    Lift,
    MoveTo,
    NewCode,
    NewSet,
    Offer,
    Pass,
    Pause,
    Plan,
    Ready,
    Resume,
    SeatBot,
    SendOff,
    ShowRack,
    Start,
    TakeBack,
    TakeSeat,
    Vote,
)
from shared.rules.seats import Way
from shared.rules.settings import Settings
from shared.rules.steps import STEPS
from shared.wire.club_views import ClubView
from shared.wire.messages import (
    PROTOCOL,
    TO_CLIENT,
    TO_SERVER,
    TRY_AGAIN,
    Close,
    Command,
    DeskCommand,
    Done,
    Hello,
    Refused,
    Welcome,
)
from shared.wire.views import HeatView, View
from tests.simulation.network import LineClosed, MemoryLink

KINDS = ("fast", "slow", "silent", "hostile", "leaving", "returning")
PATIENCE = 200
"""How often somebody asks for their seat from another machine while no host lets them in."""
Witness = Callable[["Person", object], None]


class Person:
    """One person and their client. connect() gives a new link; witness sees every message that arrives."""

    moves = True
    """Whether they change chairs and machines by themselves, as at a table without a desk."""

    def __init__(
        self, name: str, kind: str, code: str, random: Random, connect: Callable[[str], MemoryLink], witness: Witness
    ) -> None:
        self.name, self.kind, self.code = name, kind, code
        self.random, self._connect, self._witness = random, connect, witness
        self.token: bytes | None = None
        self.table, self.chair = "", -1
        self.wall = WallWatch(random.randbytes)
        self.view: View | None = None
        self.gone = False
        self.done: dict[int, Command | DeskCommand] = {}
        self.refused: dict[int, str] = {}
        self.asked: dict[int, Command | DeskCommand] = {}
        self._next_id, self._turned_away = 1, 0
        self.is_beside = False
        self._beside = Random(f"beside {name} {random.getstate()[1][0]}")
        self._link: MemoryLink | None = None
        self._acting: asyncio.Task[None] | None = None
        self._deaf_s = 0.0
        self._leaves = False
        self.cuts = 0

    # ---- the client

    async def run(self) -> None:
        """Come, play, be cut off and come back, until the person is gone for good."""
        while not self.gone:
            link = self._connect(self.name)
            self._link = link
            link.send(TO_SERVER.pack(self._hello()))
            try:
                await self._listen(link)
            except LineClosed as end:
                self.gone = end.code not in TRY_AGAIN and not self._comes_again()
                self._turned_away = self._turned_away + 1 if end.code == Close.ASKED_HOST else 0
                self.gone = self.gone or self._turned_away > PATIENCE
            except TimeoutError:  # who stands beside a table where nothing happens goes home
                self.gone = self.is_beside and self._beside.random() < 0.2
            link.cut()
            self.cuts += 1
            if self._leaves:  # who comes back after that has started the program anew, which has nothing to send again
                self._leaves, self.wall = False, WallWatch(self.random.randbytes)
                self.asked.clear()
            if self._acting:
                self._acting.cancel()
                self._acting = None
            if self.token and self._has_another_machine():
                self._change_machine()
            await asyncio.sleep(self.random.choice((0.1, 0.2, 0.4, 0.8, 1.0, 5.0)))

    def _has_another_machine(self) -> bool:
        return self.moves and self.random.random() < 0.03

    def _change_machine(self) -> None:
        """Come back from another machine, which knows the name and the code, and asks for the seat."""
        self.token = self.random.randbytes(16)
        self.wall = WallWatch(self.random.randbytes)
        self.asked.clear()

    def _comes_again(self) -> bool:
        """Say whether somebody whose line was ended for good starts their client again."""
        return False

    async def _listen(self, link: MemoryLink) -> None:
        while True:
            await asyncio.sleep(self._deaf_s)
            self._deaf_s = 0.0
            async with asyncio.timeout(90):
                message = TO_CLIENT.unpack(await link.receive())
            if isinstance(message, Welcome):
                self._sit_down(message)
            self._witness(self, message)
            match message:
                case Welcome():
                    for command in self.asked.values():
                        link.send(TO_SERVER.pack(command))
                case Done():
                    if command := self.asked.pop(message.id, None):
                        self.wall.done(command.intent)
                        self.done[message.id] = command
                case Refused():
                    if self.asked.pop(message.id, None):
                        self.refused[message.id] = message.code
                case _:
                    self._look_at(link, message)

    def _hello(self) -> Hello:
        return Hello(protocol=PROTOCOL, name=self.name, code=self.code, token=self.token)

    def _sit_down(self, welcome: Welcome) -> None:
        """Take a place; what was asked from another one and not answered is void."""
        if self.token and (self.table, self.chair) != (welcome.table, welcome.chair):
            self.asked.clear()
        self.token, self.table, self.chair = welcome.token, welcome.table, welcome.chair
        self._next_id = max(self._next_id, welcome.last_id + 1)
        self.wall.connected(welcome.table)

    def _look_at(self, link: MemoryLink, message: object) -> None:
        if isinstance(message, ClubView) and message.one_table:
            self._stand_beside(link)
        self.is_beside = isinstance(message, ClubView) and message.one_table
        if isinstance(message, View):
            self.view = message
            if self.kind != "silent":
                for intent in self.wall.see(message).intents:
                    self.ask(link, intent, message.heat_number)
            self._mind_those_beside(link, message)
            self._begin_to_act(link)

    def _stand_beside(self, link: MemoryLink) -> None:
        """Wait for a chair; now and then go, be cut off, or try what only players may. Drawn apart, as house variants
        are."""
        roll = self._beside.random()
        if roll < 0.004:
            self.ask(link, Leave(), 0)
        elif roll < 0.01:
            link.cut()
        elif roll < 0.04:
            tried: tuple[Intent, ...] = (Ready(), ShowRack(on=True), Pause(), LetSee(place=4, on=True), TakeSeat())
            self.ask(link, self._beside.choice(tried), self._beside.randrange(3))

    def _mind_those_beside(self, link: MemoryLink, view: View) -> None:
        """Let people beside the table see this rack or not; the host lets them see any, or sends them away."""
        if not view.beside:
            return
        roll, one = self._beside.random(), self._beside.choice(view.beside)
        if any(other.sees for other in view.beside) and roll < 0.2:
            self.ask(link, ShowRack(on=self._beside.random() < 0.7), view.heat_number)
        elif view.host and roll < 0.3:
            self.ask(link, LetSee(place=one.place, on=self._beside.random() < 0.7), view.heat_number)
        elif view.host and roll < 0.305:
            self.ask(link, SendOff(place=one.place), view.heat_number)

    def _begin_to_act(self, link: MemoryLink) -> None:
        if self._acting is None or self._acting.done():
            self._acting = asyncio.create_task(self._act(link))

    def ask(self, link: MemoryLink, intent: Intent, heat: int) -> None:
        """Send a command and keep it until it is answered; now and then send it twice."""
        self._send(link, Command(id=self._next_id, heat=heat, intent=intent))
        self._leaves = self._leaves or isinstance(intent, Leave)

    def _send(self, link: MemoryLink, command: Command | DeskCommand) -> None:
        self._next_id += 1
        self.asked[command.id] = command
        frame = TO_SERVER.pack(command)
        for _ in range(self.random.choice((1, 1, 1, 1, 2, 3))):
            link.send(frame)

    # ---- what a person does

    async def _act(self, link: MemoryLink) -> None:
        view = self.view
        assert view is not None
        if self.kind == "silent" and not (view.host or view.keeps):
            return
        await self._mischief(link)
        if view.host or view.keeps:
            await self._keep_the_table(link, view)
        if self.moves and view.phase in ("seating", "between") and self.random.random() < 0.1:
            wishing = [number for number, chair in enumerate(view.chairs) if chair.wish == view.you]
            self.ask(link, MoveTo(chair=wishing[0] if wishing else self.random.randrange(4)), view.heat_number)
        mine = view.chairs[view.you]
        if view.phase in ("seating", "between") and not mine.ready:
            await asyncio.sleep(self.random.uniform(0.2, 20))
            self.ask(link, Ready(), view.heat_number)
        elif view.phase == "heat" and view.heat:
            if mine.sitter == "bot":
                self.ask(link, TakeSeat(), view.heat_number)
            elif view.heat.owes and not view.heat.paused:
                await self._answer(link, view.heat)

    async def _answer(self, link: MemoryLink, heat: HeatView) -> None:
        assert heat.step is not None
        await asyncio.sleep(self._thinking_s(heat))
        now = self.view.heat if self.view else None
        if now is None or now.number != heat.number or now.step != heat.step or not now.owes:
            return
        if STEPS[heat.step].ask in ("pass", "give"):
            self._draft(link, heat)
        intent = self._choice(heat)
        already = [command.intent for command in self.asked.values()]
        if not any(isinstance(asked, Pass) and asked.step == heat.step for asked in already):
            self.ask(link, intent, heat.number)

    def _thinking_s(self, heat: HeatView) -> float:
        left_s = heat.clock.left_ms / 1_000
        if self.kind == "slow":
            return max(0.0, left_s + self.random.uniform(-0.3, 0.5))
        return self.random.uniform(0.05, 0.6) * left_s

    def _draft(self, link: MemoryLink, heat: HeatView) -> None:
        free = [tile for tile in heat.rack if tile != "J"]
        if self.random.random() < 0.5 and heat.give:
            lifted = tuple(self.random.sample(free, self.random.randint(0, min(heat.give, len(free)))))
            self.ask(link, Lift(step=heat.step or "plan", tiles=lifted), heat.number)
        if self.random.random() < 0.3:
            order = list(heat.rack)
            self.random.shuffle(order)
            self.ask(link, Arrange(tiles=tuple(order)), heat.number)

    def _choice(self, heat: HeatView) -> Intent:
        free = [tile for tile in heat.rack if tile != "J"]
        match STEPS[heat.step or "plan"].ask:
            case "vote":
                return Vote(go_on=self.random.random() < 0.7)
            case "offer":
                side: Way = "across" if heat.step == "courtesy offer" else self.random.choice(("right", "left"))
                return Offer(count=self.random.randint(0, 3), to=side)
            case "plan":
                return Plan(hand="", discards=tuple(self.random.sample(heat.rack, self.random.randint(0, 3))))
        blind = min(self.random.choice((0, 0, 0, 1, 2, 3)), heat.most_blind)
        tiles = tuple(self.random.sample(free, max(0, heat.give - blind)))
        return Pass(step=heat.step or "plan", tiles=tiles, blind=blind)

    async def _keep_the_table(self, link: MemoryLink, view: View) -> None:
        roll = self.random.random()
        if view.heat and view.heat.paused:
            await asyncio.sleep(self.random.uniform(0.5, 60))
            self.ask(link, Resume(), view.heat_number)
        elif view.phase == "heat" and roll < 0.02:
            self.ask(link, Pause(), view.heat_number)
        elif view.phase == "heat" and roll < 0.04:
            self.ask(link, Extend(by_ms=self.random.randrange(1_000, 20_000)), view.heat_number)
        elif roll < 0.06:
            other = self.random.randrange(4)
            order = self.random.choice((SeatBot, FreeChair))(chair=other)
            self.ask(link, order, view.heat_number)
        elif (asked := [number for number, chair in enumerate(view.chairs) if chair.asks]) and (
            view.host or roll < 0.3
        ):
            self.ask(
                link, LetIn(chair=asked[0]), view.heat_number
            )  # a guest is refused, and goes on with something else
        elif (view.phase != "heat" and roll < 0.15) or roll < 0.07:
            level_ms = self.random.choice((60_000, 120_000, 180_000))
            settings = view.settings.model_copy(update={"level_ms": level_ms})
            self.ask(link, ChangeSettings(settings=settings), view.heat_number)
        elif roll < 0.075:
            self.ask(link, NewCode(), view.heat_number)
        elif view.phase == "seating" and roll < 0.5:
            await asyncio.sleep(self.random.uniform(5, 40))
            self.ask(link, Start(), view.heat_number)
        elif view.phase == "between" and roll < 0.6:
            await asyncio.sleep(self.random.uniform(30, 90))
            self.ask(link, Start(), view.heat_number)
        elif view.phase == "over" and roll < 0.5:
            await asyncio.sleep(self.random.uniform(5, 40))
            self.ask(link, NewSet(), view.heat_number)

    async def _mischief(self, link: MemoryLink) -> None:
        roll = self.random.random()
        if self.kind == "hostile" and roll < 0.7:
            self._attack(link)
        elif self.kind == "leaving" and roll < 0.02 and not (self.view and self.view.host):
            self.ask(link, Leave(), 0)
            await asyncio.sleep(1)
        elif roll < (0.25 if self.kind == "returning" else 0.04):
            how = self.random.choice(("cut", "silent", "deaf", "second window"))
            if how == "cut":
                link.cut()
            elif how == "silent":
                link.is_silent = True
            elif how == "deaf":
                self._deaf_s = self.random.uniform(1, 30)
            elif self.token:
                again = self._connect(self.name)
                again.send(TO_SERVER.pack(self._hello()))
                await asyncio.sleep(self.random.uniform(0, 2))
                again.cut()

    def _attack(self, link: MemoryLink) -> None:
        heat = self.view.heat if self.view else None
        number = heat.number if heat else 0
        step = heat.step if heat and heat.step else "first right"
        rack = heat.rack if heat else ()
        match self.random.randrange(8):
            case 0:
                link.send(self.random.randbytes(self.random.randrange(1, 60)))
            case 1:
                self.ask(link, Pass(step=step, tiles=("J", *[tile for tile in rack if tile != "J"][:2])), number)
            case 2:
                self.ask(link, Pass(step=step, tiles=rack[:2]), number)
            case 3:
                self.ask(link, Pass(step=step, tiles=rack[:4]), number)
            case 4:
                self.ask(link, Pass(step="last right", tiles=rack[:3], blind=0), number)
            case 5:
                self.ask(link, Pass(step=step, tiles=(*rack[:1], *rack[:1], *rack[:1])), number)
            case 6:
                self.ask(link, self.random.choice((Pause(), Resume(), Start(), FreeChair(chair=0))), number)
            case 7:
                self.ask(link, TakeBack(step=step), number)


def settings_of(random: Random) -> Settings:
    """Draw the settings of an evening. House variants are drawn apart: an evening without them stays what it was."""
    variants = variants_of(Random(f"house {random.getstate()[1][0]}"))
    plain = Settings(
        level_ms=random.choice((60_000, 120_000, 180_000)),
        carry_over=random.random() < 0.5,
        second=random.choice(("offered", "offered", "always", "never")),
        blind=random.random() < 0.8,
        courtesy=random.random() < 0.8,
        plan=random.random() < 0.5,
        plan_ms=10_000,
        heats=random.choice((1, 2, 3)),
        first_east=random.choice(("1", "2", "3", "4", "lot")),
        jokers=random.choice((8, 8, 8, 0)),
        incoming=random.choice(("racks", "racks", "racks", "wall")),
        final_at=random.choice(("commit", "step end")),
        bot_pace=random.choice(("quick", "steady", "slow")),
        open_racks=random.random() < 0.7,
        late=random.choice(("at once", "at once", "next heat")),
        host_away_ms=random.choice((0, 0, 60_000)),
        seed=random.choice((None, None, None, 7)),
    )
    return plain.model_copy(update=variants)


VARIANTS: dict[str, tuple[Any, ...]] = {
    "jokers": (10,),
    "silence": ("stop",),
    "stop_unseen": (True,),
    "blind_most": (1, 2),
    "blind_at": ("last right",),
    "side_courtesy": (True,),
    "east_complete": ("wins",),
}
"""The house variants with the values that are not the default."""


def variants_of(random: Random) -> dict[str, Any]:
    """Draw the house variants: in every other evening none, else each of them as often as not."""
    if random.random() < 0.5:
        return {}
    found = {name: random.choice(values) for name, values in VARIANTS.items()}
    return {name: value for name, value in found.items() if random.random() < 0.5}


def variants_in(settings: Settings) -> bool:
    """Say whether any house variant is played."""
    return any(getattr(settings, name) in values for name, values in VARIANTS.items())
