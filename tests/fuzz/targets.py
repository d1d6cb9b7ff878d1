"""Everything that reads what strangers or other programs wrote, each with good inputs to begin from.

A target takes bytes and says whether they were taken or refused; any exception that leaves it is a fault.
"""

import tomllib
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from client.connection.seat_tokens import recall
from client.hosting.evening_plan import BadPlan, read_plan
from client.hosting.table import play_bots
from client.setup import Setup
from client.storage.history_db import History, HistoryFault
from client.storage.preferences import load_look
from client.storage.presets import BadPreset, read_preset, write_preset
from client.storage.verify import read_any_heat, verify
from client.theme import Look, write_look
from server.store import Append, Database, StoreFault
from shared.cards.card import Card
from shared.cards.draft import Draft, DraftLine, DraftRow, read_draft, text_of
from shared.cards.expand import expand
from shared.cards.guess import guess
from shared.cards.read import read_card
from shared.cards.shipped import first_evening_card, practice_card
from shared.cards.write import write_card
from shared.codec import BadFrame, Codec
from shared.rules.heat import HEAT, final_state
from shared.rules.intents import ChangeSettings, Lift, Offer, Pass, Plan, Ready, Vote
from shared.rules.seat_heat import SEAT_HEAT, seat_heat
from shared.rules.seats import SEATS
from shared.rules.settings import Settings
from shared.rules.typed_tiles import read_tiles
from shared.wire.messages import PROTOCOL, TO_CLIENT, TO_SERVER, Command, Done, Hello, OwnHeat, Refused, Welcome
from tests.fuzz.mutate import Mutator, of_bytes, of_text, of_tree
from tests.server.players import make_table

TAKEN, REFUSED = True, False
OLD_CARDS = Path(__file__).parents[1] / "shared" / "cards" / "fixtures"


@dataclass(frozen=True)
class Target:
    """What is fuzzed: good inputs, ways to change them, the reader, and how many of a hundred inputs it gets."""

    name: str
    corpus: tuple[bytes, ...]
    mutators: tuple[Mutator, ...]
    read: Callable[[bytes], bool]
    share: int


def targets(folder: Path) -> tuple[Target, ...]:
    """Return all targets; files are written to the folder. The environment must name it as the folder of settings."""
    heats = play_bots(Settings(seed=11, heats=2, level_ms=10_000, plan_ms=5_000))
    own = [seat_heat(heats[0], final_state(heats[0]), seat) for seat in SEATS]
    frames = (TO_SERVER.pack(Hello(protocol=PROTOCOL, name="Ann", code="acorn", token=bytes(16))), *_commands())
    return (
        Target("frame to the table", frames, (of_tree, of_bytes), _frame(TO_SERVER), 34),
        Target("frame to a client", _said(own[0]), (of_tree, of_bytes), _frame(TO_CLIENT), 12),
        Target("card", _cards(), (of_text, of_bytes), _card, 16),
        Target("draft of a card", _drafts(), (of_text, of_bytes), _draft, 2),
        Target("typed tiles", _typed(), (of_text, of_bytes), _tiles, 4),
        Target("preset", _presets(), (of_text, of_bytes), _preset(folder / "preset.toml"), 10),
        Target("plan", _plans(), (of_text, of_bytes), _plan, 4),
        Target("look", _looks(), (of_text, of_bytes), _look(folder / "racktempo" / "look.toml"), 6),
        Target("heat", tuple(map(HEAT.pack, heats)), (of_tree, of_bytes), _heat(folder / "a.heat"), 8),
        Target("seat's heat", tuple(map(SEAT_HEAT.pack, own)), (of_tree, of_bytes), _seat_heat(folder / "a.seat"), 6),
        Target("token", (bytes(16).hex().encode(),), (of_bytes,), _token(folder / "token"), 2),
        Target("history", (_history_file(folder, own[0]),), (of_bytes,), _history(folder / "history"), 1),
        Target("tables", (_tables_file(folder),), (of_bytes,), _tables(folder / "tables"), 1),
    )


# ---- good inputs


def _commands() -> tuple[bytes, ...]:
    intents = (
        Pass(step="first right", tiles=("1b", "2b", "3b")),
        Lift(step="first left", tiles=("1b", "N"), blind=1),
        Ready(),
        ChangeSettings(settings=Settings(seed=3)),
        Vote(go_on=True),
        Offer(count=2),
        Plan(hand="begin-1", discards=("N",)),
    )
    return tuple(TO_SERVER.pack(Command(id=number, heat=1, intent=intent)) for number, intent in enumerate(intents, 1))


def _said(own: object) -> tuple[bytes, ...]:
    table = make_table()
    table.join("Ann", bytes(16), 1_000)
    table.command(0, Command(id=1, heat=0, intent=Ready()), 1_000)
    messages = (
        Welcome(protocol=PROTOCOL, token=bytes(16), chair=0, last_id=0),
        table.view(0, 2_000),
        Done(id=1),
        Refused(id=1, code="late", text="Too late.", late_ms=3),
        OwnHeat(heat=own),  # type: ignore[arg-type]
    )
    return tuple(map(TO_CLIENT.pack, messages))


