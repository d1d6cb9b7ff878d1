"""What one seat may see: we build it field by field from an allow-list, never by deleting secrets.

A view is a whole snapshot, never a patch, so rejoining needs no code of its own. Before the reveal a view must never
hold another seat's tiles, the wall or a seed, nor anything computed from them.
"""

from typing import Annotated, Literal

from pydantic import Field

from shared.records import Record
from shared.rules.charleston import give_count, most_blind
from shared.rules.events import By, Offered, Passed, Voted
from shared.rules.heat import SavedHeat
from shared.rules.intents import PlaceNumber
from shared.rules.pace import Clock
from shared.rules.players import Players
from shared.rules.seats import Direction, PerSeat, Seat, Way, chair_of
from shared.rules.settings import Settings
from shared.rules.state import DoneStep, State, own_tiles
from shared.rules.steps import STEPS, StepName
from shared.rules.tiles import Tile
from shared.rules.wall_round import Attempt, WallKind
from shared.wire.club_views import ClubPart

Tiles = tuple[Tile, ...]
ChairNumber = Annotated[int, Field(ge=0, le=3)]
SeatNumber = Annotated[int, Field(ge=0, le=3)]


class ChairView(Record):
    """One chair of the table: who sits there and whether they are connected. wish is the chair that they would like to
    swap with; asks says that somebody at another machine asks for this chair by its name: the host may let them in;
    shows: who may see racks here, beside the table or as a teacher, may see this one; plays_next: a bot plays the
    running heat here, and its person from the next one on."""

    name: str
    sitter: Literal["person", "bot", "nobody"]
    connected: bool
    ready: bool
    host: bool
    wish: int | None = None
    asks: bool = False
    shows: bool = False
    plays_next: bool = False

    @property
    def is_waited_for(self) -> bool:
        """Whether the next heat waits for this person: they are not ready, or not here."""
        return self.sitter == "person" and not (self.ready and self.connected)


class BesideView(Record):
    """Somebody beside the table, at this place, without a chair. waits: the next free chair is theirs, after those
    before them; sees: the host lets them see the racks of those who agree."""

    place: PlaceNumber
    name: str
    connected: bool
    waits: bool
    sees: bool


class ClockView(Record):
    """This seat's clock when the view was made, in milliseconds."""

    left_ms: int
    budget_ms: int
    carried_ms: int
    running: bool


class RouteStep(Record):
    """One step of the heat for this seat. given are its own tiles, blind how many it forwarded unseen."""

    step: StepName
    state: Literal["done", "now", "ahead"]
    length_ms: int
    spent_ms: int | None
    by: By | None
    given: Tiles
    blind: int
    came: Tiles


class SeatView(Record):
    """A seat as everyone sees it. vote and offer are set only after all have answered; so are side, with which
    neighbour it offered to exchange tiles, and side_offer, how many."""

    chair: ChairNumber
    owes: bool
    answered: bool
    vote: bool | None
    offer: int | None
    side: Way | None
    side_offer: int | None


class HeatView(Record):
    """A running heat, or one just ended, for one seat. seats are in order of play from East on.

    A paused table covers the racks: dealt, rack, lifted and fresh are empty. most_blind is how many tiles may be passed
    on unseen at this step. face_down is how many tiles came in that nobody may look at before all have said go on or
    stop: they are in no rack, and no view holds them.
    """

    number: int
    seat: SeatNumber
    step: StepName | None
    dealt: Tiles
    rack: Tiles
    lifted: Tiles
    lifted_blind: int
    answered: bool
    owes: bool
    fresh: Tiles
    give: int
    most_blind: int
    face_down: int
    stopped: bool
    paused: bool
    clock: ClockView
    route: tuple[RouteStep, ...]
    seats: tuple[SeatView, SeatView, SeatView, SeatView]

    def direction(self, step: StepName) -> Direction | None:
        """Return where the tiles of this seat go at a step; None if they stay, or if the seat says so later."""
        side = self.seats[self.seat].side
        chosen = Direction[side.upper()] if side and STEPS[step].ask == "give" else None
        return STEPS[step].direction or chosen


class SpentStep(Record):
    """The time one seat spent on one step, and who answered."""

    step: StepName
    spent_ms: int
    by: By


class SeatResult(Record):
    """A seat at the end of a heat, with all who played it; the racks are empty unless the host opens them. chair is
    where it was then; somebody else may sit there by now. total_ms is without the plan, which has a time of its own."""

    chair: ChairNumber
    players: Players
    spent: tuple[SpentStep, ...]
    total_ms: int
    dealt: Tiles
    final: Tiles


class HeatResult(Record):
    """A heat that ended, seats in order of play from East on. length_ms is what its whole Charleston could take, and
    lengths_ms each step that somebody answered, in order; secret is empty until the reveal; east_won says that East
    was dealt a complete hand, which won the heat."""

    number: int
    length_ms: int
    lengths_ms: tuple[int, ...]
    east_won: bool
    seats: tuple[SeatResult, SeatResult, SeatResult, SeatResult]
    opened: bool
    commitment: str
    secret: str


class WallView(Record):
    """How the wall of a heat is made, as everybody knows it: of the running heat, or else of the next one.

    attempts are those of its round, once it has begun; no secret of them is in use.
    """

    heat: int
    kind: WallKind
    attempts: tuple[Attempt, ...] = ()


