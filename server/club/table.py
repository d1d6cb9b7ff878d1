"""A table of a club: played like any other, but the desk is its host, and it may have to wait before it shows racks.

Where all tables play the same deal, the wall's secret is the club's, and nothing of a heat is told (racks, secret,
heat file) until the club says that every table has finished it. In such a heat no chair adds to the wall: what one
table's people add would have to be in every table's wall, so that either every table waits for the last person of
the last one before each heat, or somebody changes a deal that others have begun. The secret is bound instead: its
hash is shown to everybody before the deal, and whoever keeps the heat can check it. What that cannot show is that
the host's program drew it fairly; people who mind play with other deals, where each of them adds to the wall.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

from server.kept import KeptHeat
from server.records import EMPTY, Chair, TableRecord
from server.table.chairs import away_chair, bot_chair, own_name
from server.table.output import Joined, Output, Rejected
from server.table.seating import Seating
from server.table.table import Table
from shared.measures.standings import Standings
from shared.rules.events import AnyEvent
from shared.rules.intents import MoveTo, NewSet, Ready, ShowRack, Start, TableIntent
from shared.rules.refusals import Refusal
from shared.rules.seats import seat_of
from shared.rules.settings import Settings
from shared.wire.club_views import ClubPart, Elsewhere, all_places
from shared.wire.messages import NOTHING_HELD, Close, Command, Held
from shared.wire.views import View

NOBODY = -1
"""No chair: the desk speaks from none."""
NO_STANDINGS = Standings((), (), (), ())


@dataclass(frozen=True, slots=True)
class ClubNews:
    """What a table knows of its club. looked: at how many seats the coach has looked, of how many; elsewhere is by
    seat, for the heat elsewhere_heat."""

    evening: str = ""
    number: int = 0
    over: bool = False
    wait_ms: int = 0
    starts_at_ms: int | None = None
    closed_round: int = 0
    still_playing: int = 0
    teacher: bool = False
    watching: bool = False
    standings: Standings = NO_STANDINGS
    looked: tuple[int, int] = (0, 0)
    elsewhere_heat: int = 0
    elsewhere: tuple[tuple[Elsewhere, ...], ...] = ((), (), (), ())


class ClubTable(Table):
    """A table whose host is the desk. secret_of(settings, heat) is the secret that tables share; may_sit is the club's
    word on whether somebody may come to a chair."""

    def __init__(
        self,
        record: TableRecord,
        random_bytes: Callable[[int], bytes],
        wall_time: Callable[[], str],
        secret_of: Callable[[Settings, int], bytes],
        own_card: str = "",
    ) -> None:
        self._secret_of = secret_of
        self.news = ClubNews()
        self._away_since: dict[tuple[int, str], int] = {}
        self._one_missing_since: int | None = None
        self.may_sit: Callable[[Chair, int], bool] = lambda newcomer, chair: True
        super().__init__(record, random_bytes, wall_time, own_card=own_card)

    def opens(self, heat: KeptHeat) -> bool:
        """Say whether this table's own settings allow showing the racks of a heat."""
        return super()._is_open(heat)

    def has_told(self, heat: KeptHeat) -> bool:
        """Say whether a heat's racks may be seen now; those of earlier sets were shown before this one began."""
        return heat.number < self._record.set_first or self._is_open(heat)

    @property
    def people(self) -> tuple[int, ...]:
        """The chairs on which people sit."""
        chairs = self._record.chairs
        return tuple(chair for chair in range(4) if chairs[chair].sitter == "person" and not chairs[chair].left)

    def freedom(self, chair: int) -> tuple[int, int] | None:
        """Return how welcome a newcomer is on a chair, less is better, or None where a person sits."""
        match self._record.chairs[chair].sitter:
            case "nobody":
                return (0, 0)
            case "bot":
                return (1, 1 if self._heat else 0)
        return None

    @property
    def reached(self) -> int:
        """The last heat that is through here."""
        return self._record.number - (1 if self._heat else 0)

    @property
    def plays(self) -> bool:
        """Whether others wait for this table: it plays a heat, or has played one and still has people. Who has only
        come to a table that has not begun holds nobody back."""
        return self._heat is not None or bool(self.people and self._record.sat)

    def keeps_seat_of(self, name: str) -> bool:
        """Say whether somebody of this name sits here whose line is down."""
        return away_chair(self._record, name, self._connected) is not None

    def seen(self, person: str) -> int:
        """Return the last heat of which a person was shown a rack here, or 0."""
        return max((sat.heat for sat in self._record.sat if sat.chairs(person)), default=0)

    def sees_another(self, person: str, chair: int) -> bool:
        """Say whether a person has been shown another chair's rack of the heat that runs."""
        return self._heat is not None and bool(self._record.sat[-1].chairs(person) - {chair})

    # ---- what the desk asks

    def desk(self, intent: TableIntent, now_ms: int) -> Output | Refusal:
        """Do what a host may do."""
        out = Output()
        refusal = self._host(intent, NOBODY, now_ms, out)
        self._watch(now_ms)
        return refusal or self._told(out)

    def take_up(self, chair: int, now_ms: int) -> tuple[Chair, Output]:
        """Take the person from a chair and return their record; a bot plays a running heat on."""
        out, person = Output(), self._record.chairs[chair]
        empty = bot_chair(self._record, chair) if self._heat else EMPTY
        self._record = self._record.with_chair(chair, empty)
        self._connected.discard(chair)
        self._replies[chair].clear()
        self._gone_from_round(chair, True, now_ms, out)
        self._turns(out, now_ms)
        self._watch(now_ms)
        return person, self._told(out)

    def sit(self, chair: int, person: Chair, now_ms: int) -> Output:
        """Put a person on a chair; a running heat there goes on with the bot until they take the seat themselves."""
        seated = person.model_copy(
            update={
                "name": own_name(self._record, chair, person.name),
                "stand_in": self._heat is not None,
                "left": False,
                "since": self._record.number + 1,
                "ready": False,
            }
        )
        self._record = self._record.with_chair(chair, seated)
        self._note_who_came(chair)
        self._replies[chair].clear()
        out = Output()
        self._turns(out, now_ms)
        self._watch(now_ms)
        return self._told(out)

    def close(self) -> Output:
        """Close the table; a running heat has no result."""
        self._heat = None
        self._drop_round()
        self._record = self._record.with_(phase="over", head=None, closed=True)
        return self._told(Output())

    def end(self) -> Output:
        """The evening is over: no heat will follow."""
        self._drop_round()
        self._record = self._record.with_(phase="over")
        return self._told(Output())

    def skip_to(self, heat: int) -> Output:
        """Count heats that others played as if they had been played here: their deal is known now."""
        self._record = self._record.with_(number=heat, round=None)
        self._record = self._record.with_(secret=self._fresh_secret())
        return self._told(Output())

    def rename(self, name: str) -> Output:
        """Call the table otherwise."""
        self._record = self._record.with_(name=name)
        return self._told(Output())

    def lines_are(self, chairs: frozenset[int], now_ms: int) -> Output:
        """Take note of which chairs have a line now."""
        if self._connected == chairs:
            return Output()
        self._connected = set(chairs)
        self._watch(now_ms)
        return self._told(Output())

    def forget_agreements(self) -> Output:
        """Ask everybody anew whether a teacher may see their rack."""
        self._ask_anew()
        return self._told(Output())

    def watch(self, name: str, token: bytes | None, crowded: str = "", waits: bool = False) -> Joined | Rejected:
        """Nobody stands beside one table of an evening: they watch all of it, or wait for a chair at any."""
        return Seating.watch(self, name, token, crowded, waits)

    def _lets_see(self) -> bool:
        return self.news.teacher

    def hear_news(self, news: ClubNews) -> Output:
        """Take in what the club says; heats that may be told now are told."""
        out, before = Output(), self.news
        if news == before:
            return out
        unseen = replace(
            news,
            standings=before.standings,
            looked=before.looked,
            elsewhere_heat=before.elsewhere_heat,
            elsewhere=before.elsewhere,
        )
        if self._heat and unseen == before:
            self.news = news  # Nobody sees results during a heat, so that nobody need be told before its end.
            return out
        held = [heat for heat in self._finished if not self._is_open(heat)]
        self.news = news
        for heat in held:
            if self._is_open(heat):
                self._tell_all(heat, out)
        return self._told(out)

    # ---- where it differs from a table of its own

    def join(
        self, name: str, token: bytes | None, now_ms: int, held: Held = NOTHING_HELD, crowded: str = ""
    ) -> Joined | Rejected:
        """Seat a client as any table does, a newcomer in a running heat behind the bot that plays it on."""
        if self._record.closed:
            return Rejected(Close.TABLE_CLOSED, "This table is closed; use the club's code to reach the others.")
        before = self._record.chairs
        answer = super().join(name, token, now_ms, held, crowded)
        if isinstance(answer, Joined) and self._heat:
            was = before[answer.chair]
            if was.sitter != "person":
                self._change(answer.chair, since=self._record.number + 1)
            # People who came during the heat take the seat when they like; what they asked before is void.
            if not was.is_present and self._record.chairs[answer.chair].since > self._record.number:
                self._change(answer.chair, stand_in=True)
                self._turns(answer.output, now_ms)
        self._watch(now_ms)
        return answer

    def _free_chair(self, token_hash: bytes) -> int | None:
        newcomer = Chair(sitter="person", token_hash=token_hash)
        free = [(rank, chair) for chair in range(4) if (rank := self.freedom(chair)) and self.may_sit(newcomer, chair)]
        return min(free)[1] if free else None

    def restore(self, events: tuple[AnyEvent, ...], finished: tuple[KeptHeat, ...], now_ms: int) -> Output:
        """Take over from disk what was going on; from now on people are away."""
        out = super().restore(events, finished, now_ms)
        self._watch(now_ms)
        return out

    def disconnected(self, chair: int, now_ms: int) -> Output:
        """The line to a chair is cut; the table waits for its person, but not for ever."""
        out = super().disconnected(chair, now_ms)
        self._watch(now_ms)
        return out

    def command(self, chair: int, command: Command, now_ms: int) -> Output:
        """Carry out a command; whoever is not ready now may be the last."""
        out = super().command(chair, command, now_ms)
        self._watch(now_ms)
        return out

    def tick(self, now_ms: int) -> Output:
        """Do what time alone brings about; let nobody be waited for longer than the desk wants."""
        out, before = super().tick(now_ms), self._record
        for chair in self._gone_too_long(now_ms):
            self._seat_bot(chair, now_ms, out)
        due_ms = self._last_due_ms()
        if due_ms is not None and due_ms <= now_ms:
            self._host(Start(), NOBODY, now_ms, out)
        self._watch(now_ms)
        return out if self._record is before else self._told(out)

    def next_deadline_ms(self) -> int | None:
        """Return when tick has something to do."""
        times_ms = (super().next_deadline_ms(), self._last_due_ms(), *self._away_due_ms().values())
        return min((at_ms for at_ms in times_ms if at_ms is not None), default=None)

    # ---- nobody is waited for too long

    def _watch(self, now_ms: int) -> None:
        """Take note since when people are away, and since when one alone is not ready."""
        chairs = self._record.chairs
        away = [(chair, chairs[chair].person) for chair in self.people if chair not in self._connected]
        self._away_since = {who: self._away_since.get(who, now_ms) for who in away}
        present = [chair for chair in self.people if chairs[chair].is_present]
        missing = [chair for chair in present if not chairs[chair].ready or chair not in self._connected]
        here = [chair for chair in missing if chair in self._connected]
        is_one_missing = bool(missing) and len(here) <= 1 and len(missing) < len(present)
        is_between = self._record.phase in ("seating", "between") and self._record.round is None
        if not (is_one_missing and is_between):
            self._one_missing_since = None
        elif self._one_missing_since is None:
            self._one_missing_since = now_ms

    def _last_due_ms(self) -> int | None:
        """Return when the heat begins without the last who is not ready."""
        since_ms = self._one_missing_since
        return since_ms + self.news.wait_ms if self.news.wait_ms and since_ms is not None else None

    def _away_due_ms(self) -> dict[int, int]:
        """Return when a bot is to play for each person who is away, as long as clocks run."""
        if not self._heat or self._heat.state.paused or not self.news.wait_ms:
            return {}
        chairs = self._record.chairs
        return {
            chair: since_ms + self.news.wait_ms
            for (chair, person), since_ms in self._away_since.items()
            if chairs[chair].is_present and chairs[chair].person == person
        }

    def _gone_too_long(self, now_ms: int) -> list[int]:
        return [chair for chair, due_ms in self._away_due_ms().items() if due_ms <= now_ms]

    def view(self, chair: int, now_ms: int) -> View:
        """Return all that a chair may see now, the club beside the table included."""
        return super().view(chair, now_ms).model_copy(update={"club": self._club_part(chair, now_ms)})

    def _club_part(self, chair: int, now_ms: int) -> ClubPart:
        news, record = self.news, self._record
        part = ClubPart(
            evening=news.evening,
            number=news.number,
            over=news.over,
            starts_in_ms=None if news.starts_at_ms is None else max(0, news.starts_at_ms - now_ms),
            goes_on_in_ms=None if (due_ms := self._last_due_ms()) is None else max(0, due_ms - now_ms),
            still_playing=news.still_playing,
            teacher=news.teacher,
            watching=news.watching and self.agrees(chair),
        )
        if self._heat:
            return part
        last = self._finished[-1] if self._finished else None
        told: tuple[Elsewhere, ...] = ()
        # People who came after that heat have no rack to compare.
        if last and last.number == news.elsewhere_heat and record.chairs[chair].since <= last.number:
            told = news.elsewhere[seat_of(chair, last.east)]
        return part.model_copy(
            update={
                **all_places(news.standings, record.chairs[chair].person),
                "looked": news.looked[0],
                "to_look_at": news.looked[1],
                "elsewhere_heat": news.elsewhere_heat if told else 0,
                "elsewhere": told,
            }
        )

    def _arrange_table(self, chair: int, intent: TableIntent, now_ms: int, out: Output) -> Refusal | None:
        if isinstance(intent, ShowRack) and not self.news.teacher:
            return Refusal("not now", "Teachers are not admitted this evening.")
        if isinstance(intent, MoveTo):
            return Refusal("host only", "Places are given at the desk.")
        if isinstance(intent, Ready) and not self._heat:
            self._change(chair, stand_in=False)
        return super()._arrange_table(chair, intent, now_ms, out)

    def _host(self, intent: TableIntent, host: int, now_ms: int, out: Output) -> Refusal | None:
        # A new set would drop heats that the club has not shown yet.
        if isinstance(intent, NewSet) and any(not self._is_open(heat) for heat in self._finished):
            return Refusal("not now", "Other tables still play this deal; a new set can begin when they have finished.")
        return super()._host(intent, host, now_ms, out)

    def _host_now(self) -> int | None:
        return None

    @property
    def _may_regain(self) -> bool:
        return True  # The club asks for a seat that is kept only while a desk is here.

    def _fresh_secret(self) -> bytes:
        settings = self._record.settings
        return self._secret_of(settings, self._record.number + 1) if settings.same_deal else super()._fresh_secret()

    def _is_open(self, heat: KeptHeat) -> bool:
        is_held = heat.settings.same_deal and heat.number > self.news.closed_round
        return super()._is_open(heat) and not is_held
