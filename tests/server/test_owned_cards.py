"""A card that is not shared stays its owner's: nothing told or kept holds it, or tells one copy from another."""

import logging
from functools import partial
from pathlib import Path

import pytest

from client.reports.evening_csv import heats_csv, standings_csv
from client.reports.evening_html import evening_page
from server.admission import Admission
from server.club.club import new_club
from server.host import lost_card
from server.net.listener import open_listener
from server.records import ClubRecord
from server.store import CLUB, EVENT, RECORD, Store
from server.table.output import Joined, Output
from server.table.table import Table
from shared.cards.owned import told_card
from shared.coach.coach import Coach, coach_of
from shared.coach.heats import reviewed
from shared.rules.heat import HEAT
from shared.rules.intents import Intent, Plan, Ready
from shared.rules.settings import Settings
from shared.rules.steps import STEPS
from shared.wire.desk_intents import EndEvening, OpenTable, StartAll
from shared.wire.messages import TO_CLIENT, Command, HeatFile, OwnHeat
from tests.clubs import QUICK, ClubEvening, club_record
from tests.owned import COPY, OWN, SHARED, TITLE, copy_in_words, found, giveaways, record_by
from tests.server.players import CODE, Player, answer_to, counted_bytes, owes
from tests.tables import framed

PLOVER = copy_in_words("plover", backwards=False)
COACHED = Settings(seed=5, heats=1, level_ms=100_000, bot_pace="quick", bot_skill="coach, thinking ahead", plan=True)


def table_by(text: str) -> Table:
    record = record_by(text, COACHED, CODE)
    return Table(record, counted_bytes(), lambda: "2026-01-01T20:00:00+00:00", own_card=text)


def everything(text: str) -> list[bytes]:
    """Play a heat with three coached birds and a person who names a hand; return all that was sent and kept."""
    table, now_ms, told, ids = table_by(text), 1_000, list[bytes](), 0
    hand = PLOVER.hands[0].id

    def take(out: Output) -> None:
        told.append(RECORD.pack(table.record))
        told.extend(EVENT.pack(event) for event in out.events)
        told.extend(framed(message) for _, message in out.messages)
        told.append(TO_CLIENT.pack(table.view(0, now_ms)))
        if out.finished:
            told.append(HEAT.pack(out.finished))
        for thought in out.thoughts:
            take(table.thought(thought.chair, thought.heat, thought.step, thought.run(), now_ms))

    joined = table.join("Ann", None, now_ms)
    assert isinstance(joined, Joined)
    take(joined.output)

    def say(intent: Intent) -> None:
        nonlocal ids
        ids += 1
        take(table.command(0, Command(id=ids, heat=table.record.number, intent=intent), now_ms))

    say(Ready())
    while table.record.phase == "heat":
        view = table.view(0, now_ms)
        assert view.heat
        assert view.heat.step
        if owes(view):
            say(Plan(hand=hand, discards=()) if STEPS[view.heat.step].ask == "plan" else answer_to(view))
        else:
            due_ms = table.next_deadline_ms()
            assert due_ms is not None
            now_ms = due_ms
            take(table.tick(now_ms))
    return told


def contents(folder: Path) -> list[bytes]:
    return [path.read_bytes() for path in folder.iterdir()]


def test_cards_that_differ_only_in_texts_ids_and_order_give_identical_bytes() -> None:
    assert OWN != COPY
    assert told_card(OWN) == told_card(COPY)
    first, second = everything(OWN), everything(COPY)
    assert len(first) > 20
    assert first == second


def test_what_is_told_and_kept_holds_nothing_of_a_card_but_its_title() -> None:
    told = everything(OWN)
    assert any(TITLE.encode() in part for part in told)
    assert found(PLOVER, told) == set()


def test_the_search_finds_a_card_that_is_shared() -> None:
    texts = {text for text in giveaways(PLOVER) if text in SHARED.encode()}
    assert len(texts) > len(PLOVER.hands)
    assert found(PLOVER, everything(SHARED)) >= texts


def test_copies_make_the_same_coach() -> None:
    one, other = coach_of(OWN), coach_of(COPY)
    assert isinstance(one, Coach)
    assert isinstance(other, Coach)
    assert (one.engine.patterns.pairs == other.engine.patterns.pairs).all()
    assert (one.engine.patterns.groups == other.engine.patterns.groups).all()
    assert (one.engine.patterns.hand == other.engine.patterns.hand).all()


@pytest.mark.asyncio
async def test_frames_store_and_log_of_a_host_hold_nothing_of_it(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    store = Store.open(tmp_path / "tables.sqlite3")
    async with Admission.open(store) as admission, open_listener(admission, "127.0.0.1", 0) as listener:
        admission.add(table_by(OWN))
        guest = Player(listener.port)
        welcome = await guest.come()
        assert (welcome.card, welcome.card_title) == ("", TITLE)
        assert welcome.card_digest == told_card(OWN).digest
        await guest.send(Ready())
        while not (view := await guest.until(lambda view: owes(view) or bool(view.results))).results:
            assert view.heat
            is_plan = view.heat.step == "plan"
            await guest.ask(Plan(hand=PLOVER.hands[0].id, discards=()) if is_plan else answer_to(view))
        await guest.go()
    await store.close()
    files = contents(tmp_path)
    assert any(isinstance(message, HeatFile) for message in guest.heard)
    assert any(TITLE.encode() in data for data in files)
    own = next(message.heat for message in guest.heard if isinstance(message, OwnHeat))
    assert (own.card, own.card_digest, own.steps[-1].hand) == ("", told_card(OWN).digest, "")
    assert found(PLOVER, [*guest.frames, *files, caplog.text.encode()]) == set()


def test_an_evening_counts_by_it_and_its_results_and_pages_hold_nothing_of_it() -> None:
    told = told_card(OWN)
    settings = QUICK.model_copy(update={"heats": 1, "bot_skill": "coach, at a glance", "plan": True})
    evening = ClubEvening(settings, tables=0)
    record: ClubRecord = club_record(settings).with_(card=told.text, card_title=told.title, card_digest=told.digest)
    evening.club = new_club(record, counted_bytes(), lambda: "2026-05-01T19:30:00Z", OWN)
    evening.do(OpenTable())
    evening.come("Ann")
    evening.has_coach = True
    evening.do(StartAll(in_ms=0))
    evening.wait(0)
    evening.play("Ann")
    keys = evening.club.left_to_look_at()
    assert keys
    evening.look(partial(reviewed, card=OWN))
    evening.do(EndEvening())
    played = evening.club.played()
    assert any(one.points is not None for one in played)
    pages = [evening_page("Boathouse", "2026-05-01", played), heats_csv(played), standings_csv(played)]
    frames = [frame for frames in evening.told.values() for frame in frames]
    files = [TO_CLIENT.pack(file) for files in evening.files.values() for file in files]
    kept = [CLUB.pack(evening.club.record), *(RECORD.pack(table.record) for table in evening.club.tables.values())]
    assert files
    assert found(PLOVER, [*frames, *files, *kept, *(page.encode() for page in pages)]) == set()


def test_a_table_that_is_gone_on_with_finds_its_card_or_says_so() -> None:
    record = record_by(OWN, COACHED)
    assert lost_card(record, lambda digest: COPY) == ""
    said = lost_card(record, lambda digest: "")
    assert TITLE in said
    assert said.count(".") == 1
    assert lost_card(record_by(SHARED, COACHED), lambda digest: "") == ""
