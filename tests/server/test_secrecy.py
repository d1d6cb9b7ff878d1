"""A hidden tile reaches nobody: deal a table twice, alike in all that one seat may see and in nothing else, play both
alike, and every byte that this seat is sent is the same, at the same moment, in the same order.

Tiles are followed as 152 single things with a number each; a second world gives other kinds to all those that the
seat never sees before the reveal. Jokers stay jokers in the racks, for they change what is legal.
"""

import random
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field

import pytest

from server.kept import KeptHeat
from server.table.output import Built, Joined, Output, Rejected
from server.table.table import Table
from shared.cards.play import shipped_text
from shared.codec import BadFrame
from shared.rules import charleston
from shared.rules.exchange import settle
from shared.rules.heat import dice_of
from shared.rules.intents import Arrange, Intent, Leave, LetIn, Lift, MoveTo, Offer, Pass, Ready, Vote
from shared.rules.seats import SEATS, PerSeat, Seat
from shared.rules.settings import Settings
from shared.rules.steps import STEPS, StepName
from shared.rules.tiles import JOKER, Rack, Tile, by_suit, full_set
from shared.rules.wall import wall_key
from shared.wire.messages import TO_CLIENT, Command, Held, OwnHeat, Refused
from shared.wire.views import View
from tests.server.players import counted_bytes, make_table
from tests.tables import framed

SETTINGS = Settings(seed=7, heats=2, open_racks=False, courtesy=True)
CUTS = (0, 14, 27, 40, 53)
Heard = list[tuple[int, bytes]]
"""What one chair was sent: the moment and the bytes."""


@dataclass(frozen=True)
class World:
    """A deal: the kind of each of the 152 numbered tiles; the first 53 are the racks from East on."""

    kinds: tuple[Tile, ...]

    def of(self, numbers: list[int]) -> Rack:
        return tuple(self.kinds[number] for number in numbers)

    def deal(self, wall: Rack) -> tuple[PerSeat[Rack], Rack]:
        racks = PerSeat.of(lambda seat: by_suit(self.kinds[CUTS[seat] : CUTS[seat + 1]]))
        return racks, self.kinds[CUTS[4] :]


@dataclass
class Evening:
    """One heat of four people who play by number, not by kind."""

    world: World
    watched: Seat
    kind: type[Table] = Table
    now_ms: int = 1_000_000
    heard: Heard = field(default_factory=list)
    seen: set[int] = field(default_factory=set)
    ids: int = 0
    tokens: list[bytes] = field(default_factory=list)
    settings: Settings = SETTINGS

    def play(self, dice: random.Random, plant: Callable[[World], None]) -> None:
        plant(self.world)
        self.table = make_table(self.settings, kind=self.kind)
        for name in ("Ann", "Bo", "Cy", "Di"):
            self.join(name, None)
        for seat in SEATS:
            self.say(seat, Ready())
        self.held = PerSeat.of(lambda seat: list(range(CUTS[seat], CUTS[seat + 1])))
        self.seen |= set(self.held[self.watched])
        while self.table.record.phase == "heat":
            heat = self.table.view(0, self.now_ms).heat
            assert heat
            assert heat.step
            self.step(heat.step, heat.give, dice)

    def join(self, name: str, token: bytes | None) -> int:
        joined = self.table.join(name, token, self.now_ms)
        assert isinstance(joined, Joined)
        self.tokens.append(joined.token)
        self.take(joined.output)
        return joined.chair

    def step(self, step: StepName, give: int, dice: random.Random) -> None:
        match STEPS[step].ask:
            case "vote":
                for seat in SEATS:
                    self.say(seat, Vote(go_on=True))
            case "offer":
                for seat in SEATS:
                    self.say(seat, Offer(count=2))
            case _:
                self.pass_tiles(step, give, dice)

    def pass_tiles(self, step: StepName, give: int, dice: random.Random) -> None:
        """Everybody arranges the rack by number, lifts, errs, and passes; sometimes one seat lets the clock answer."""
        silent = dice.choice([*SEATS, None, None])
        own: dict[Seat, list[int]] = {}
        blind: dict[Seat, int] = {}
        for seat in SEATS:
            dice.shuffle(self.held[seat])
            free = [number for number in self.held[seat] if self.world.kinds[number] != JOKER]
            blind[seat] = dice.randint(0, 3) if STEPS[step].blind_at and seat != silent else 0
            own[seat] = dice.sample(free, give - blind[seat])
            self.say(seat, Arrange(tiles=self.world.of(self.held[seat])))
            self.say(seat, Pass(step=step, tiles=self.world.of(free[:1] * 9)[:9]))
            # The clock takes the rightmost tiles; lifted from there too, equal kinds cannot be mistaken for each other.
            drafted = free[-give:] if seat == silent else own[seat]
            lifted = drafted[: dice.randint(0, len(drafted))] if seat != silent else drafted[dice.randint(0, give) :]
            self.say(seat, Lift(step=step, tiles=self.world.of(lifted)))
            if seat == silent:
                rest = [number for number in reversed(free) if number not in lifted]
                own[seat] = lifted + rest[: give - len(lifted)]
        head = self.table.record.head
        assert head
        stream = dice_of(wall_key(head.secret, head.contributions))(step)
        direction = STEPS[step].direction
        assert direction
        _, came = settle(
            PerSeat.of(lambda seat: tuple(own[seat])), PerSeat.of(lambda seat: blind[seat]), direction, stream
        )
        for seat in SEATS:
            if seat != silent:
                self.say(seat, Pass(step=step, tiles=self.world.of(own[seat]), blind=blind[seat]))
        if silent is not None:
            due_ms = self.table.next_deadline_ms()
            assert due_ms
            self.now_ms = due_ms
            self.take(self.table.tick(due_ms))
        for seat in SEATS:
            self.held[seat][:] = [number for number in self.held[seat] if number not in own[seat]] + [*came[seat]]
        self.seen |= set(self.held[self.watched])

    def say(self, seat: Seat, intent: Intent) -> None:
        self.now_ms += 137
        self.ids += 1
        command = Command(id=self.ids, heat=self.table.record.number, intent=intent)
        self.take(self.table.command(int(seat), command, self.now_ms))

    def take(self, output: Output) -> None:
        chair = int(self.watched)
        for to, message in output.messages:
            if to == chair:
                self.heard.append((self.now_ms, framed(message)))
        if chair in output.changed:
            self.heard.append((self.now_ms, TO_CLIENT.pack(self.table.view(chair, self.now_ms))))


