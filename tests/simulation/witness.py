"""What must hold whatever goes wrong: checked on every event that reaches the disk and every message a person gets.

The rules are not asked whether they were right: counts, clocks, directions and who may know what are worked out
here again, from the events alone.
"""

from collections import Counter, defaultdict
from collections.abc import Callable

from server.records import HeatHead, TableRecord, hash_token
from server.store import Append
from shared.names import clean_name
from shared.rules.events import (
    Agreed,
    AnyEvent,
    ClocksRan,
    ClocksStopped,
    DeadlinesMoved,
    Dealt,
    Decided,
    EastWon,
    HeatEnded,
    Moved,
    Offered,
    Passed,
    Planned,
    StepBegan,
    TakenBack,
    Voted,
)
from shared.rules.heat import SavedHeat
from shared.rules.intents import (
    ChangeSettings,
    Extend,
    FreeChair,
    Leave,
    LetIn,
    LetSee,
    NewCode,
    Offer,
    Pass,
    SendOff,
    Vote,
)
from shared.rules.players import player_of
from shared.rules.seats import SEATS, Seat, seat_of
from shared.rules.settings import Settings
from shared.rules.state import State, evolve
from shared.rules.steps import STEPS, StepName
from shared.rules.tiles import Tile, full_set, name
from shared.wire.club_views import ClubView
from shared.wire.messages import NO_CHAIR, Command, Done, HeatFile, OwnHeat, Refused, Welcome
from shared.wire.views import HeatView, View

GRACE_MS = 250
FLOWERS = 2
GONE = 2**53
HOSTS = (ChangeSettings, FreeChair, Extend, NewCode, LetIn, LetSee, SendOff)
"""What only the host may do, also while the host is away."""
Answers = Passed | Voted | Offered | Planned


class Broken(AssertionError):
    """An invariant does not hold; invariant names it in a few words."""

    def __init__(self, invariant: str, text: str) -> None:
        super().__init__(f"{invariant}: {text}")
        self.invariant = invariant


def check(holds: bool, invariant: str, text: str = "") -> None:
    """Raise Broken unless it holds."""
    if not holds:
        raise Broken(invariant, text)


def is_complete(card: str, rack: tuple[Tile, ...]) -> bool:
    """Say that a rack is a complete hand, far more often than a card would: with two flowers."""
    return rack.count("F") >= FLOWERS