class View(Record):
    """Everything one chair sees of its table at one revision.

    commitment is the hexadecimal SHA-256 that binds the server to the running heat's wall, or to the next one; wall
    says how that wall is made; east is the chair that deals in the running or the coming heat; results are the finished
    heats of this set. person is the viewer's own number among the players of results, 0 before their first heat. host
    says that the table is the viewer's; keeps, that its host is away and the viewer may pause, go on, start heats and
    seat bots meanwhile. played are the settings of the last heat, where there was one, and restored says that the
    running heat came back from the host's disk. club is set if the table belongs to a club's evening.
    """

    kind: Literal["view"] = "view"
    revision: int
    table: str
    phase: Literal["seating", "heat", "between", "over"]
    you: ChairNumber
    person: int
    host: bool
    keeps: bool
    code: str
    settings: Settings
    played: Settings | None
    restored: bool
    chairs: tuple[ChairView, ChairView, ChairView, ChairView]
    heat_number: int
    east: ChairNumber
    commitment: str
    wall: WallView
    heat: HeatView | None
    results: tuple[HeatResult, ...]
    club: ClubPart | None = None
    beside: tuple[BesideView, ...] = ()

    @property
    def first_heat(self) -> int:
        """The number of the running set's first heat."""
        is_counted = self.phase in ("between", "over") and bool(self.results)
        return self.heat_number - len(self.results) + is_counted


def set_begun(number: int, view: View | None) -> int:
    """Return the number of the first heat in this heat's set, or the heat's own number if the view does not tell."""
    return min(view.first_heat, number) if view else number


def heat_view(
    state: State, seat: Seat, number: int, chairs: PerSeat[int], now_ms: int, steps: tuple[StepName, ...]
) -> HeatView:
    """Return what a seat sees of its heat at now_ms; chairs gives each seat's chair, steps is the route."""
    answer = state.answers[seat]
    covered = state.paused
    return HeatView(
        number=number,
        seat=seat,
        step=state.step,
        dealt=() if covered else state.dealt[seat],
        rack=() if covered else state.racks[seat],
        lifted=() if covered else state.drafts[seat].tiles,
        lifted_blind=state.drafts[seat].blind,
        answered=answer is not None,
        owes=state.owes[seat],
        fresh=() if covered else state.fresh[seat],
        give=give_count(state, seat),
        most_blind=most_blind(state),
        face_down=len(state.face_down[seat]),
        stopped=state.stopped,
        paused=state.paused,
        clock=_clock_view(state.clocks[seat], now_ms),
        route=tuple(_route_step(state, seat, step) for step in steps),
        seats=(
            seat_view(state, Seat.EAST, chairs[Seat.EAST]),
            seat_view(state, Seat.SOUTH, chairs[Seat.SOUTH]),
            seat_view(state, Seat.WEST, chairs[Seat.WEST]),
            seat_view(state, Seat.NORTH, chairs[Seat.NORTH]),
        ),
    )


def _clock_view(clock: Clock, now_ms: int) -> ClockView:
    return ClockView(
        left_ms=clock.left(now_ms),
        budget_ms=clock.budget_ms,
        carried_ms=clock.carried_ms,
        running=clock.since_ms is not None,
    )


def _done_step(state: State, step: StepName) -> DoneStep | None:
    return next((done for done in state.done if done.step == step), None)


def _route_step(state: State, seat: Seat, step: StepName) -> RouteStep:
    done = _done_step(state, step)
    answer = done.answers[seat] if done else state.answers[seat] if step == state.step else None
    return RouteStep(
        step=step,
        state="done" if done else "now" if step == state.step else "ahead",
        length_ms=state.settings.length_ms(step),
        spent_ms=answer.spent_ms if answer else None,
        by=answer.by if answer else None,
        given=own_tiles(answer),
        blind=answer.blind if isinstance(answer, Passed) else 0,
        came=done.came[seat] if done and not (any(state.face_down) and done is state.done[-1]) else (),
    )


def seat_view(state: State, seat: Seat, chair: int) -> SeatView:
    """Return a seat as everybody at the table sees it."""
    vote, offer, side = (
        done.answers[seat] if (done := _done_step(state, step)) else None
        for step in ("go on", "courtesy offer", "side offer")
    )
    return SeatView(
        chair=chair,
        owes=state.owes[seat],
        answered=state.answers[seat] is not None,
        vote=vote.go_on if isinstance(vote, Voted) else None,
        offer=offer.count if isinstance(offer, Offered) else None,
        side=side.to if isinstance(side, Offered) and side.count else None,
        side_offer=side.count if isinstance(side, Offered) else None,
    )


def heat_result(heat: SavedHeat, state: State, opened: bool) -> HeatResult:
    """Return what everyone sees of a heat that ended; it holds racks and secret only if opened."""

    def seat_result(seat: Seat) -> SeatResult:
        answers = [(done.step, done.answers[seat]) for done in state.done]
        spent = tuple(
            SpentStep(step=step, spent_ms=answer.spent_ms, by=answer.by) for step, answer in answers if answer
        )
        chair = chair_of(seat, heat.east)
        return SeatResult(
            chair=chair,
            players=heat.played(chair),
            spent=spent,
            total_ms=sum(step.spent_ms for step in spent if step.step != "plan"),
            dealt=state.dealt[seat] if opened else (),
            final=state.racks[seat] if opened else (),
        )

    return HeatResult(
        number=heat.number,
        length_ms=heat.settings.total_ms(),
        lengths_ms=tuple(heat.settings.length_ms(done.step) for done in state.done if any(done.answers)),
        east_won=state.won,
        seats=(
            seat_result(Seat.EAST),
            seat_result(Seat.SOUTH),
            seat_result(Seat.WEST),
            seat_result(Seat.NORTH),
        ),
        opened=opened,
        commitment=heat.commitment,
        secret=heat.secret.hex() if opened else "",
    )