def _cards() -> tuple[bytes, ...]:
    """Return cards of a few hands each, in the long form and in the short one: a whole card takes long to read."""
    found = []
    for name in ("first_evening_1.toml", "practice_1.toml"):
        head, *hands = (OLD_CARDS / name).read_bytes().split(b"[[section.hand]]")
        found += [head + b"".join(b"[[section.hand]]" + hand.split(b"[[section]]")[0] for hand in hands[at : at + 2])
                  for at in range(0, len(hands), 4)]  # fmt: skip
    for card in (first_evening_card(), practice_card()):
        few = [replace(section, hands=section.hands[:3]) for section in card.sections]
        found += [write_card(replace(card, sections=(section,))).encode() for section in few]
    return tuple(found)


def _drafts() -> tuple[bytes, ...]:
    """Return cards that are half written: every other hand is open again."""
    found = []
    for data in _cards():
        draft = read_draft(data)
        assert isinstance(draft, Draft)
        section = draft.sections[0]
        lines = (DraftLine((DraftRow("FFFF 111b 22"),)), *section.lines[1:])
        found.append(text_of(replace(draft, sections=(replace(section, lines=lines),))).encode())
    return tuple(found)


def _typed() -> tuple[bytes, ...]:
    lines = ("FFFF 111b 2222b 333b", "1123b 567c 9d NE FF J", "2026b 4444c 4444d soap, 5 bam", "N E W S a b c")
    return tuple(line.encode() for line in lines)


def _presets() -> tuple[bytes, ...]:
    return tuple(
        write_preset(Setup(Settings(seed=seed, heats=3), card)).encode() for seed, card in ((None, ""), (5, "pier"))
    )


def _plans() -> tuple[bytes, ...]:
    short = b'tables = 3\nstart = "when full"\npause = 90\nwait = "5:00"\n[settings]\nheats = 2\n'
    return short, (Path(__file__).parents[1] / "fixtures" / "0.1.0" / "plan.toml").read_bytes()


def _looks() -> tuple[bytes, ...]:
    return tuple(write_look(look).encode() for look in (Look(), Look(theme="light", colour=False)))


def _history_file(folder: Path, own: object) -> bytes:
    path = folder / "good-history"
    history = History(path)
    history.add(own)  # type: ignore[arg-type]
    history.close()
    return path.read_bytes()


def _tables_file(folder: Path) -> bytes:
    path = folder / "good-tables"
    disk = Database(path)
    disk.commit([Append(make_table().record)])
    disk.close()
    return path.read_bytes()


# ---- readers


def _frame(codec: Codec) -> Callable[[bytes], bool]:  # type: ignore[type-arg]
    def read(data: bytes) -> bool:
        try:
            codec.unpack(data)
        except BadFrame as refusal:
            words = str(refusal)
        else:
            return TAKEN
        assert words.isprintable(), "a refusal could act on a terminal"
        return REFUSED

    return read


def _draft(data: bytes) -> bool:
    draft = read_draft(data)
    if not isinstance(draft, Draft):
        return REFUSED if all(str(fault) for fault in draft) else TAKEN
    draft.open()
    read_draft(text_of(draft).encode())
    return TAKEN


def _tiles(data: bytes) -> bool:
    read = read_tiles(data.decode(errors="replace"), 2026, ("1b", "2b", "N"))
    if read.faults:
        return REFUSED
    if len(read.tiles) == 14:
        guess(read.groups, 2026, read.years)
    return TAKEN


def _card(data: bytes) -> bool:
    card = read_card(data)
    if not isinstance(card, Card):
        assert all(str(fault) for fault in card)
        return REFUSED
    expand(card)
    return TAKEN


def _preset(path: Path) -> Callable[[bytes], bool]:
    def read(data: bytes) -> bool:
        path.write_bytes(data)
        try:
            setup = read_preset(path)
        except BadPreset:
            return REFUSED
        assert tomllib.loads(write_preset(setup)) is not None
        return TAKEN

    return read


def _plan(data: bytes) -> bool:
    try:
        plan = read_plan(data)
    except BadPlan:
        return REFUSED
    assert plan.tables
    return TAKEN


def _look(path: Path) -> Callable[[bytes], bool]:
    def read(data: bytes) -> bool:
        path.write_bytes(data)
        return load_look() != Look()

    return read


def _heat(path: Path) -> Callable[[bytes], bool]:
    def read(data: bytes) -> bool:
        path.write_bytes(data)
        return not verify(path)

    return read


def _seat_heat(path: Path) -> Callable[[bytes], bool]:
    def read(data: bytes) -> bool:
        path.write_bytes(data)
        return not isinstance(read_any_heat(path), str)

    return read


def _token(path: Path) -> Callable[[bytes], bool]:
    def read(data: bytes) -> bool:
        path.write_bytes(data)
        return recall(path) is not None

    return read


def _history(path: Path) -> Callable[[bytes], bool]:
    def read(data: bytes) -> bool:
        for old in path.parent.glob(f"{path.name}*"):
            old.unlink()
        path.write_bytes(data)
        try:
            history = History(path)
        except HistoryFault:
            return REFUSED
        try:
            history.read()
        except HistoryFault:
            return REFUSED
        finally:
            history.close()
        return TAKEN

    return read


def _tables(path: Path) -> Callable[[bytes], bool]:
    def read(data: bytes) -> bool:
        for old in path.parent.glob(f"{path.name}*"):
            old.unlink()
        path.write_bytes(data)
        try:
            disk = Database(path)
        except StoreFault:
            return REFUSED
        try:
            disk.load()
        except StoreFault:
            return REFUSED
        finally:
            disk.close()
        return TAKEN

    return read
