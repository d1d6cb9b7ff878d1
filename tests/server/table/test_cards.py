"""A table plays by its card: it voids a deal that is finished, keeps the card with the heats, and tells it."""

from collections import Counter
from pathlib import Path

from client.hosting.table import play_bots
from client.storage.heat_files import keep_heat
from client.storage.verify import verify
from server.host import new_record
from server.records import TableRecord
from shared.cards import Card
from shared.cards.play import card_of, complete, shipped_text
from shared.rules.events import Dealt, Voided
from shared.rules.heat import SavedHeat
from shared.rules.seats import Seat
from shared.rules.settings import Settings
from shared.rules.tiles import JOKER, Rack
from tests.heats import faults
from tests.tables import Evening

SETTINGS = Settings(seed=1, heats=1, jokers=0)


def easts_deal(heat: SavedHeat) -> Rack:
    deal = heat.events[0]
    assert isinstance(deal, Dealt)
    return deal.racks[Seat.EAST]


def card_with(rack: Rack, share: bool = True) -> str:
    """Return a card of one hand: these very tiles, but for the choice of suits."""
    assert JOKER not in rack
    suits = {"b": "p", "c": "q", "d": "r"}
    faces = {tile: f"{tile[0]}.{suits[tile[1]]}" if len(tile) == 2 else tile for tile in rack}
    groups = " ".join(f"{faces[tile]}^{count}" for tile, count in Counter(rack).items())
    return f"""
[card]
title = "One deal"
year = 2026
share = {str(share).lower()}
[[section]]
name = "Only"
about = "The tiles of one deal."
[[section.hand]]
id = "deal"
groups = "{groups}"
concealed = false
value = 5
"""


def test_a_deal_that_is_finished_by_the_tables_card_is_void_and_dealt_again() -> None:
    rack = easts_deal(play_bots(SETTINGS)[0])
    card = card_with(rack)
    assert isinstance(card_of(card), Card), card_of(card)
    heat = play_bots(SETTINGS, card=card)[0]
    assert heat.events[1] == Voided()
    assert easts_deal(heat) == rack
    assert faults(heat, complete) == ()
    assert faults(heat, lambda card, rack: False)


def test_no_deal_is_void_by_a_card_that_only_its_owner_has() -> None:
    rack = easts_deal(play_bots(SETTINGS)[0])
    assert complete(card_with(rack, share=False), rack)
    heat = play_bots(SETTINGS, card=card_with(rack, share=False))[0]
    assert easts_deal(heat) == rack
    assert not any(event == Voided() for event in heat.events)
    assert faults(heat, complete) == ()


def test_a_checked_heat_is_checked_by_its_own_card(tmp_path: Path) -> None:
    card = card_with(easts_deal(play_bots(SETTINGS)[0]))
    kept = keep_heat(play_bots(SETTINGS, card=card)[0], tmp_path)
    assert not isinstance(kept, str)
    assert verify(kept.path) == ()


def test_a_new_table_plays_by_the_practice_card_unless_another_is_given() -> None:
    assert new_record(Settings(), "Boathouse").card == shipped_text()
    another = shipped_text("first-evening")
    assert new_record(Settings(), "Boathouse", another).card == another


def test_every_heat_and_every_seats_heat_keeps_the_card() -> None:
    record = TableRecord(id="t1", name="Boathouse", code="tern-12", settings=SETTINGS, card=shipped_text())
    evening = Evening(record=record)
    heat = evening.play_heat()
    assert heat.card == shipped_text()
    owns = [message.heat.card for message in evening.sent[0] if message.kind == "own heat"]
    assert owns == [shipped_text()]
