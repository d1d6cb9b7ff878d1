"""The table line by line: what a typed line means, and which lines are printed when something arrives.

Pure: no socket, no terminal and no clock; moments are arguments in milliseconds of one monotonic clock. It
decides nothing: a pass is reported as passed only once the table shows it.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from client.connection.link import Connected, Ended, Heard, Lost, Waiting
from client.models.commands import Commands
from client.models.guided import more_time
from client.models.heat_end import LOOKING, heat_end
from client.models.hint import Asked, Hint, pass_made
from client.models.wall import NO_PART, Part, WallWatch
from client.plain.away import Away
from client.plain.beside import beside_changes, beside_intent
from client.plain.card import card_lines, with_id
from client.plain.coach import heat_lines, hint_lines, why_lines
from client.plain.evening import evening_changes, standings_lines, waiting_lines, where_line
from client.plain.marks import Mark, marks_of
from client.plain.sentences import (
    HELP,
    Kind,
    changes,
    end_lines,
    heat_result,
    left_ms,
    question,
    rack_line,
    table_lines,
    time_line,
)
from client.plain.settings import rules_lines, set_by, settable
from client.plain.typed import BadLine, check_lifted, offered, sound, surely_tiles
from client.setup import Setup
from client.target import Named
from client.text import too_blind
from shared.cards import Card
from shared.cards.play import card_of
from shared.cards.said import listed_tiles
from shared.cards.tell import tell
from shared.rules.intents import (
    GIVE_MORE_MS,
    Arrange,
    ChangeSettings,
    Extend,
    Hurry,
    Intent,
    Leave,
    LetIn,
    Lift,
    MoveTo,
    NewCode,
    NewSet,
    NotReady,
    Pass,
    Pause,
    Plan,
    Ready,
    Resume,
    SeatBot,
    ShowRack,
    Start,
    TakeBack,
    TakeSeat,
    Vote,
)
from shared.rules.seat_heat import SeatHeat
from shared.rules.settings import Settings
from shared.rules.steps import STEPS, StepName
from shared.rules.tiles import Rack, by_rank, by_suit
from shared.rules.typed_tiles import read_tiles
from shared.rules.wall_seen import WallSeen
from shared.wire.club_views import ClubView, Ranking
from shared.wire.messages import Done, OwnHeat, Refused
from shared.wire.views import HeatView, View

if TYPE_CHECKING:
    from shared.coach.review import Review

MOST_DISCARDS = 3
QUIT = ("quit", "leave")
AT_ONCE = ("help", "?", "card", "why", "points", "rules", "time", "rack", "sort", "table", "wall", "hurry", *QUIT, "")
"""First words of lines that ask nothing of the table and never wait for its question."""


@dataclass(slots=True)
class Reply:
    """What a typed line leads to; part is this player's part in the making of a wall."""

    lines: list[str] = field(default_factory=list)
    intents: list[Intent] = field(default_factory=list)
    quits: bool = False
    part: Part = NO_PART


LEAVE = Reply(intents=[Leave()])
"""What quitting leads to, and the end of the input."""


