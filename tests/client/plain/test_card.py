"""The card by ear: what is read out of it, and how a plan names one of its hands."""

from client.connection.link import Connected
from client.hosting.table import play_bots
from client.plain.card import card_lines, with_id
from client.plain.sentences import end_lines
from client.plain.table import PlainTable
from server.table.table import Table
from shared.cards import first_evening_card, practice_card
from shared.cards.picture import spoken, spoken_to_go
from shared.cards.play import shipped_text
from shared.cards.tell import nearest_of, tell
from shared.rules.heat import final_state
from shared.rules.intents import Plan, Ready
from shared.rules.seat_heat import seat_heat
from shared.rules.seats import Seat
from shared.rules.settings import Settings
from shared.rules.tiles import by_suit
from shared.wire.messages import Command, Welcome
from tests.server.players import make_table

CARD = practice_card()


def test_the_card_alone_tells_its_sections() -> None:
    lines = card_lines(CARD, ())
    assert lines[0] == "Practice card, 2026."
    assert [line.split(",")[0] for line in lines[1:-1]] == [section.name for section in CARD.sections]


def test_words_tell_the_hands_that_have_them_all_by_ear() -> None:
    told = [hand for hand in tell(CARD) if "four " in hand.ear and "soaps" in hand.ear]
    assert told
    lines = card_lines(CARD, ["kong", "soaps"])
    assert lines == [f"{hand.name}: {hand.ear}." for hand in told]


def test_a_name_tells_its_own_hand_alone_and_other_words_as_many_as_can_be_heard() -> None:
    for hand in tell(CARD):
        assert card_lines(CARD, hand.name.split()) == [f"{hand.name}: {hand.ear}."]
    many = card_lines(CARD, ["counts"])
    assert len(many) == 13
    assert many[-1] == f"{len(CARD.hands) - 12} more hands; write more words."
    assert card_lines(CARD, ["nowhere"]) == ["No hand of the card has all of these words."]
    assert card_lines(None, ["kong"]) == ["This table has no card that can be read."]


def test_a_plan_finds_the_id_of_every_name_with_discards_behind_it() -> None:
    for card in (CARD, first_evening_card()):
        for hand in tell(card):
            words = hand.name.replace(",", " ").split()
            assert with_id(card, [*words, "1b", "N"]) == [hand.hand.id, "1b", "N"]
    plain = {hand.hand.id: hand.name.replace(",", " ").split() for hand in tell(CARD)}
    cut = {hand: words[:-1] for hand, words in plain.items()}
    only = [
        hand for hand in cut if cut[hand] and sum(words[: len(cut[hand])] == cut[hand] for words in plain.values()) == 1
    ]
    assert only
    for hand in only:
        assert with_id(CARD, [*cut[hand], "1b"]) == [hand, "1b"], "only one hand begins so"
    assert sum(words[0] == "run" for words in plain.values()) > 1
    assert with_id(CARD, ["run", "1b"]) == ["run", "1b"], "many hands begin so"
    assert with_id(None, ["run", "1b"]) == ["run", "1b"]


def test_at_the_table_a_name_goes_out_as_the_hands_id() -> None:
    table: Table = make_table(Settings(seed=11, heats=1))
    table.join("Ann", bytes(16), 0)
    table.command(0, Command(id=1, heat=0, intent=Ready()), 0)
    plain = PlainTable(bytes)
    plain.hear(Connected(Welcome(protocol=1, token=bytes(16), chair=0, last_id=0, card=shipped_text())), 0)
    plain.hear(table.view(0, 0), 0)
    hand = tell(CARD)[0]
    assert plain.read(f"plan {hand.name} 1b", 0).intents == [Plan(hand=hand.hand.id, discards=("1b",))]
    assert plain.read(f"card {hand.name}", 0).lines == [f"{hand.name}: {hand.ear}."]


def test_the_end_of_a_heat_tells_the_nearest_hand_only_where_hints_are_wanted() -> None:
    card = first_evening_card()
    for hints, wanted in (("none", False), ("at the end", True), ("after each pass", True)):
        settings = Settings.model_validate({"seed": 9, "heats": 1, "hints": hints})
        heat = play_bots(settings, card=shipped_text("first-evening"))[0]
        life = seat_heat(heat, final_state(heat), Seat.EAST)
        told, drawn = nearest_of(card, by_suit(life.final))
        line = f"Nearest hand: {told.name}: {spoken(drawn.picture)}; {spoken_to_go(drawn)}."
        assert (line in end_lines(life, card)) == wanted
        assert not any(said.startswith("Nearest") for said in end_lines(life))
