"""What a typed line means: whatever is typed has an answer, and only sound intents come of it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from client.connection.link import Lost
from client.models.rack import PLACES
from client.plain.sentences import Kind
from client.plain.table import PlainTable
from client.reports.rules import GLOSSARY
from server.table.table import Table
from shared.cards.play import shipped_text
from shared.cards.said import called
from shared.rules.intents import Arrange, Intent, Lift, Offer, Pass, Pause, Plan, Ready, SeatBot, Start
from shared.rules.settings import Settings
from shared.rules.tiles import JOKER, KINDS, by_rank, by_suit
from shared.wire.messages import TO_SERVER, Command, Refused
from tests.server.players import make_table
from tests.tables import Evening

WORDS = [
    *("a", "n", "z", "1b", "J", "E", "e", "0", "2", "9", ",", "\x1b[0m"),
    *("blind", "go", "on", "stop", "back", "plan", "quit", "sort", "rank", "suit"),
    *("time", "ready", "not", "new", "set", "more"),
]


def _table() -> Table:
    table = make_table(Settings(seed=11, heats=1))
    table.join("Ann", bytes(16), 0)
    table.command(0, Command(id=1, heat=0, intent=Ready()), 0)
    return table


def _at_the_first_step() -> PlainTable:
    table = _table()
    plain = PlainTable(lambda count: bytes(count))
    plain.hear(table.view(0, 0), 0)
    return plain


def _intents(plain: PlainTable, line: str) -> list[Intent]:
    return plain.read(line, 0).intents


@given(st.text(max_size=60) | st.lists(st.sampled_from(WORDS), max_size=7).map(" ".join))
def test_every_line_has_an_answer_that_can_be_sent_or_said(line: str) -> None:
    reply = _at_the_first_step().read(line, 0)
    assert reply.quits or reply.lines or reply.intents
    for intent in reply.intents:
        TO_SERVER.unpack(TO_SERVER.pack(Command(id=1, heat=1, intent=intent)))


@given(st.lists(st.sampled_from(PLACES), min_size=3, max_size=3, unique=True))
def test_places_and_codes_of_the_same_tiles_are_the_same_pass(places: list[str]) -> None:
    plain = _at_the_first_step()
    assert plain.view
    assert plain.view.heat
    rack = by_suit(plain.view.heat.rack)
    tiles = tuple(rack[PLACES.index(place)] for place in places)
    wanted = [Pass(step="first right", tiles=tiles)]
    assert _intents(plain, " ".join(places)) == wanted
    assert _intents(plain, ", ".join(tiles)) == wanted


def test_small_letters_are_places_even_where_a_tile_has_the_same_letter() -> None:
    plain = _at_the_first_step()
    assert plain.view
    assert plain.view.heat
    rack = by_suit(plain.view.heat.rack)
    assert _intents(plain, "e f g") == [Pass(step="first right", tiles=rack[4:7])]
    assert _intents(plain, "E F G") == [Pass(step="first right", tiles=("E", "F", "G"))]


@pytest.mark.parametrize("which", ["a joker", "not held", "twice"])
def test_what_the_table_would_not_let_go_is_never_said_to_be_lifted(which: str) -> None:
    table = _table()
    plain = PlainTable(lambda count: bytes(count))
    plain.hear(table.view(0, 0), 0)
    assert plain.view
    assert plain.view.heat
    rack = plain.view.heat.rack
    once = next(tile for tile in rack if rack.count(tile) == 1 and tile != JOKER)
    unheld = next(tile for tile in KINDS if tile not in rack)
    lifted = {"a joker": (JOKER,), "not held": (unheld,), "twice": (once, once)}[which]
    out = table.command(0, Command(id=2, heat=1, intent=Lift(step="first right", tiles=lifted)), 0)
    assert [type(message) for _, message in out.messages] == [Refused]
    reply = plain.read(" ".join(lifted), 0)
    assert not reply.intents
    assert len(reply.lines) == 1
    assert "Lifted" not in reply.lines[0]


def test_the_table_is_told_the_order_that_was_read_out() -> None:
    plain = _at_the_first_step()
    assert plain.view
    assert plain.view.heat
    assert _intents(plain, "sort rank") == [Arrange(tiles=by_rank(plain.view.heat.rack))]


@pytest.mark.parametrize("line", ["rack", "sort rank", "a b c", "blind 2", ""])
def test_in_a_pause_no_line_tells_a_tile_or_passes_one(line: str) -> None:
    table = _table()
    table.command(0, Command(id=2, heat=0, intent=Pause()), 0)
    for plain in (_at_the_first_step(), PlainTable(lambda count: bytes(count))):
        said = plain.hear(table.view(0, 0), 0).lines + plain.read(line, 0).lines
        assert any("the clocks are stopped" in text for text in said)
        assert not any("Rack:" in text or "0 tiles" in text for text in said)
        assert _intents(plain, line) == []


def test_leaving_a_running_heat_is_asked_once_and_any_other_line_is_a_no() -> None:
    plain = _at_the_first_step()
    assert not plain.read("quit", 0).quits
    plain.read("time", 0)
    assert not plain.read("quit", 0).quits
    assert plain.read("leave", 0).quits, "the other word for it"


@pytest.mark.parametrize("line", ["", "time", "rack", "quit", "a b c"])
def test_before_the_first_view_nothing_is_asked(line: str) -> None:
    reply = PlainTable(lambda count: bytes(count)).read(line, 0)
    assert reply.intents == []
    assert reply.quits or reply.lines == ["Not at the table yet."]


def test_tiles_are_typed_as_people_write_them() -> None:
    plain = _at_the_first_step()
    assert plain.view
    assert plain.view.heat
    rack = by_suit(plain.view.heat.rack)
    wanted = [Pass(step="first right", tiles=("E", "F", "G"))]
    for line in ("EFG", "east, flower green", "E flower Green dragon"):
        assert _intents(plain, line) == wanted
    assert _intents(plain, "e FG") == [Pass(step="first right", tiles=(rack[4], "F", "G"))]


def test_a_fault_is_told_with_its_place_in_the_line_also_behind_blind() -> None:
    plain = _at_the_first_step()
    assert plain.view
    assert plain.view.heat
    plain.view = plain.view.model_copy(update={"heat": plain.view.heat.model_copy(update={"most_blind": 3})})
    reply = plain.read("blind 1, 10b", 0)
    assert reply.lines == ["At 10: 10b has no such rank. Ranks go from 1 to 9; write 0 alone for a soap."]
    assert not reply.intents


@pytest.mark.parametrize(
    ("line", "hand", "discards"),
    [
        ("plan run 3-4-3, one suit then soap 9d", "run 3-4-3 one suit", ("O", "9d")),
        ("plan run 3-4-3, one suit 99d N", "run 3-4-3 one suit", ("9d", "9d", "N")),
        ("plan all red", "all red", ()),
        ("plan then NEW", "", ("N", "E", "W")),
        ("plan", "", ()),
    ],
)
def test_a_plan_names_a_hand_and_the_first_discards(line: str, hand: str, discards: tuple[str, ...]) -> None:
    [plan] = _intents(_at_the_first_step(), line)
    assert isinstance(plan, Plan)
    assert (plan.hand, plan.discards) == (hand, discards)


def test_too_many_first_discards_are_told() -> None:
    reply = _at_the_first_step().read("plan pungs then NEWS", 0)
    assert reply.lines == ["At most 3 first discards are named; you wrote 4."]
    assert not reply.intents


def test_the_rules_are_told_as_the_table_plays_and_words_are_looked_up() -> None:
    table = make_table(Settings(seed=11, heats=1, second="never", jokers=0))
    table.join("Ann", bytes(16), 0)
    plain = PlainTable(bytes)
    assert any("go on or stop" in line for line in plain.read("rules", 0).lines)
    plain.hear(table.view(0, 0), 0)
    told = plain.read("Rules", 0)
    assert not told.intents
    assert any("This table plays no second Charleston." in line for line in told.lines)
    assert told.lines[-1].endswith(f"The words are {', '.join(GLOSSARY)}.")
    assert plain.read("rules SOAP", 0).lines[0] == f"soap: {GLOSSARY['soap']}"
    assert plain.read("rules white dragon", 0).lines[0].startswith("soap: ")
    assert plain.read("rules nothing like it", 0).lines == [
        "The glossary has no word like nothing like it. Write rules alone for all of its words."
    ]


def test_a_target_is_a_hand_or_a_family_by_its_name_and_is_sent_to_nobody() -> None:
    plain = _at_the_first_step()
    plain.has_card(shipped_text())
    told = [
        plain.read(line, 0)
        for line in ("target run three kongs, one suit, 2 F", "target nothing of the kind", "target")
    ]
    assert not any(reply.intents for reply in told)
    assert told[0].lines[0].startswith("Your target: ")
    assert told[1].lines == ["No hand and no section of the card has this name; write card to hear them."]
    assert told[2].lines == ["No target."]
    ((first, none),) = plain.named.values()
    assert first.hand
    assert (first.step, none.words) == ("first right", "")


def test_hurry_is_a_word_of_its_own() -> None:
    assert [type(intent).__name__ for intent in _intents(_at_the_first_step(), "hurry")] == ["Hurry"]


def test_racks_are_heard_by_place_and_name_and_sorted() -> None:
    plain = _at_the_first_step()
    assert plain.view
    assert plain.view.heat
    rack = by_suit(plain.view.heat.rack)
    [line] = plain.read("rack", 0).lines
    assert line == f"Rack: {', '.join(f'{place}: {called(tile)}' for place, tile in zip(PLACES, rack, strict=False))}."
    assert "R" in rack or "G" in rack
    assert "dragon" in line


@pytest.mark.parametrize("word", ["why", "points"])
def test_without_hints_the_coach_says_nothing_while_a_heat_runs(word: str) -> None:
    plain = _at_the_first_step()
    assert plain.pass_to_judge() is None
    assert plain.read(word, 0).lines == ["There are no hints while a heat runs."]


def test_a_question_mark_is_help() -> None:
    plain = _at_the_first_step()
    assert plain.read("?", 0).lines == plain.read("help", 0).lines
    assert any(line.startswith("why: ") for line in plain.read("?", 0).lines)


def test_a_bot_is_offered_for_somebody_who_is_away_and_only_to_the_host() -> None:
    table = make_table(Settings(seed=11, heats=1))
    table.join("Ann", bytes(16), 0)
    table.join("Bo", bytes(range(16)), 0)
    table.command(0, Command(id=1, heat=0, intent=Start()), 0)
    host, guest = PlainTable(bytes), PlainTable(bytes)
    for plain, chair in ((host, 0), (guest, 1)):
        plain.hear(table.view(chair, 0), 0)
    table.disconnected(1, 1_000)
    for plain, chair in ((host, 0), (guest, 1)):
        plain.hear(table.view(chair, 1_000), 1_000)
    assert host.next_ms() == 11_000
    assert host.tick(10_999).lines == []
    assert host.tick(11_000).lines == ["Bo is away. bot 2: a bot plays until Bo is back."]
    assert host.tick(11_500).lines == []
    assert not [line for line in guest.tick(11_000).lines if "away" in line]
    assert _intents(host, "bot 2") == [SeatBot(chair=1)]


def test_the_clock_of_plain_lines_stands_still_without_a_line() -> None:
    plain = _at_the_first_step()
    plain.hear(Lost("The connection broke.", 100), 2_000)
    plain.hear(Lost("The connection broke.", 100), 9_000)
    assert plain.read("time", 30_000).lines == [
        "42 s left when the line broke; without it the clock stands still here."
    ]
    assert plain.tick(60_000).lines == []
    assert plain.next_ms() is None


@pytest.mark.parametrize(
    ("step", "line", "found"),
    [
        ("courtesy offer", "2", Offer(count=2)),
        ("courtesy offer", "4", "Write a number from 0 to 3."),
        ("side offer", "0", Offer(count=0, to="right")),
        ("side offer", "2 left", Offer(count=2, to="left")),
        ("side offer", "1 right", Offer(count=1, to="right")),
        ("side offer", "2", "Write how many and with whom: 2 left, or 1 right; 0 for none."),
        ("side offer", "4 left", "Write how many and with whom: 2 left, or 1 right; 0 for none."),
        ("first right", "2", "No number is asked for now; write the tiles that go."),
    ],
)
def test_an_offer_is_typed_as_a_number_and_to_a_side_with_the_side(step: str, line: str, found: Offer | str) -> None:
    plain = _at_the_first_step()
    assert plain.view
    assert plain.view.heat
    plain.view = plain.view.model_copy(update={"heat": plain.view.heat.model_copy(update={"step": step})})
    reply = plain.read(line, 0)
    assert (reply.lines, reply.intents) == (([found], []) if isinstance(found, str) else ([], [found]))


def test_a_set_to_take_home_is_not_dealt_again_at_its_table() -> None:
    evening = Evening(Settings(heats=1, seed=1))
    evening.ready()
    while evening.table.record.phase == "heat":
        evening.people_answer()
        evening.wait(1_000)
    kinds: tuple[tuple[Kind, bool], ...] = (("take home", False), ("alone", True))
    for kind, asks in kinds:
        plain = PlainTable(bytes, kind)
        plain.hear(evening.table.view(0, evening.now_ms), evening.now_ms)
        reply = plain.read("new set", evening.now_ms)
        assert bool(reply.intents) == asks
        assert any("racktempo set hand-in" in line for line in reply.lines) != asks