class HeatWitness:
    """One heat: its own account of time, and everything that each seat was ever allowed to see."""

    def __init__(self, head: HeatHead | SavedHeat, write_ms: int) -> None:
        self.head = head
        self._write_ms = write_ms
        self.settings: Settings = head.settings
        self.state = State(head.settings)
        self.events = 0
        self.racks: dict[Seat, set[tuple[Tile, ...]]] = defaultdict(set)
        self.came: dict[Seat, set[tuple[Tile, ...]]] = {seat: {()} for seat in SEATS}
        self.answers: dict[tuple[Seat, StepName], Answers] = {}
        self.given: set[tuple[Seat, StepName, tuple[Tile, ...]]] = set()
        self.began_ms = 0
        self.real_began_ms = 0
        self.moved_ms: dict[Seat, int] = dict.fromkeys(SEATS, 0)
        self.left_ms: dict[Seat, int] = dict.fromkeys(SEATS, 0)
        self.budget_ms: dict[Seat, int] = dict.fromkeys(SEATS, 0)
        self.is_plain_step = True
        self.extensions = 0
        self.ended = False
        self.acknowledged: dict[tuple[Seat, StepName], bytes] = {}

    def see(self, event: AnyEvent, real_ms: int, stalled_ms: int) -> None:
        """Check one event that reached the disk, and take note of it."""
        before = self.state
        if isinstance(event, Passed | Voted | Offered | Planned):
            self._see_answer(event, before, real_ms, stalled_ms)
        self.state = evolve(before, event)
        self.events += 1
        match event:
            case Dealt():
                self._note_racks()
            case StepBegan():
                self._see_step(event, real_ms, stalled_ms)
            case Moved():
                self._see_movement(event, before)
            case Decided():
                votes = [self.answers[seat, "go on"] for seat in SEATS]
                stops = [vote for vote in votes if isinstance(vote, Voted) and not vote.go_on]
                check(event.go_on is not bool(stops), "one stop ends it, none goes on")
                turned = [(*rack, *down) for rack, down in zip(before.racks, before.face_down, strict=True)]
                check(list(map(sorted, self.state.racks)) == list(map(sorted, turned)), "what lay face down is turned")
                self._note_turned(before)
            case Agreed():
                self._see_agreed(event, before.step)
            case EastWon():
                check(self.settings.east_complete == "wins", "East's hand wins only where the table says so")
                check(is_complete("", self.state.racks[0]), "East wins with a complete hand only")
            case ClocksStopped() | ClocksRan():
                self.is_plain_step = False
            case DeadlinesMoved(why="host"):
                self.extensions += 1
                self.is_plain_step = False
            case TakenBack(seat=number):
                self.is_plain_step = False
                step = before.step
                check(step is not None, "an answer is taken back in its step")
                check(self.settings.final_at == "step end", "a committed answer is final")
                self.answers.pop((Seat(number), step or "plan"), None)
                self.acknowledged.pop((Seat(number), step or "plan"), None)
            case HeatEnded():
                self.ended = True
                self._boundary()
        self._conserved()

    def _conserved(self) -> None:
        state = self.state
        held = (*state.racks, *state.face_down)
        there = Counter([*state.wall, *state.aside, *(tile for rack in held for tile in rack)])
        check(there == Counter(full_set(self.settings.jokers)), "every tile is in one place")

    def _boundary(self) -> None:
        down = self.state.face_down
        held = [len((*rack, *under)) for rack, under in zip(self.state.racks, down, strict=True)]
        check(held == [14, 13, 13, 13], "racks hold 14/13/13/13")
        may_hide = self.settings.stop_unseen and self.state.step in ("first left", "go on")
        check(may_hide or not any(down), "tiles lie face down only until all have voted")

    def _see_step(self, event: StepBegan, real_ms: int, stalled_ms: int) -> None:
        self._boundary()
        self.began_ms, self.real_began_ms, self.is_plain_step = event.at_ms, real_ms - stalled_ms, True
        length_ms = self.settings.length_ms(event.step)
        carries = self.settings.carry_over and event.step != "plan"
        for seat in SEATS:
            self.budget_ms[seat] = length_ms + (self.left_ms[seat] if carries else 0)

    def _see_answer(self, event: Answers, before: State, real_ms: int, stalled_ms: int) -> None:
        seat, step = Seat(event.seat), before.step
        check(step is not None, "an answer has a step")
        assert step is not None
        check((seat, step) not in self.answers, "each answer counts once", f"{seat.word} twice at {step}")
        check(not before.paused, "nothing happens in a pause")
        self.answers[seat, step] = event
        budget_ms = before.clocks[seat].budget_ms
        if self.is_plain_step:
            check(budget_ms == self.budget_ms[seat], "time is the step's length and what was carried")
            ran_ms = real_ms - stalled_ms - self.real_began_ms + self._write_ms
            if event.by == "timeout":
                check(ran_ms > budget_ms + GRACE_MS, "no clock runs out early", f"{ran_ms} of {budget_ms} ms")
                check(event.spent_ms == budget_ms, "a timeout is charged in full")
        if isinstance(event, Voted) and event.by == "timeout":
            check(event.go_on == (self.settings.silence == "go on"), "silence means what the table says")
        check(0 <= event.spent_ms <= budget_ms, "the time charged is at most what there was")
        deadline_ms = before.clocks[seat].deadline_ms()
        if event.by != "timeout" and deadline_ms is not None:
            check(event.at_ms <= deadline_ms + GRACE_MS, "nothing counts after the grace")
        self.left_ms[seat] = budget_ms - event.spent_ms
        if isinstance(event, Passed):
            self._see_pass(event, before)

    def _see_pass(self, event: Passed, before: State) -> None:
        seat = Seat(event.seat)
        self.given.add((seat, before.step or "plan", event.tiles))
        check("J" not in event.tiles, "no joker is passed")
        check(not Counter(event.tiles) - Counter(before.racks[seat]), "only held tiles are passed")
        assert before.step is not None
        wanted = 3 if STEPS[before.step].ask == "pass" else before.agreed[seat]
        check(len(event.tiles) + event.blind == wanted, "exactly so many tiles are passed")
        check(event.blind <= self._most_blind(before.step), "blind only where allowed")

    def _most_blind(self, step: StepName) -> int:
        may = step == "last right" or (step == "first left" and self.settings.blind_at == "both")
        return self.settings.blind_most if may and self.settings.blind else 0

    def _see_movement(self, event: Moved, before: State) -> None:
        direction = STEPS[event.step].direction
        hidden = event.step == "first left" and self.settings.stop_unseen and self.settings.second == "offered"
        blinds = [answer.blind if isinstance(answer := before.answers[seat], Passed) else 0 for seat in SEATS]
        still = blinds == [3, 3, 3, 3] and self.settings.incoming == "racks"
        for seat in SEATS:
            sent, came = event.sent[seat], event.came[seat]
            wanted = 3 if STEPS[event.step].ask == "pass" else before.agreed[seat]
            check("J" not in sent + came, "no joker is passed")
            check(len(sent) == (0 if still else wanted), "exactly three out")
            own = before.answers[seat]
            given = own.tiles if isinstance(own, Passed) else ()
            check(len(came) == len(given), "as many come as go")
            if not any(blinds) and self.settings.incoming == "racks":
                if direction is None:
                    feeder = self._named(seat, "side offer") if wanted else seat
                else:
                    feeder = Seat((seat - direction) % 4)
                check(Counter(came) == Counter(event.sent[feeder]), "a pass goes the step's way")
            kept, seen = Counter(self.state.racks[seat]), () if hidden else came
            check(kept == Counter(before.racks[seat]) - Counter(given) + Counter(seen), "a rack is what went and came")
            check(self.state.face_down[seat] == (came if hidden else ()), "nobody looks before all have voted")
            self.came[seat].add(tuple(sorted(seen)))
        self._note_racks()

    def _see_agreed(self, event: Agreed, step: StepName | None) -> None:
        assert step is not None
        for seat in SEATS:
            other = self._named(seat, step)
            pair = [offer.count for each in (seat, other) if isinstance(offer := self.answers[each, step], Offered)]
            least = min(pair) if self._named(other, step) == seat else 0
            check(event.counts[seat] == least, "the smaller courtesy number counts")

    def _named(self, seat: Seat, step: StepName) -> Seat:
        """Return the seat to which a seat has made its offer."""
        offer = self.answers[seat, step]
        way = offer.to if isinstance(offer, Offered) else "across"
        return Seat((seat + {"right": 1, "across": 2, "left": 3}[way]) % 4)

    def _note_turned(self, before: State) -> None:
        for seat in SEATS:
            self.came[seat].add(tuple(sorted(before.face_down[seat])))
        self._note_racks()

    def _note_racks(self) -> None:
        for seat in SEATS:
            self.racks[seat].add(tuple(sorted(self.state.racks[seat])))


