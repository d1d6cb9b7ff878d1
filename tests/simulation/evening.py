"""One evening of the real server in virtual time, with everything that can go wrong drawn from one seed."""

import asyncio
import hashlib
from concurrent.futures import Executor, Future
from contextlib import AsyncExitStack
from dataclasses import dataclass, field
from random import Random
from typing import Any

from server.admission import Admission
from server.clock import BEAT_MS, STALL_MS, now_ms
from server.records import TableRecord
from server.store import Append, Appends, StoredTable
from server.table.table import Table
from shared.rules.heat import faults
from shared.rules.intents import Resume
from shared.rules.tiles import Tile
from shared.wire.messages import Command, DeskCommand, Done, HeatFile, Refused
from shared.wire.views import View
from tests.loop import VirtualLoop
from tests.simulation.disk import FailingDatabase, SlowStore
from tests.simulation.network import MemoryLink
from tests.simulation.people import KINDS, Person, settings_of, variants_in
from tests.simulation.witness import Broken, Witness, check, is_complete

LIMIT_S = 3 * 3600
PATIENCE_S = 120.0
"""How long after a set somebody may begin another one."""
NAMES = ("Ann", "Bo\x1b[31m", "C\u202ed", "[b]Dora[/b]", "Ann")


@dataclass(slots=True)
class Report:
    """What one evening came to. hash is of every frame with its time; broken is the invariant that failed."""

    seed: int
    hash: str = ""
    heats: int = 0
    events: int = 0
    frames: int = 0
    virtual_s: float = 0.0
    faults: dict[str, int] = field(default_factory=dict)
    broken: str = ""
    detail: str = ""
    trace: list[str] = field(default_factory=list)


def forgiven_at_least(stall_ms: int) -> int:
    """Return how much of a stall the server must give back: it looks every BEAT_MS and lets short ones pass."""
    noticed_ms = stall_ms - BEAT_MS - 1
    return noticed_ms if noticed_ms > STALL_MS else 0


def _lasting(view: View) -> View:
    """Return a view without what a restart may change: the clock, who is connected, and so who acts as host."""
    chairs = tuple(chair.model_copy(update={"connected": False, "host": False, "asks": False}) for chair in view.chairs)
    beside = tuple(one.model_copy(update={"connected": False}) for one in view.beside)
    heat = view.heat
    if heat:
        clock = heat.clock.model_copy(update={"left_ms": 0, "running": False})
        heat = heat.model_copy(update={"clock": clock})
    changed = {"chairs": chairs, "beside": beside, "heat": heat, "settings": view.settings.unseeded()}
    of_now = {"revision": 0, "host": False, "keeps": False, "restored": False, "code": ""}
    return view.model_copy(update={**of_now, **changed})


class Inline(Executor):
    """An executor whose work is done at once, in the caller's thread."""

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> "Future[Any]":
        """Run it now."""
        future: Future[Any] = Future()
        try:
            future.set_result(fn(*args, **kwargs))
        except Exception as error:
            future.set_exception(error)
        return future