class PlainTable:
    """One player's table in plain lines. random_bytes gives this player's values for the walls, recall what was kept
    of one before a restart, presets the settings that are kept by name.
    """

    def __init__(
        self,
        random_bytes: Callable[[int], bytes],
        kind: Kind = "with others",
        recall: Callable[[str, int, int], WallSeen | None] = lambda table, number, chair: None,
        presets: Callable[[], Mapping[str, Setup]] = dict,
    ) -> None:
        self.view: View | None = None
        self.beside: ClubView | None = None
        self.ended: str | None = None
        self.named: dict[int, tuple[Named, ...]] = {}
        self.card_text = ""
        self.kind = kind
        self.wall = WallWatch(random_bytes, recall)
        self._presets = presets
        self._hint: Hint | None = None
        self._reviewed: tuple[SeatHeat, Review | None, str] | None = None
        self._sorted: Callable[[Rack], Rack] = by_suit
        self._received_ms = 0
        self._blind = 0
        self._told: set[tuple[int, StepName, str]] = set()
        self._commands = Commands()
        self._is_lost, self._lost_ms = False, 0
        self._away = Away()
        self._names_hand = True
        self._card: Card | None = None
        self._sure = False

    # ---- what is heard

    def hear(self, heard: Heard, now_ms: int, rtt_ms: int = 0) -> Reply:
        """Take in what came over the line."""
        match heard:
            case View():
                return self._see(heard, now_ms - rtt_ms // 2)
            case ClubView():
                lines, self.beside = waiting_lines(self.beside, heard), heard
                return Reply(lines)
            case Ranking():
                over = self.beside is not None and self.beside.over
                return Reply(standings_lines(heard, most=10) if over else [])
            case Lost() if self.is_over:
                self.ended = "The evening is over."
                return Reply([self.ended])
            case Refused(id=command_id):
                is_told = command_id in self._commands.unanswered
                self._commands = self._commands.refused(command_id)
                return Reply([heard.text] if is_told else [])
            case Connected(welcome):
                self._names_hand = bool(welcome.card) or not welcome.card_digest
                self.has_card(welcome.card)
                self.wall.connected(welcome.table)
                was_lost, self._is_lost = self._is_lost, False
                if not was_lost:  # at the first table, or moved to another
                    self.view = None
                    self._commands = Commands()
                return Reply(["Connected again."] if was_lost else [])
            case Lost(text=text):
                was_lost, self._is_lost = self._is_lost, True
                self._lost_ms = self._lost_ms if was_lost else now_ms
                return Reply([] if was_lost else [f"{text} Trying to reconnect."])
            case Waiting(text=text):
                return Reply([text])
            case Ended(text=text):
                self.ended = text
                return Reply([text])
            case OwnHeat(heat=heat):
                running = self.view.heat if self.view else None
                self._reviewed = None
                return Reply(end_lines(heat, self._card) if running and running.number == heat.number else [])
            case Done(id=command_id):
                self.wall.done(self._commands.unanswered.get(command_id))
                self._commands = self._commands.done(command_id)
        return Reply()

    def has_card(self, text: str) -> None:
        """Take in the text of the table's card."""
        self.card_text = text
        read = card_of(text) if text else None
        self._card = read if isinstance(read, Card) else None

    def sent(self, command_id: int, intent: Intent) -> None:
        """An intent went on its way; what the table answers to a mere draft is not told."""
        self._commands = self._commands.sent(command_id, intent)

    # ---- the coach

    def pass_to_judge(self) -> Asked | None:
        """Return the pass that the coach is to look at now, each once, where the table gives hints after each pass."""
        view = self.view
        asked = pass_made(view.heat, view.settings) if view and self.card_text else None
        if asked is None or (self._hint and self._hint.step == asked.step):
            return None
        self._hint = Hint(asked.step)
        return asked

    def hinted(self, hint: Hint) -> Reply:
        """Take in what the coach found."""
        if self._hint is None or self._hint.step != hint.step:
            return Reply()
        self._hint = hint
        return Reply(hint_lines(hint) if self.is_playing else [])

    def reviewed(self, heat: SeatHeat, review: "Review | None", trouble: str) -> Reply:
        """Take in what the coach found of a heat that is over; trouble says why it found less."""
        self._reviewed = heat, review, trouble
        return Reply(self._heat_end(numbers=False))

    def _heat_end(self, numbers: bool) -> list[str]:
        if self._reviewed is None:
            return [LOOKING]
        heat, review, trouble = self._reviewed
        named = self.named.get(heat.number, ())
        return heat_lines(heat_end(heat, review, named, missing=trouble, numbers=numbers))

    @property
    def is_asked(self) -> bool:
        """Whether the table waits for this player, as far as is known: no answer of theirs is on its way."""
        view = self.view
        if self.ended is not None:
            return True
        if view is None or self._commands.on_their_way:
            return False
        if view.heat is None:
            return not view.chairs[view.you].ready
        if view.heat.paused and self.kind != "with others":
            return True  # nobody else can go on
        return view.heat.owes and not view.heat.paused

    @property
    def is_over(self) -> bool:
        """Whether the evening to which the table belongs has ended."""
        at_table = self.view is not None and self.view.club is not None and self.view.club.over
        return at_table or (self.beside is not None and self.beside.over)

    @property
    def takes_enter(self) -> bool:
        """Whether an empty line asks for something: the next heat at a table for one, or to skip the plan."""
        if self.view and self.view.heat:
            return self.view.heat.step == "plan" and self.view.heat.owes and not self.view.heat.paused
        return self.kind != "with others" and (self.view is None or self.view.phase != "over")

    @property
    def is_playing(self) -> bool:
        """Whether a heat is running, as far as is known."""
        return self.view is not None and self.view.heat is not None

    @property
    def is_waiting(self) -> bool:
        """Whether something is still to be heard: the first view, or what became of an answer."""
        return self.ended is None and (self.view is None or bool(self._commands.unanswered))

    def _see(self, view: View, made_ms: int) -> Reply:
        old, self.view = self.view, view
        self._received_ms, self._commands = made_ms, self._commands.shown()
        heat, before = view.heat, old.heat if old else None
        if heat and (before is None or before.step != heat.step):
            self._blind, self._sure = 0, False
        self._away.see(old, view, made_ms)
        part = self.wall.see(view)
        lines = [*changes(old, view, self._rack(), self.kind), *evening_changes(old, view), *beside_changes(old, view)]
        reply = Reply([*lines, *part.lines], part=part)
        if heat is None and view.phase != "over" and (old is None or old.heat):
            reply.lines += [line for line in (self.wall.before_deal(),) if line]
        if heat and heat.step and not heat.paused and heat.rack != self._rack():
            # The table then tops up a pass that ran out of time from the end that the player was told.
            reply.intents.append(Arrange(tiles=self._rack()))
        return reply

    # ---- time

    def next_ms(self) -> int | None:
        """Return when to announce the time left next, or to offer a bot, or None."""
        marks = () if self._is_lost else self._marks()
        return min((*(at_ms for at_ms, _, _ in marks), *self._away.due_ms.values()), default=None)

    def tick(self, now_ms: int) -> Reply:
        """Return the time left if it is time to announce it: at half of the step's time, and at ten seconds; and
        whom a bot could stand in for, after ten seconds away. The guided heat asks for more time instead."""
        lines, intents = self._away.offers(self.view, now_ms), list[Intent]()
        for at_ms, mark, text in () if self._is_lost else self._marks():
            if at_ms <= now_ms:
                self._told.add(mark)
                lines = [*lines, text] if text else lines
                intents += () if text else more_time(0)
        return Reply(lines, intents)

    def _marks(self) -> list[Mark]:
        heat = self.view.heat if self.view else None
        marks = marks_of(heat, self._received_ms, self.kind == "guided") if heat else []
        return [mark for mark in marks if mark[1] not in self._told]

    # ---- what is typed

    def read(self, line: str, now_ms: int) -> Reply:
        """Return what a typed line leads to."""
        words = line.replace(",", " ").split()
        first = words[0].lower() if words else ""
        view = self.view
        if first in ("help", "?"):
            return Reply(HELP.splitlines())
        if first == "rules":
            return Reply(rules_lines(view.settings if view else Settings(), " ".join(words[1:])))
        if first in QUIT:
            return self._quit()
        if view is None:
            return Reply(["Not at the table yet."])
        self._sure = False
        try:
            return self._command(view, words, now_ms) or self._tiles(view, line)
        except BadLine as error:
            return Reply([str(error)])

    def _quit(self) -> Reply:
        if self.is_playing and not self._sure:
            self._sure = True
            return Reply(["A heat is running; a bot would play on for you. Write quit again to leave."])
        return Reply(quits=True)

    def _command(self, view: View, words: list[str], now_ms: int) -> Reply | None:
        """Return the reply to a line that is a command, or None if it must be tiles."""
        heat, line = view.heat, " ".join(words).lower()
        asks_number = heat is not None and heat.step is not None and STEPS[heat.step].ask == "offer"
        plain: dict[str, Intent] = {
            "start": Start(),
            "pause": Pause(),
            "resume": Resume(),
            "more": Extend(by_ms=GIVE_MORE_MS),
            "new set": NewSet(),
            "new code": NewCode(),
            "take": TakeSeat(),
            "hurry": Hurry(),
            "not ready": NotReady(),
            "go on": Vote(go_on=True),
            "stop": Vote(go_on=False),
        }
        if line == "new set" and self.kind == "take home":
            return Reply(question(view, self._rack(), kind=self.kind))  # more heats would be the same deals again
        if found := plain.get(line) or beside_intent(view, line.split()):
            return Reply(intents=[found])
        match line.split():
            case []:
                if self.takes_enter:
                    return Reply(intents=[Plan(hand="", discards=()) if heat else Ready()])
                return Reply(question(view, self._rack(), now_ms - self._received_ms, self.kind))
            case ["ready"]:
                return Reply(intents=[Ready()])
            case ["why" | "points" as word]:
                return Reply(self._why(view, word == "points"))
            case ["table"]:
                return Reply([*where_line(view), *table_lines(view)])
            case ["teacher", ("yes" | "no") as word] if view.club:
                return Reply(intents=[ShowRack(on=word == "yes")])
            case ["wall"]:
                return Reply(self.wall.told(view))
            case ["time"] if not heat and view.results:
                return Reply(heat_result(view, view.results[-1], steps_of_all=True))
            case ["time"]:
                gone_ms = (self._lost_ms if self._is_lost else now_ms) - self._received_ms
                return Reply([time_line(None if self.kind == "guided" else heat, gone_ms, self._is_lost)])
            case ["rack"]:
                if heat and heat.paused:
                    return Reply(["The racks are covered while the table is paused."])
                return Reply([rack_line(self._rack()) if heat else "There is no rack now."])
            case ["sort", order] if order in ("suit", "rank"):
                return self._sort(order, heat)
            case [number, *rest] if number.isdecimal() and (asks_number or (not rest and number in "0123")):
                return Reply(intents=[offered(heat.step if heat else None, line)])
            case ["move" | "bot" as word, ("1" | "2" | "3" | "4") as number]:
                return Reply(intents=[(MoveTo if word == "move" else SeatBot)(chair=int(number) - 1)])
            case ["let", "in", ("1" | "2" | "3" | "4") as number]:
                return Reply(intents=[LetIn(chair=int(number) - 1)])
            case ["set", *rest]:
                return self._set(view, rest)
            case ["back"]:
                return self._back(view)
            case ["card", *_]:
                return Reply(card_lines(self._card, words[1:]))
            case ["target", *_]:
                return self._target(view, words[1:], now_ms)
            case ["plan", *_]:
                return self._plan(words[1:])
        return None

    def _set(self, view: View, words: list[str]) -> Reply:
        presets = self._presets()
        if not words:
            return Reply(settable(view.settings, presets))
        settings = set_by(view.settings, presets, words)
        return Reply([settings]) if isinstance(settings, str) else Reply(intents=[ChangeSettings(settings=settings)])

    def _why(self, view: View, numbers: bool) -> list[str]:
        """Return what the coach says of the last pass, or of the costliest decision of the heat that is over."""
        if view.heat is None and view.results:
            return self._heat_end(numbers)
        return why_lines(self._hint, view.settings.hints == "after each pass", numbers)

    def _sort(self, order: str, heat: HeatView | None) -> Reply:
        self._sorted = by_rank if order == "rank" else by_suit
        if heat is None or heat.paused:
            return Reply([f"Racks are sorted by {order} from now on."])
        return Reply([rack_line(self._rack())], [Arrange(tiles=self._rack())] if heat.step else [])

    def _back(self, view: View) -> Reply:
        heat = view.heat
        if heat is None or heat.step is None:
            raise BadLine("There is nothing to take back.")
        if heat.answered:
            return Reply(intents=[TakeBack(step=heat.step)])
        self._blind = 0
        if STEPS[heat.step].ask not in ("pass", "give"):
            raise BadLine("There is nothing to take back.")
        return Reply(["Nothing is lifted."], [Lift(step=heat.step, tiles=())])

    def _plan(self, words: list[str]) -> Reply:
        """Take what stands behind "then" as first discards; without it, the last words that can only be tiles."""
        words = with_id(self._card, words)
        at = next((at for at, word in enumerate(words) if word.lower() == "then"), None)
        if at is not None:
            discards = sound(read_tiles(" ".join(words[at + 1 :]), places=self._rack())).tiles
            if len(discards) > MOST_DISCARDS:
                raise BadLine(f"At most {MOST_DISCARDS} first discards are named; you wrote {len(discards)}.")
            return Reply(intents=[self._planned(words[:at], discards)])
        discards = ()
        while words and len(found := surely_tiles(words[-1]) + discards) <= MOST_DISCARDS and found != discards:
            words, discards = words[:-1], found
        return Reply(intents=[self._planned(words, discards)])

    def _target(self, view: View, words: list[str], now_ms: int) -> Reply:
        """Take a hand's or a family's name as target; without words none is named."""
        heat = view.heat
        if heat is None or heat.step is None:
            raise BadLine("A target is named while a heat runs.")
        asked = " ".join(words)
        told = next(
            (hand for hand in (tell(self._card) if self._card else ()) if [hand.hand.id] == with_id(self._card, words)),
            None,
        )
        families = [section.name for section in self._card.sections] if self._card else []
        family = next((name for name in families if name.lower() == asked.lower()), "")
        if words and not (told or family):
            raise BadLine("No hand and no section of the card has this name; write card to hear them.")
        name = told.name if told else family
        after_ms = heat.clock.budget_ms - left_ms(heat, now_ms - self._received_ms)
        one = Named(step=heat.step, after_ms=after_ms, hand=told.hand.id if told else "", words=name[:120])
        self.named[heat.number] = (*self.named.get(heat.number, ()), one)
        return Reply([f"Your target: {name}." if name else "No target."])

    def _planned(self, words: list[str], discards: Rack) -> Plan:
        """Return a plan; the hand stays here where the table's card is not shared."""
        return Plan(hand=" ".join(words)[:60] if self._names_hand else "", discards=discards)

    def _tiles(self, view: View, line: str) -> Reply:
        heat, line = view.heat, line.replace(",", " ")
        rack, words = self._rack(), line.split()
        if heat and heat.paused:
            raise BadLine(question(view, ())[0])
        if heat is None or heat.step is None or STEPS[heat.step].ask not in ("pass", "give"):
            raise BadLine("No tiles are asked for now. " + " ".join(question(view, rack, kind=self.kind)[:1]))
        blind = self._blind
        if words[0].lower() == "blind":
            if len(words) < 2 or words[1] not in ("0", "1", "2", "3"):
                raise BadLine("Write how many go unseen: blind 1, blind 2 or blind 3; blind 0 for none.")
            # Blanks in place of the two words leave each tile at the place where it was typed.
            blind, line = int(words[1]), re.sub(r"^\s*\S+\s+\S+", lambda found: " " * len(found[0]), line)
        if blind > heat.most_blind:
            raise BadLine(too_blind(heat.most_blind))
        tiles = sound(read_tiles(line, places=rack)).tiles
        wanted = heat.give - blind
        if len(tiles) > wanted:
            raise BadLine(f"Only {wanted} of your own tiles go here; you wrote {len(tiles)}.")
        self._blind = blind
        if len(tiles) == wanted:
            return Reply(intents=[Pass(step=heat.step, tiles=tiles, blind=blind)])
        check_lifted(tiles, rack)
        lifted = f"Lifted {listed_tiles(tiles)}" if tiles else "Nothing is lifted"
        unseen = f", {blind} blind" if blind else ""
        return Reply(
            [f"{lifted}{unseen}: {len(tiles)} of {wanted}. Write all {wanted} that go."],
            [Lift(step=heat.step, tiles=tiles, blind=blind)],
        )

    def _rack(self) -> Rack:
        heat = self.view.heat if self.view else None
        return self._sorted(heat.rack) if heat else ()
