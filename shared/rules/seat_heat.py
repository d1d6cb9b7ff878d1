"""One seat's record of a heat: its own tiles, its own times, and what everybody saw. Never another seat's rack.

A player's history stores it and a review reads it. It exists for every heat a person played, even at a table that
keeps the racks closed.
"""

from typing import Literal

from pydantic import Field

from shared import versions
from shared.codec import FileCodec
from shared.records import Record
from shared.rules.events import By, Offered, Passed, Planned, Voted
from shared.rules.heat import SavedHeat
from shared.rules.players import Players, named, player_of
from shared.rules.seats import Seat, Way, chair_of
from shared.rules.settings import Settings
from shared.rules.state import DoneStep, State, own_tiles
from shared.rules.steps import STEPS, StepName
from shared.rules.tiles import Tile
from shared.rules.wall_seen import WallSeen

Tiles = tuple[Tile, ...]
AnsweredBy = By | Literal["other"]


class SeatStep(Record):
    """One step that this seat answered. budget_ms includes carried time; spent_ms is the time used. by is "other" where
    another person than the one whose record it is played the seat.

    given are its own tiles, blind how many it forwarded unseen, came the tiles it received and kept; vote,
    offer, to (the side with which it offered to exchange), hand and discards are set if the step asked for them.
    """

    step: StepName
    length_ms: int
    budget_ms: int
    spent_ms: int
    by: AnsweredBy
    given: Tiles = ()
    blind: int = 0
    came: Tiles = ()
    vote: bool | None = None
    offer: int | None = None
    to: Way | None = None
    hand: str | None = None
    discards: Tiles = ()

    @property
    def is_pass(self) -> bool:
        """Whether the step asked for tiles."""
        return STEPS[self.step].ask in ("pass", "give")


class SeatHeat(Record):
    """One seat's heat. names (of all who played a seat) and sitters (at the deal) are by seat from East on; commitment
    tells heats apart.

    card is the card's text, empty if its owner does not share it; a plan then names no hand. seen is what this seat's
    own client saw of the wall; the client writes it, never the table. A heat that East won with a complete hand, before
    anything was passed, has no steps.
    """

    format: Literal["racktempo seat"] = "racktempo seat"
    version: int = Field(versions.SEAT_FILE, ge=1, le=versions.SEAT_FILE)
    commitment: str
    table: str
    number: int
    played_at: str
    settings: Settings
    seat: int
    names: tuple[str, str, str, str]
    sitters: tuple[str, str, str, str]
    card: str
    card_title: str = ""
    card_digest: str = ""
    dealt: Tiles
    steps: tuple[SeatStep, ...]
    final: Tiles
    seen: WallSeen | None = None

    @property
    def east_won(self) -> bool:
        """Whether East was dealt a complete hand, which won the heat."""
        return bool(self.dealt) and not self.steps


SEAT_HEAT: FileCodec[SeatHeat] = FileCodec(SeatHeat, 1_000_000, "racktempo seat", versions.SEAT_FILE)


def seat_heat(heat: SavedHeat, state: State, seat: Seat, person: int = 0) -> SeatHeat:
    """Return one seat's record of a heat that ended in the given state (see heat.final_state). It is the record of a
    person (see Player), or of the seat itself."""
    by_seat = [chair_of(Seat(number), heat.east) for number in range(4)]
    played = heat.players[by_seat[seat]]
    return SeatHeat(
        commitment=heat.commitment,
        table=heat.table,
        number=heat.number,
        played_at=heat.played_at,
        settings=heat.settings,
        seat=seat,
        names=_four([named(heat.played(chair)) for chair in by_seat]),
        sitters=_four([heat.sitters[chair] for chair in by_seat]),
        card=heat.card,
        card_title=heat.card_title,
        card_digest=heat.card_digest,
        dealt=state.dealt[seat],
        steps=tuple(step for done in state.done if (step := _seat_step(heat.settings, done, seat, played, person))),
        final=state.racks[seat],
    )


def _seat_step(settings: Settings, done: DoneStep, seat: Seat, played: Players, person: int) -> SeatStep | None:
    answer = done.answers[seat]
    if answer is None:
        return None
    player = player_of(played, done.step)
    is_other = person > 0 and player is not None and player.person not in (0, person)
    return SeatStep(
        step=done.step,
        length_ms=settings.length_ms(done.step),
        budget_ms=done.budgets_ms[seat],
        spent_ms=answer.spent_ms,
        by="other" if is_other else answer.by,
        given=own_tiles(answer),
        blind=answer.blind if isinstance(answer, Passed) else 0,
        came=done.came[seat],
        vote=answer.go_on if isinstance(answer, Voted) else None,
        offer=answer.count if isinstance(answer, Offered) else None,
        to=answer.to if isinstance(answer, Offered) and answer.to != "across" else None,
        hand=answer.hand if isinstance(answer, Planned) else None,
        discards=answer.discards if isinstance(answer, Planned) else (),
    )


def _four(values: list[str]) -> tuple[str, str, str, str]:
    return (values[0], values[1], values[2], values[3])