class Witness:
    """A whole evening. asked_at gives the server's time when the write was asked for, and how much of that time
    the machine had slept; write_ms is how long a write can take: so much earlier a step may have begun, for an
    answer counts from when it was read. All in milliseconds."""

    def __init__(self, asked_at: Callable[[], tuple[int, int]], write_ms: int) -> None:
        self._asked_at, self._write_ms = asked_at, write_ms
        self.heats: dict[int, HeatWitness] = {}
        self.set_first = 1
        self.last_open = 0
        self.phase = "seating"
        self.extends_asked: set[tuple[str, int]] = set()
        self.last_ids: dict[bytes, int] = {}
        self.numbers: dict[int, bytes] = {}
        self.resumed = False
        self.events = 0
        self.has_desk = False
        self.sets_over: set[int] = set()
        self.hosts: set[bytes] = set()
        self.machines: dict[bytes, bytes] = {}
        self._record: TableRecord | None = None
        self._lets_see: set[tuple[int, bytes, str]] = set()
        self._at_the_time: dict[int, set[bytes]] = {}
        """Who sat at the table when a rack of a heat was first shown beside it."""
        self.seen_beside = 0
        self._dealt: HeatHead | None = None

    # ---- on disk

    def written(self, append: Append) -> None:
        """Check an append that reached the disk."""
        record = append.record
        self.phase, self.set_first = record.phase, record.set_first
        self._note_ids(record)
        self._note_machines(record)
        if record.phase == "over":
            self.sets_over.add(record.set_first)
        if record.host is not None:
            self.hosts.add(record.chairs[record.host].token_hash)
        if record.head and not self.has_desk:
            self._see_head(record.head, record)
            self._note_beside(record)
        self._record = record
        if append.heat not in self.heats and append.events:
            head = record.head or append.finished  # a heat that East wins is over as soon as it is dealt
            check(head is not None, "a heat begins with its head")
            assert head is not None
            self.heats[append.heat] = HeatWitness(head, self._write_ms)
        if append.events:
            heat = self.heats[append.heat]
            check(heat.events == append.after, "events follow each other without a gap")
            if self.resumed:
                check(heat.state.paused or isinstance(append.events[0], ClocksStopped), "a killed heat resumes paused")
                self.resumed = False
            for event in append.events:
                heat.see(event, *self._asked_at())
            self.events += len(append.events)
            total = sum(other.extensions for other in self.heats.values())
            check(total <= len(self.extends_asked), "each command counts once")

    def _note_ids(self, record: TableRecord) -> None:
        """Note each person's last command. Of whoever has lost the chair nothing needs to be kept any more."""
        here = {chair.token_hash: chair.last_id for chair in record.chairs}
        for token_hash in self.last_ids.keys() - here.keys():
            self.last_ids[token_hash] = GONE
        for token_hash, last_id in here.items():
            self.last_ids[token_hash] = max(last_id, self.last_ids.get(token_hash, 0))

    def _note_machines(self, record: TableRecord) -> None:
        """Take note of who plays from another machine now: the table knows the person by another token."""
        before = self._record
        if before is None:
            return
        known = {chair.person: chair.token_hash for chair in before.chairs if chair.person}
        for was, now in zip(before.people, record.people, strict=False):
            new = next((chair.token_hash for chair in record.chairs if chair.person == now), None)
            if was != now and was in known and new:
                self.machines[known[was]] = new
                self.hosts |= {new} if known[was] in self.hosts else set()

    def _same(self, token_hash: bytes) -> bytes:
        """Return the token hash that a person has now."""
        while token_hash in self.machines:
            token_hash = self.machines[token_hash]
        return token_hash

    def _see_head(self, head: HeatHead, record: TableRecord) -> None:
        """A heat is played by the settings that the host set last, and the deal moves on through all sets."""
        check(head.settings == record.settings.unseeded(), "a heat is played by the settings set before it")
        before, self._dealt = self._dealt, head
        if before is None or before.number + 1 != head.number:
            return
        if min(heads.sitters.count("person") for heads in (before, head)) > 1:
            check(head.east == (before.east + 1) % 4, "the deal moves on with every heat", f"heat {head.number}")

    # ---- at the people's ends

    def asked(self, name: str, command: Command) -> None:
        """Take note of what a person sent."""
        if isinstance(command.intent, Extend):
            self.extends_asked.add((name, command.id))

    def heard(self, chair: int | None, token: bytes | None, command: Command | None, message: object) -> None:
        """Check a message that reached a person on a chair, who holds a token; command is the one it answers."""
        match message:
            case View():
                if message.person and token:
                    self._is_number_of(message.person, hash_token(token))
                if token and not self.has_desk:
                    is_host = hash_token(token) in self.hosts
                    check(is_host or not (message.host or message.code), "only one is the host")
                    hosts = sum(chair.host for chair in message.chairs)
                    check(hosts <= 1, "only one is the host", f"{hosts} at once")
                self._see_view(message)
            case ClubView(one_table=True) if token:
                self._see_from_beside(message, hash_token(token))
            case Done() if command and token and chair == NO_CHAIR and not self.has_desk:
                check(isinstance(command.intent, Leave), "who is beside the table can only go", command.intent.kind)
            case Done() if command and token and chair is not None:
                kept_id = self.last_ids.get(hash_token(token), 0)
                check(command.id <= kept_id, "what is acknowledged is on disk", f"{command.id} of {kept_id}")
                if isinstance(command.intent, HOSTS) and not self.has_desk:
                    check(hash_token(token) in self.hosts, "a guest has no right of the host", command.intent.kind)
                self._see_done(chair, hash_token(token), command)
            case Refused():
                own = getattr(command.intent, "tiles", ()) if command else ()
                named = [tile for tile in set(full_set()) - set(own) if f" {name(tile)} " in f" {message.text} "]
                check(not named or not command, "a refusal names only what was asked", message.text)
            case HeatFile() | OwnHeat() | Welcome() | _:
                pass

    def _see_from_beside(self, view: ClubView, token_hash: bytes) -> None:
        """A rack is seen only by who may, of who agreed, and only once that is on the disk."""
        (table,) = view.tables
        for shown in table.chairs:
            check(clean_name(shown.name) == shown.name, "a name cannot act", repr(shown.name))
            check(not shown.person, "nobody beside the table gets a person's key")
            if shown.rack:
                self.seen_beside += 1
                may = (table.heat_number, token_hash, shown.name) in self._lets_see
                check(may, "a rack is seen beside the table by two words only", f"{shown.name}'s")

    def _note_beside(self, record: TableRecord) -> None:
        """Take note of who may see whose rack. Whoever sits down after one was shown plays from the next heat on."""
        head, seated = record.head, {self._same(chair.token_hash) for chair in record.chairs if chair.person}
        if head is None:
            return
        for one in record.beside:
            for chair in record.chairs:
                if one.sees and chair.shows and chair.is_present and record.shown == head.number:
                    self._lets_see.add((head.number, one.token_hash, chair.name))
        if record.shown == head.number:
            before = self._at_the_time.setdefault(head.number, seated)
            playing = {self._same(chair.token_hash) for chair in record.chairs if chair.is_present}
            check(playing <= {self._same(one) for one in before}, "who sits down after a rack was shown plays later")

    def _is_number_of(self, person: int, token_hash: bytes) -> None:
        known = self._same(self.numbers.setdefault(person, token_hash))
        check(known == self._same(token_hash), "a result belongs to who played it")

    def _see_done(self, chair: int, token_hash: bytes, command: Command) -> None:
        heat = self.heats.get(command.heat)
        if heat is None or not isinstance(command.intent, Pass | Vote | Offer):
            return
        step: StepName = (
            command.intent.step
            if isinstance(command.intent, Pass)
            else "go on"
            if isinstance(command.intent, Vote)
            else "courtesy offer"
            if command.intent.to == "across"
            else "side offer"
        )
        seat = seat_of(chair, heat.head.east)
        answer = heat.answers.get((seat, step))
        if answer is None and heat.settings.final_at == "step end":
            return
        check(answer is not None, "what is acknowledged is on disk", f"{step} of chair {chair}")
        heat.acknowledged[seat, step] = token_hash
        if isinstance(answer, Passed) and isinstance(command.intent, Pass) and heat.settings.final_at == "commit":
            check(answer.tiles == command.intent.tiles, "what is acknowledged is what was asked")

    def _see_view(self, view: View) -> None:
        for chair in view.chairs:
            check(clean_name(chair.name) == chair.name, "a name cannot act", repr(chair.name))
        for result in view.results:
            heat = self.heats[result.number]
            check(heat.ended, "a result is of a heat that ended")
            check(result.east_won == heat.state.won == (not heat.answers), "only a heat that East won has no steps")
            for (number, step), token_hash in heat.acknowledged.items():
                player = player_of(result.seats[number].players, step)
                if getattr(heat.answers.get((number, step)), "by", "") == "person":
                    check(player is not None, "a result belongs to who played it", f"{step} by nobody")
                    self._is_number_of(player.person if player else 0, token_hash)
            for (number, step), answer in heat.answers.items():
                player = player_of(result.seats[number].players, step)
                by_person = player is not None and player.person > 0
                check(answer.by != "person" or by_person, "a result belongs to who played it", f"{step} by a bot")
                check(answer.by != "bot" or not by_person, "a bot's result is the bot's")
            tiles = [tile for seat in result.seats for tile in (*seat.dealt, *seat.final)]
            told = bool(tiles) or bool(result.secret)
            is_open = heat.settings.open_racks or view.phase == "over"
            check(is_open or not told, "closed racks stay closed until the set is over")
        if view.heat:
            heat = self.heats[view.heat.number]
            self._see_heat(view.heat, heat, seat_of(view.you, heat.head.east))

    def _see_heat(self, view: HeatView, heat: HeatWitness, seat: Seat) -> None:
        check(view.seat == seat, "a view is for one's own seat")
        if view.paused:
            check(not (view.rack or view.dealt or view.fresh or view.lifted), "a pause covers the racks")
        else:
            check(tuple(sorted(view.rack)) in heat.racks[seat], "a seat sees its own rack")
            check(Counter(view.dealt) == Counter(heat.state.dealt[seat]), "a seat sees its own rack", "dealt")
            check(tuple(sorted(view.fresh)) in heat.came[seat], "a seat sees only what came to it", "fresh")
            check(not Counter(view.lifted) - Counter(view.rack), "a seat sees its own rack", "lifted")
        for step in view.route:
            check(tuple(sorted(step.came)) in heat.came[seat], "a seat sees only what came to it", step.step)
            own = not step.given or (seat, step.step, step.given) in heat.given
            check(own, "a seat sees its own pass", step.step)
        votes = [seat_view.vote for seat_view in view.seats if seat_view.vote is not None]
        offers = [seat_view.offer for seat_view in view.seats if seat_view.offer is not None]
        sides = [seat_view.side_offer for seat_view in view.seats if seat_view.side_offer is not None]
        shown = {len(votes), len(offers), len(sides)}
        check(shown <= {0, 4}, "answers are shown when all have answered")
        check(view.most_blind <= heat.settings.blind_most, "blind only where allowed")
        check(0 <= view.clock.left_ms <= view.clock.budget_ms, "a clock shows what is left")
