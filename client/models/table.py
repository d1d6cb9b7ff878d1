"""The model of a table: the last view, the player's rack, and what a key means.

Pure: no socket, no screen and no clock; every moment is an argument in milliseconds of one monotonic clock. The
model never decides: a pass is shown as passed only once the table confirms it. Until then it is "sending".
"""

from contextlib import suppress
from dataclasses import dataclass, field, replace
from typing import Literal

from client.models.card_browser import CardBrowser
from client.models.commands import Commands
from client.models.hint import Hint
from client.models.rack import PLACES, HeldRack
from client.models.ran_out import timeout_note
from client.models.session import Meant, Session
from client.models.step_clock import StepClock, time_given
from client.target import Targets
from client.text import enough, too_blind
from shared.cards import Card
from shared.cards.play import card_of
from shared.codec import BadFrame
from shared.names import clean_name
from shared.rules.drills import Laid
from shared.rules.heat import HEAT, SavedHeat
from shared.rules.intents import (
    GIVE_MORE_MS,
    Arrange,
    Extend,
    Hurry,
    Intent,
    Lift,
    Offer,
    Pass,
    Pause,
    Plan,
    Resume,
    TakeBack,
    TakeSeat,
    Vote,
)
from shared.rules.seat_heat import SeatHeat
from shared.rules.seats import Direction
from shared.rules.settings import Settings
from shared.rules.steps import STEPS, Step, StepName
from shared.rules.tiles import Tile
from shared.wire.desk_intents import DeskIntent
from shared.wire.messages import HeatFile, OwnHeat
from shared.wire.views import ChairView, HeatView, View, set_begun

Stage = Literal["none", "paused", "deciding", "sending", "answered", "watching"]
"""Where this seat stands: nothing runs; clocks stand; it owes an answer; the answer travels; the table has it;
nothing is asked of it."""
Shown = Literal["", "card", "route", "why", "guide"]
_PANES: dict[str, Shown] = {"v": "card", "f2": "card", "f3": "route", "y": "why", "f4": "why", "f6": "guide"}