@dataclass
class LateFriend(Evening):
    """The watched seat is somebody's who takes a bot's chair in the running heat, in place of who has left."""

    at: StepName = "first across"

    def step(self, step: StepName, give: int, dice: random.Random) -> None:
        if step == self.at:
            self.heard.clear()
            self.come()
        super().step(step, give, dice)

    def come(self) -> None:
        self.say(self.watched, Leave())
        assert self.join("Late", None) == int(self.watched)


@dataclass
class OtherMachine(LateFriend):
    """The watched seat is regained in the running heat from another machine, which the host lets in."""

    def come(self) -> None:
        chair, machine = int(self.watched), b"another machine!"
        self.take(self.table.disconnected(chair, self.now_ms))
        asked = self.table.join(("Ann", "Bo", "Cy", "Di")[chair], machine, self.now_ms)
        assert isinstance(asked, Rejected)
        self.heard.append((self.now_ms, asked.text.encode()))
        self.take(asked.output)
        self.say(Seat.EAST, LetIn(chair=chair))
        assert self.join("", machine) == chair


@dataclass
class Mover(Evening):
    """The watched seat's person changes chairs with somebody after the heat, and comes back there with nothing held."""

    def play(self, dice: random.Random, plant: Callable[[World], None]) -> None:
        super().play(dice, plant)
        self.heard.clear()
        before, after = self.watched, Seat((self.watched + 1) % 4)
        self.say(before, MoveTo(chair=int(after)))
        self.watched = after
        self.say(after, MoveTo(chair=int(before)))
        self.take(self.table.disconnected(int(after), self.now_ms))
        assert self.join("", self.tokens[before]) == int(after)


class AllIsSaid(Exception):
    """The evening has gone as far as it is looked at."""


@dataclass
class FaceDown(Evening):
    """Up to the vote, which is said before anybody may look at the tiles of first left; one seat has not voted yet."""

    settings: Settings = SETTINGS.model_copy(update={"stop_unseen": True})

    def play(self, dice: random.Random, plant: Callable[[World], None]) -> None:
        with suppress(AllIsSaid):
            super().play(dice, plant)

    def step(self, step: StepName, give: int, dice: random.Random) -> None:
        if step == "go on":
            for seat in SEATS:
                self.say(seat, Arrange(tiles=("F",) * 13))  # a guess
                if seat != Seat.WEST:
                    self.say(seat, Vote(go_on=True))
            raise AllIsSaid
        before = set(self.seen)
        super().step(step, give, dice)
        if step == "first left":
            self.seen = before