class Evening:
    """The host's machine, the network and the people, from one seed."""

    LIMIT_FRAMES = 20_000
    """A lively evening has some hundred frames; one with more turns in circles."""

    def __init__(self, seed: int, loop: VirtualLoop, keep_trace: bool) -> None:
        self.loop, self.report = loop, Report(seed)
        self._began_s = self._over_since_s = loop.time()
        self.random = Random(seed)
        self._keep_trace = keep_trace
        self._hash = hashlib.sha256()
        self._stalled_ms = 0
        self._killed = asyncio.Event()
        self._kills = self._stalls = 0
        self._twins = Random(seed + 4)
        self.twins = 0
        self._links: list[MemoryLink] = []
        self._serving: set[asyncio.Task[None]] = set()
        self._bytes = Random(seed + 1)
        self._asked_at = 0, 0
        wild = self.random.random() < 0.8
        self.disk = FailingDatabase(
            Random(seed + 2),
            kills=0.004 if wild else 0.0,
            fills=0.003 if wild else 0.0,
            written=self._written,
            died=self._killed.set,
            now_ms=now_ms,
        )
        self._delay = self.random.choice((0.0, 0.005, 0.05, 0.3))
        self._disk_s = self.random.choice((0.0, 0.0, 0.01, 0.1, 0.5))
        self.admission: Admission | None = None
        self.people: list[Person] = []
        self._invite()

    def _invite(self) -> None:
        """Draw how the evening is played, and who comes."""
        self.witness = self._new_witness()
        self.settings = settings_of(self.random)
        self.sets = self.random.choice((1, 1, 2, 3))
        count = self.random.choice((1, 2, 3, 4, 4, 5))
        self.people = [self._person(number) for number in range(count)]

    def _new_witness(self, writes: int = 1) -> Witness:
        """Return a witness of one table, for which an answer may wait for so many writes before its own begins."""
        return Witness(lambda: self._asked_at, int(self._disk_s * 1_000) * writes)

    def _person(self, number: int) -> Person:
        kind = "fast" if number == 0 else self.random.choice(KINDS)
        random = Random(self.random.randrange(2**32))
        return Person(NAMES[number], kind, "acorn alder", random, self._connect, self._heard)

    # ---- what everybody passes through

    def _trace(self, way: str, frame: bytes) -> None:
        self.report.frames += 1
        line = f"{self.loop.time():.6f} {way} {hashlib.sha256(frame).hexdigest()[:16]} {len(frame)}"
        self._hash.update(line.encode())
        if self.report.frames > self.LIMIT_FRAMES:
            self._break(Broken("an evening comes to its end", f"{self.LIMIT_FRAMES} frames"))
        if self._keep_trace:
            self.report.trace.append(line)

    def _heard(self, person: Person, message: object) -> None:
        command: Command | DeskCommand | None = None
        if isinstance(message, Done | Refused):
            command = person.asked.get(message.id) or person.done.get(message.id)
        self._note_asked()
        try:
            self._check_heard(person, command, message)
            self._check_wall(person, message)
        except Broken as broken:
            self._break(broken)

    def _check_wall(self, person: Person, message: object) -> None:
        """Every client finds that nothing changes which it was shown of a wall, and that the heat it is told fits."""
        stopped = [seen.stopped for seen in person.wall.seen.values() if seen.stopped]
        check(not stopped, "a table changes nothing that it showed of a wall", " ".join(stopped))
        if isinstance(message, HeatFile):
            judged = person.wall.judge(message.number, message.data, self.complete)
            is_wrong = judged is not None and judged.verdict.text.startswith("THE WALL")
            check(not is_wrong, "every client finds that the wall fits", judged.verdict.text if judged else "")

    def _note_asked(self) -> None:
        for person in self.people:
            for asked in person.asked.values():
                if isinstance(asked, Command):
                    self.witness.asked(person.name, asked)

    def _check_heard(self, person: Person, command: Command | DeskCommand | None, message: object) -> None:
        assert not isinstance(command, DeskCommand)
        self.witness.heard(person.chair if person.token else None, person.token, command, message)

    def _now(self) -> tuple[int, int]:
        return now_ms(), self._stalled_ms

    def _asked(self, asked_at: tuple[int, int]) -> None:
        self._asked_at = asked_at

    def _written(self, appends: Appends) -> None:
        self._note_asked()
        try:
            self._check_written(appends)
        except Broken as broken:
            self._break(broken)

    def _check_written(self, appends: Appends) -> None:
        for append in appends:
            assert isinstance(append, Append)
            self.witness.written(append)
        if self._twins.random() < 0.03:
            self._compare_twin()

    def _compare_twin(self) -> None:
        """A table made from the disk alone shows every chair what the living one shows."""
        if self.admission is None or not self.admission.keepers:
            return
        live, (stored,) = self.admission.keepers[0].table, self.disk.load()
        twin = self._table(stored.record)
        twin.restore(stored.events, stored.finished, now_ms())
        host, running = live.record.host, live.view(0, now_ms()).heat
        if running and not running.paused:
            if host is None:
                return  # nobody is there who could uncover the twin's racks
            twin.command(host, Command(id=2**53, heat=0, intent=Resume()), now_ms())
        for chair in range(4):
            ours, other = _lasting(live.view(chair, now_ms())), _lasting(twin.view(chair, now_ms()))
            check(ours == other, "a rejoined seat sees what a never-cut one sees", f"chair {chair}")
        self.twins += 1

    def _break(self, broken: Broken) -> None:
        if not self.report.broken:
            self.report.broken, self.report.detail = broken.invariant, str(broken)
        self.loop.call_soon(self._killed.set)

    def _connect(self, name: str) -> MemoryLink:
        link = MemoryLink(name, lambda: self.random.random() * self._delay, self._trace)
        if self.admission is None:
            link.cut()
            return link
        self._links.append(link)
        task = asyncio.create_task(self.admission.serve(link))
        self._serving.add(task)
        task.add_done_callback(self._serving.discard)
        return link

    # ---- the host's machine

    def complete(self, card: str, rack: tuple[Tile, ...]) -> bool:
        """Say whether a rack counts as a complete hand this evening."""
        return variants_in(self.settings) and is_complete(card, rack)

    def _table(self, record: TableRecord) -> Table:
        return Table(record, self._bytes.randbytes, lambda: "2026-01-01T00:00:00+00:00", self.complete)

    async def _up(self, stack: AsyncExitStack) -> None:
        """Start the server's process: with an empty disk, or with what the disk holds."""
        store = SlowStore(self.disk, Random(self.random.randrange(2**32)), self._disk_s, self._now, self._asked)
        admission = await stack.enter_async_context(Admission.open(store, Inline()))
        await self._open(admission, self.disk.load())
        self.admission = admission

    async def _open(self, admission: Admission, stored: tuple[StoredTable, ...]) -> None:
        for one in stored:
            self.witness.resumed = one.record.phase == "heat"
            admission.add(self._table(one.record), one)
            return
        record = TableRecord(id="t", name="Boathouse", code="acorn alder", settings=self.settings)
        admission.add(self._table(record))

    async def _down(self, stack: AsyncExitStack) -> None:
        """End the process at once: lines break, nothing is said or stored."""
        self.admission = None
        for task in list(self._serving):
            task.cancel()
        for link in self._links:
            link.cut()
        self._links.clear()
        await stack.aclose()

    async def _nights(self) -> None:
        """Let the machine stall now and then, and die now and then."""
        random = Random(self.report.seed + 3)
        while True:
            await asyncio.sleep(random.uniform(5, 200))
            if random.random() < 0.5:
                by_s = random.uniform(0.02, 3.0)
                self._stalls += 1
                self._stalled_ms += forgiven_at_least(int(by_s * 1_000))
                self.loop.stall(by_s)
            elif random.random() < 0.05:
                self._kills += 1
                self._killed.set()

    async def run(self) -> Report:
        """Play the evening to its end and check what is left on the disk."""
        people = [asyncio.create_task(person.run()) for person in self.people]
        nights = asyncio.create_task(self._nights())
        while not self.report.broken and not self._is_over() and self._has_time():
            self._killed.clear()
            stack = AsyncExitStack()
            await self._up(stack)
            while not self._killed.is_set() and not self._is_over() and self._has_time():
                try:
                    async with asyncio.timeout(5):
                        await self._killed.wait()
                except TimeoutError:
                    pass
            await self._down(stack)
            await asyncio.sleep(self.random.uniform(0.1, 20))
        for task in (*people, nights):
            task.cancel()
        await asyncio.gather(*people, nights, return_exceptions=True)
        self.report.virtual_s = self.loop.time() - self._began_s
        if not self.report.broken:
            try:
                self._last_look()
            except Broken as broken:
                self._break(broken)
        return self._sealed()

    def _has_time(self) -> bool:
        return self.loop.time() - self._began_s < LIMIT_S

    def _is_over(self) -> bool:
        """Whether all sets are played, nobody begins another one, or everybody is gone."""
        if all(person.gone for person in self.people):
            return True
        witness, waited_s = self.witness, self.loop.time() - self._over_since_s
        if witness.phase != "over":
            self._over_since_s = self.loop.time()
            return False
        return len(witness.sets_over) >= self.sets or waited_s > PATIENCE_S

    def _last_look(self) -> None:
        """Every heat that ended is whole on the disk and fits its commitment; the evening came to its end."""
        check(self._is_over(), "an evening comes to its end")
        kept: dict[str, set[int]] = {}
        for table in self.disk.load():
            kept[table.record.id] = {heat.number for heat in table.finished}
            for heat in table.finished:
                wrong = faults(heat.data, self.complete)
                check(not wrong, "a saved heat fits its commitment and the rules", " ".join(wrong))
        for table_id, witness in self._witnesses().items():
            ended = {number for number, heat in witness.heats.items() if heat.ended}
            check(ended == kept.get(table_id, set()), "every heat that ended is kept", f"{ended} {kept}")

    def _witnesses(self) -> dict[str, Witness]:
        return {"t": self.witness}

    def _sealed(self) -> Report:
        report = self.report
        report.hash = self._hash.hexdigest()
        witnesses = tuple(self._witnesses().values())
        report.heats = sum(heat.ended for witness in witnesses for heat in witness.heats.values())
        report.events = sum(witness.events for witness in witnesses)
        report.faults = {
            **self.disk.faults,
            "killed between writes": self._kills,
            "stalls": self._stalls,
            "twins compared": self.twins,
            "racks seen beside a table": sum(witness.seen_beside for witness in witnesses),
            "lines ended": sum(person.cuts for person in self.people),
            "refusals": sum(len(person.refused) for person in self.people),
        }
        return report


def play(seed: int, keep_trace: bool = False, kind: type[Evening] = Evening) -> Report:
    """Play the evening of a seed in a loop of its own."""
    with asyncio.Runner(loop_factory=lambda: VirtualLoop(has_sockets=False)) as runner:
        loop = runner.get_loop()
        assert isinstance(loop, VirtualLoop)

        async def evening() -> Report:
            return await kind(seed, loop, keep_trace).run()

        return runner.run(evening())