@dataclass(slots=True)
class TableModel(Session):
    """A table as one player sees it. All fields are for reading; only the methods change them.

    shows is the pane that was asked for, none if empty; met are the settings that the table had when we came; away says
    since when the line of a person's chair is down, as far as we saw; moved, that the desk of an evening has given this
    player another chair, until they have read it.
    """

    view: View | None = None
    rack: HeldRack = HeldRack()
    blind: int = 0
    choice: int | None = None
    side: Direction = Direction.RIGHT
    pane: CardBrowser = CardBrowser()
    shows: Shown = ""
    hint: Hint | None = None
    looked_ahead: StepName | None = None
    own: dict[int, SeatHeat] = field(default_factory=dict)
    whole: dict[int, SavedHeat] = field(default_factory=dict)
    targets: dict[int, Targets] = field(default_factory=dict)
    moved: bool = False
    met: Settings | None = None
    away: dict[int, int] = field(default_factory=dict)
    _revision: int = -1
    _uncovered: HeatView | None = None
    _draft: tuple[tuple[Tile, ...], int] = ((), 0)
    _order: tuple[Tile, ...] = ()

    # ---- what is heard

    def hear(self, view: View, received_ms: int, rtt_ms: int) -> None:
        """Take in a whole view; one that is older than the last is dropped."""
        if view.revision < self._revision:
            return
        if self.view and (self.view.table, self.view.you) != (view.table, view.you):
            self.commands = Commands()  # the desk has moved us; what was asked at the old chair is void
            self.moved = view.club is not None
        old, new = self.heat, view.heat
        self._revision = view.revision
        self.view, self.received_ms, self.rtt_ms, self.line = view, received_ms, rtt_ms, ""
        self.commands = self.commands.shown()
        self.moved = self.moved and new is None
        self.met = self.met or view.settings
        away = [chair for chair, seated in enumerate(view.chairs) if seated.sitter == "person" and not seated.connected]
        self.away = {chair: self.away.get(chair, received_ms) for chair in away}
        if new is None:
            self.rack, self.note, self._uncovered = HeldRack(sort=self.rack.sort), "", None
            return
        if old is None or old.number != new.number:
            self.rack = HeldRack(sort="suit" if self.rack.sort == "own" else self.rack.sort)
            self.pane, self.hint, self.shows = replace(self.pane.cleared(), pinned=""), None, ""
            self.looked_ahead = None
            self._uncovered = None
        if self.guided and new.step and (old is None or old.step != new.step):
            self.shows = "guide"
        elif new.step == "plan" and (old is None or old.step != "plan"):
            self.shows = "card"  # a hand is to be named
        if not new.paused:  # covered racks show nothing: the local selection stays as it is
            self._fit(self._uncovered, new)
            self._uncovered = new

    def _fit(self, old: HeatView | None, new: HeatView) -> None:
        """Reconcile the local selection with the table's view; old is the heat as last seen uncovered, if ever."""
        if old is None or old.step != new.step:
            self._new_step(old, new)
        elif not self.guided and (given := time_given(old, new)):
            self.note = f"{given}."
        self.rack = self.rack.fitted(new.rack)
        if _asks_tiles(new) and (new.answered or (old is None and new.lifted)):
            self.rack, self.blind = self.rack.with_lifted(new.lifted), new.lifted_blind
        elif _asks_tiles(new):
            self.rack = self.rack.dropped(new.give - self.blind)
        self._draft, self._order = (new.lifted, new.lifted_blind), new.rack

    def _new_step(self, old: HeatView | None, new: HeatView) -> None:
        self.blind, self.choice = 0, None
        self.note = timeout_note(new.route)
        if old is None or _asks_tiles(old):  # what was lifted has gone; what was lifted during a question stays
            self.rack = self.rack.fitted(new.rack).dropped()

    def connected(self, card: str = "", title: str = "", digest: str = "") -> None:
        """The line is up, for the first time or again; a table that was started anew counts its views anew."""
        self._revision = -1
        Session.connected(self, card, title, digest)

    def has_card(self, text: str) -> None:
        """Take in the text of the table's card; the same one leaves the pane as it is."""
        if text != self.card_text or self.lacks_card:
            read = card_of(text) if text else None
            self.card_text, self.pane = text, CardBrowser(read if isinstance(read, Card) else None)
            self.pane = replace(self.pane, missing=self.about_card)

    def ended(self, told: OwnHeat | HeatFile) -> None:
        """A heat ended: as this seat lived it, or whole. A whole one that cannot be read is left out."""
        if isinstance(told, OwnHeat):
            self.own[told.heat.number] = told.heat
            return
        with suppress(BadFrame):
            heat = HEAT.unpack(told.data)
            self.whole[heat.number] = heat

    def laid(self, number: int) -> Laid | None:
        """Return the drill that a heat of the running set is; None if the table is not for drills."""
        if not self.drills:
            return None
        return self.drills[(number - set_begun(number, self.view)) % len(self.drills)]

    def first_of_set(self, number: int) -> int:
        """Return the number of the first heat of a heat's set, as far as the table has told."""
        return set_begun(number, self.view)

    # ---- what is known

    @property
    def heat(self) -> HeatView | None:
        """The running heat, if any."""
        return self.view.heat if self.view else None

    @property
    def heat_number(self) -> int:
        """The number that commands carry."""
        return self.view.heat_number if self.view else 0

    @property
    def in_heat(self) -> bool:
        """Whether a heat is running."""
        return self.step is not None

    @property
    def has_others(self) -> bool:
        """Whether another person is at the table just now."""
        chairs = self.view.chairs if self.view else ()
        return any(chair.sitter == "person" and chair.connected and not chair.host for chair in chairs)

    @property
    def goes_on_later(self) -> bool:
        """Whether this machine keeps the table, and its set is not over."""
        kept = self.keeps or (self.alone and not self.drills and not self.guided)
        return kept and self.view is not None and self.view.phase in ("heat", "between")

    @property
    def is_over(self) -> bool:
        """Whether the evening to which the table belongs has ended."""
        return self.view is not None and self.view.club is not None and self.view.club.over

    @property
    def is_host(self) -> bool:
        """Whether this chair is the host's."""
        return self.view is not None and self.view.host

    @property
    def may_keep(self) -> bool:
        """Whether this chair may pause and start heats: it is the host's, or the host is away."""
        return self.view is not None and (self.view.host or self.view.keeps)

    @property
    def is_ready(self) -> bool:
        """Whether this chair said that it is ready for the next heat."""
        return self.view is not None and self.view.chairs[self.view.you].ready

    @property
    def step(self) -> Step | None:
        """The running step, if any."""
        heat = self.heat
        return STEPS[heat.step] if heat and heat.step else None

    @property
    def stage(self) -> Stage:
        """Where this seat stands in the running step."""
        heat = self.heat
        if heat is None or heat.step is None:
            return "none"
        if heat.paused:
            return "paused"
        if heat.answered:
            return "answered"
        if any(_answers(intent, heat) for intent in self.commands.on_their_way):
            return "sending"
        return "deciding" if heat.owes else "watching"

    @property
    def wanted(self) -> int:
        """How many own tiles go in the running step, the blind ones taken off; while voting, as many as might."""
        heat, step = self.heat, self.step
        if heat is None or step is None:
            return 0
        return heat.give - self.blind if step.ask in ("pass", "give") else 3

    @property
    def fresh(self) -> frozenset[int]:
        """The places of the tiles that came in last, marked until this seat commits again."""
        heat = self.heat
        return self.rack.marked(heat.fresh) if heat and self.stage == "deciding" else frozenset()

    def face(self, now_ms: int) -> StepClock:
        """Return what the step clock shows now: the time left less what has gone by and half a round trip. Without a
        line it stands still."""
        heat = self.heat
        if heat is None:
            return StepClock(0, 0, 0, False)
        clock = heat.clock
        gone_ms = self.known_ms(now_ms) - self.received_ms + self.rtt_ms // 2 if clock.running else 0
        runs = clock.running and not self.line
        return StepClock(max(0, clock.left_ms - gone_ms), clock.budget_ms, clock.carried_ms, runs)

    def chair_name(self, chair: int) -> str:
        """Return the name in a chair, cleaned, or a word for an empty one."""
        return shown_name(self.view.chairs[chair]) if self.view else ""

    def waiting_for(self) -> tuple[str, ...]:
        """Return the names of the other seats that still owe an answer."""
        view, heat = self.view, self.heat
        if view is None or heat is None:
            return ()
        return tuple(self.chair_name(seat.chair) for seat in heat.seats if seat.owes and seat.chair != view.you)

    @property
    def may_hurry(self) -> bool:
        """Whether this seat waits for nothing but others, and a bot is among them that could answer at once."""
        view, heat = self.view, self.heat
        if view is None or heat is None or self.stage not in ("answered", "watching"):
            return False
        return any(seat.owes and view.chairs[seat.chair].sitter == "bot" for seat in heat.seats)

    @property
    def bot_in_my_seat(self) -> bool:
        """Whether a bot stands in for this chair."""
        return self.view is not None and self.view.chairs[self.view.you].sitter == "bot"

    @property
    def plays_next(self) -> bool:
        """Whether this player plays only from the next heat on, having seen racks of this one."""
        return self.view is not None and self.view.chairs[self.view.you].plays_next

    # ---- what a key means

    def card_in_sight(self, is_wide: bool) -> bool:
        """Say whether the card is shown: beside the table on a wide screen, else only when it was asked for."""
        return self.shows == "card" or (not self.shows and is_wide)

    def press(self, key: str, is_wide: bool = False) -> Meant:
        """Take a key of a running heat; most keys ask nothing. is_wide says that the card stands beside the table.

        A mouse click on a thing is the same as the key that the thing names.
        """
        if self._look_through(key, is_wide):
            return ()
        if key in ("q", "o"):
            return ("leave",) if key == "q" else ("look",)
        self.note = ""
        if self.heat is None or self.step is None:
            return ()
        if self.stage == "paused":
            return (Resume(),) if key == "p" and self.may_keep else ()
        match key:
            case _ if key in PLACES:
                self._toggle(PLACES.index(key))
            case "space":
                self._toggle(self.rack.cursor)
            case "left" | "right" if self.step.name == "side offer":
                self.side = Direction.LEFT if key == "left" else Direction.RIGHT
            case "left" | "right":
                self.rack = self.rack.moved_cursor(1 if key == "right" else -1)
            case "shift+left" | "shift+right" | "<" | ">":
                self.rack = self.rack.shifted(1 if key in ("shift+right", ">") else -1)
            case "s":
                self.rack = self.rack.sorted_by("rank" if self.rack.sort == "suit" else "suit")
            case "0" | "1" | "2" | "3":
                self._choose(int(key))
            case "enter":
                return (Hurry(),) if self.may_hurry else self._commit()
            case "u":
                return self._take_back()
            case "p" if self.may_keep:
                return (Pause(),)
            case "x" if self.is_host:
                return (Extend(by_ms=GIVE_MORE_MS),)
            case "t" if self.bot_in_my_seat:
                return (TakeSeat(),)
        return ()

    def name_target(self, now_ms: int) -> None:
        """Name the marked hand of the card as target, then its family, then nothing; a named hand is pinned."""
        heat, hand = self.heat, self.pane.marked
        told = next((told for told in self.pane.told if hand and told.hand.id == hand.id), None)
        if heat is None or heat.step is None or hand is None or told is None or heat.paused:
            self.note = "Mark a hand on the card first." if self.step else ""
            return
        clock = self.face(now_ms)
        before = self.targets.get(heat.number, Targets())
        after = before.naming(heat.step, clock.budget_ms - clock.left_ms, hand.id, told.name, hand.section)
        self.targets[heat.number] = after
        self.pane = replace(self.pane, pinned=after.now.hand if after.now else "")
        self.note = f"Your target: {after.now.words}." if after.now else "No target."

    @property
    def target(self) -> str:
        """The words of the target that is named now, none if empty."""
        now = self.targets.get(self.heat.number, Targets()).now if self.heat else None
        return now.words if now else ""

    def drafts(self) -> tuple[Intent, ...]:
        """Return what the table should know in case the clock runs out: the rack's order and what is lifted.

        Called a few times a second at most, so that quick fingers stay below the table's limit of messages.
        """
        heat, intents = self.heat, list[Intent]()
        if heat is None or heat.step is None or self.stage != "deciding":
            return ()
        if self.rack.tiles != self._order and sorted(self.rack.tiles) == sorted(heat.rack):
            self._order = self.rack.tiles
            intents.append(Arrange(tiles=self._order))
        draft = (self.rack.lifted_tiles(), self.blind)
        if _asks_tiles(heat) and draft != self._draft:
            self._draft = draft
            intents.append(Lift(step=heat.step, tiles=draft[0], blind=draft[1]))
        return tuple(intents)

    def _look_through(self, key: str, is_wide: bool) -> bool:
        """Take a key that opens or closes a pane, or that the card knows while it is in sight."""
        is_typing, in_sight = self.pane.typing, self.card_in_sight(is_wide)
        if not is_typing and key in _PANES and (self.guided or key != "f6"):
            wanted = _PANES[key]
            at_hand = in_sight if wanted == "card" else self.shows == wanted
            self.shows = "" if at_hand and self.shows else wanted
            return True
        if not is_typing and key == "escape" and self.shows:
            self.shows = ""
            return True
        if key == "w" and not in_sight:
            self.shows = "card"
        if not is_typing and not self.card_in_sight(is_wide):
            return False
        changed = self.pane.press(key)
        if changed is not None:
            self.pane = changed
        return changed is not None

    def _what_leaving_does(self) -> str:
        if self.goes_on_later:
            return "it waits until you go on with it."
        return "it ends here and is not kept." if self.is_host else "a bot plays on in your seat."

    def _toggle(self, place: int) -> None:
        heat = self.heat
        if heat is not None and _asks_tiles(heat) and self.stage in ("answered", "sending"):
            self.note = "Your tiles are on their way; wait for the next step."
        elif place >= len(self.rack.tiles):
            self.note = f"There is no tile at {PLACES[place]}."
        elif not self.rack.may_lift(place):
            self.note = "A joker is never passed."
        elif place not in self.rack.lifted and len(self.rack.lifted) >= self.wanted:
            self.note = enough(self.wanted, self.blind)
        else:
            self.rack = self.rack.toggled(place)

    def _choose(self, number: int) -> None:
        heat, step = self.heat, self.step
        if heat is None or step is None or self.stage != "deciding":
            return
        if step.ask == "offer" or (step.ask == "vote" and number < 2):
            self.choice = number
        elif step.ask == "pass" and heat.most_blind >= number:
            self.blind = number
            self.rack = self.rack.dropped(self.wanted)
        elif step.ask == "pass":
            self.note = too_blind(heat.most_blind)

    def _commit(self) -> tuple[Intent, ...]:
        heat, step = self.heat, self.step
        if heat is None or step is None or self.stage != "deciding":
            return ()
        match step.ask:
            case "vote" | "offer" if self.choice is None:
                self.note = "Choose first: 1 go on, 0 stop." if step.ask == "vote" else "Choose a number first: 0 to 3."
            case "plan":
                return (Plan(hand=self.pane.pinned if self.card_shared else "", discards=self.rack.lifted_tiles()),)
            case "vote":
                return (Vote(go_on=self.choice == 1),)
            case "offer":
                return (Offer(count=self.choice or 0, to=(step.direction or self.side).word),)
            case "pass" | "give":
                missing = self.wanted - len(self.rack.lifted)
                if missing == 0:
                    return (Pass(step=step.name, tiles=self.rack.lifted_tiles(), blind=self.blind),)
                self.note = f"Lift {missing} more: {self.wanted} of your own tiles go."
        return ()

    def _take_back(self) -> tuple[Intent, ...]:
        heat, view = self.heat, self.view
        if heat is None or view is None or heat.step is None:
            return ()
        if self.stage == "answered" and view.settings.final_at == "step end":
            return (TakeBack(step=heat.step),)
        if self.stage == "deciding":
            self.rack, self.blind, self.choice = self.rack.dropped(), 0, None
        else:
            self.note = "At this table a committed answer is final."
        return ()


def shown_name(chair: ChairView) -> str:
    """Return a chair's name as it may be drawn."""
    if chair.sitter == "nobody":
        return "(empty)"
    return clean_name(chair.name) or "(no name)"


def _answers(intent: Intent | DeskIntent, heat: HeatView) -> bool:
    match intent:
        case Pass():
            return intent.step == heat.step
        case Vote():
            return heat.step == "go on"
        case Offer():
            return heat.step == ("courtesy offer" if intent.to == "across" else "side offer")
        case Plan():
            return heat.step == "plan"
    return False


def _asks_tiles(heat: HeatView) -> bool:
    return heat.step is not None and STEPS[heat.step].ask in ("pass", "give")