def other_world(world: World, seen: set[int], dice: random.Random) -> World:
    """Return a deal with other kinds wherever the watched seat never looks; jokers move only inside the wall."""
    kinds = list(world.kinds)
    hidden = [number for number in range(152) if number not in seen and kinds[number] != JOKER]
    _shuffle_at(kinds, hidden, dice)
    _shuffle_at(kinds, list(range(CUTS[4], 152)), dice)
    return World(tuple(kinds))


def _shuffle_at(kinds: list[Tile], places: list[int], dice: random.Random) -> None:
    moved = [kinds[place] for place in places]
    dice.shuffle(moved)
    for place, kind in zip(places, moved, strict=True):
        kinds[place] = kind


def two_worlds(
    seed: int, watched: Seat, monkeypatch: pytest.MonkeyPatch, kind: type[Table], way: type[Evening] = Evening
) -> tuple[Evening, Evening]:
    def plant(world: World) -> None:
        monkeypatch.setattr(charleston, "deal", world.deal)

    tiles = list(full_set())
    random.Random(seed).shuffle(tiles)
    one = way(World(tuple(tiles)), watched, kind)
    one.play(random.Random(seed + 1), plant)
    two = way(other_world(one.world, one.seen, random.Random(seed + 2)), watched, kind)
    two.play(random.Random(seed + 1), plant)
    return one, two


@pytest.mark.parametrize("watched", SEATS)
@pytest.mark.parametrize("seed", range(10, 16))
def test_a_seat_is_sent_the_same_bytes_whatever_it_cannot_see(
    seed: int, watched: Seat, monkeypatch: pytest.MonkeyPatch
) -> None:
    one, two = two_worlds(seed, watched, monkeypatch, Table)
    assert one.seen == two.seen
    differs = sum(a != b for a, b in zip(one.world.kinds, two.world.kinds, strict=True))
    assert differs > 80
    assert len(one.heard) > 50
    assert any(isinstance(TO_CLIENT.unpack(data), Refused) for _, data in one.heard)
    assert two.heard == one.heard


@pytest.mark.parametrize("watched", [Seat.SOUTH, Seat.WEST, Seat.NORTH])
@pytest.mark.parametrize("way", [LateFriend, OtherMachine, Mover])
@pytest.mark.parametrize("seed", [10, 11])
def test_who_comes_late_or_moves_is_sent_the_rack_of_their_own_chair_alone(
    seed: int, way: type[Evening], watched: Seat, monkeypatch: pytest.MonkeyPatch
) -> None:
    one, two = two_worlds(seed, watched, monkeypatch, Table, way)
    assert one.seen == two.seen
    assert sum(a != b for a, b in zip(one.world.kinds, two.world.kinds, strict=True)) > 80
    own = [message.heat for _, data in one.heard if isinstance(message := message_of(data), OwnHeat)]
    assert [heat.seat for heat in own] == [watched]
    assert two.heard == one.heard


@pytest.mark.parametrize("watched", SEATS)
@pytest.mark.parametrize("seed", [10, 11, 12])
def test_a_seat_is_sent_the_same_bytes_whatever_lies_face_down_before_it(
    seed: int, watched: Seat, monkeypatch: pytest.MonkeyPatch
) -> None:
    one, two = two_worlds(seed, watched, monkeypatch, Table, FaceDown)
    hidden = one.table.view(int(watched), one.now_ms).heat
    assert hidden
    assert hidden.step == "go on"
    came = [number for number in one.held[watched] if number not in one.seen]
    assert hidden.face_down == len(one.held[watched]) - len(hidden.rack)
    assert came or not hidden.face_down
    assert one.world.of(came) != two.world.of(came) or not came
    assert two.heard == one.heard


class PeekingTable(Table):
    """A table with a leak: its name tells what lies face down."""

    def view(self, chair: int, now_ms: int) -> View:
        view = super().view(chair, now_ms)
        down = [tile for rack in self._heat.state.face_down for tile in rack] if self._heat else []
        return view.model_copy(update={"table": f"Boathouse {''.join(down)}"})


def test_a_look_under_what_lies_face_down_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    one, two = two_worlds(10, Seat.SOUTH, monkeypatch, PeekingTable, FaceDown)
    assert two.heard != one.heard


def message_of(data: bytes) -> object:
    """Return what was sent; the reason for which a line is closed is no message."""
    with suppress(BadFrame):
        return TO_CLIENT.unpack(data)
    return None


class MixingTable(Table):
    """A table with a leak: somebody is told the heat of the chair on which they sit now."""

    def _own_chair(self, chair: int, kept: KeptHeat) -> int | None:
        return chair


class SecondRackTable(Table):
    """A table with a leak: who comes to a running heat is shown the next chair's rack first."""

    def _arrived(self, chair: int, is_new: bool, held: Held, now_ms: int, out: Output) -> None:
        if self._heat:
            view = super().view((chair + 1) % 4, now_ms)
            out.messages.append((chair, Built(TO_CLIENT.pack(view))))
        super()._arrived(chair, is_new, held, now_ms, out)


@pytest.mark.parametrize(
    ("way", "kind"), [(LateFriend, SecondRackTable), (OtherMachine, SecondRackTable), (Mover, MixingTable)]
)
def test_a_rack_of_another_chair_is_seen(
    way: type[Evening], kind: type[Table], monkeypatch: pytest.MonkeyPatch
) -> None:
    one, two = two_worlds(10, Seat.SOUTH, monkeypatch, kind, way)
    assert two.heard != one.heard


class TellingTable(Table):
    """A table with a leak: the name of the table tells how many tiles another seat holds in pairs."""

    def view(self, chair: int, now_ms: int) -> View:
        view = super().view(chair, now_ms)
        if self._heat is None:
            return view
        rack = self._heat.state.racks[Seat((chair + 2) % 4)]
        return view.model_copy(update={"table": f"Boathouse {len(rack) - len(set(rack))}"})


class SlowTellingTable(Table):
    """A table with a leak in time: the clock of a seat runs slower while another seat holds a red dragon."""

    def view(self, chair: int, now_ms: int) -> View:
        has_red = self._heat is not None and "R" in self._heat.state.racks[Seat((chair + 1) % 4)]
        return super().view(chair, now_ms - (1 if has_red else 0))


@pytest.mark.parametrize("kind", [TellingTable, SlowTellingTable])
def test_a_planted_leak_is_seen(kind: type[Table], monkeypatch: pytest.MonkeyPatch) -> None:
    found = 0
    for seed in (10, 20, 30):
        one, two = two_worlds(seed, Seat.EAST, monkeypatch, kind)
        found += one.heard != two.heard
    assert found


@pytest.mark.parametrize("skill", ["simple", "coach, distracted", "coach, at a glance", "coach, thinking ahead"])
def test_when_a_bird_answers_tells_nothing_about_its_tiles(skill: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """One person who answers at fixed moments, three birds, deals with nothing in common: the same moments.

    A vote may depend on the tiles and is shown to all, so that there is none here.
    """
    moments: list[list[tuple[int, str | None]]] = []
    for seed in (1, 2, 3):
        tiles = list(full_set())
        random.Random(seed).shuffle(tiles)
        monkeypatch.setattr(charleston, "deal", World(tuple(tiles)).deal)
        wanted = {"seed": 7, "heats": 1, "second": "always", "courtesy": False, "bot_skill": skill}
        settings = Settings.model_validate(wanted)
        record = make_table(settings).record.with_(card=shipped_text("first-evening"))
        moments.append(_moments(Table(record, counted_bytes(), lambda: "")))
    assert len(moments[0]) >= 24
    assert moments[1] == moments[0]
    assert moments[2] == moments[0]


def _moments(table: Table) -> list[tuple[int, str | None]]:
    """Play one heat and return when the person was sent a view, and of which step."""
    now_ms, found, number = 0, [], 1

    def take(output: Output) -> None:
        for thought in output.thoughts:
            take(table.thought(thought.chair, thought.heat, thought.step, thought.run(), now_ms))
        if 0 in output.changed:
            heat = table.view(0, now_ms).heat
            found.append((now_ms, heat.step if heat else None))

    take(table.join("Ann", None, now_ms).output)  # type: ignore[union-attr]
    take(table.command(0, Command(id=1, heat=0, intent=Ready()), now_ms))
    while table.record.phase == "heat":
        heat = table.view(0, now_ms).heat
        assert heat
        if heat.owes and heat.step:
            now_ms, number = now_ms + 50, number + 1
            free = [tile for tile in heat.rack if tile != JOKER]
            intent = Vote(go_on=True) if heat.step == "go on" else Pass(step=heat.step, tiles=tuple(free[:3]))
            take(table.command(0, Command(id=number, heat=1, intent=intent), now_ms))
        else:
            due_ms = table.next_deadline_ms()
            assert due_ms
            now_ms = due_ms
            take(table.tick(now_ms))
    return found
