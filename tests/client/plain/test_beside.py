"""Beside a table in plain lines: what a watcher reads, what the players read of them, and what typed lines mean."""

import pytest

from client.plain.table import PlainTable
from shared.rules.intents import Intent, Leave, LetSee, Offer, Pause, SendOff, ShowRack, Vote
from shared.rules.tiles import by_suit
from tests.tables import QUICK, Evening


class Reader:
    """Somebody who reads the lines of a chair, or of a place beside the table."""

    def __init__(self, evening: Evening, place: int) -> None:
        self.evening, self.place, self.plain = evening, place, PlainTable(bytes)
        self.read()

    def read(self) -> list[str]:
        """Return what is new."""
        table, now_ms = self.evening.table, self.evening.now_ms
        view = table.view(self.place, now_ms) if self.place < 4 else table.view_from(self.place, now_ms)
        self.lines = self.plain.hear(view, now_ms).lines
        return self.lines

    def types(self, line: str) -> list[Intent]:
        return self.plain.read(line, self.evening.now_ms).intents


def test_who_comes_to_a_full_table_reads_why_they_have_no_chair_and_who_gets_the_next() -> None:
    evening = Evening(people=4)
    evening.join("Kim")
    kim = Reader(evening, evening.join("Lea"))
    assert kim.lines == [
        "Every chair of Boathouse is taken, so that you watch until one is free. "
        "At the table: Person 1, Person 2, Person 3, Person 4.",
        "The next free chair goes to who has waited longest: Kim, Lea. quit leaves.",
    ]


def test_a_watcher_reads_steps_answers_and_results_and_racks_only_where_agreed() -> None:
    evening = Evening(people=4)
    place = evening.table.watch("Wren", None).chair  # type: ignore[union-attr]
    wren = Reader(evening, place)
    assert wren.lines == [
        "You watch Boathouse and take no chair. At the table: Person 1, Person 2, Person 3, Person 4."
    ]
    evening.ready()
    assert wren.read() == ["Heat 1, first right."]
    evening.answer(2)
    assert wren.read() == ["Person 3 has answered."]
    evening.do(0, LetSee(place=place, on=True))
    assert wren.read() == ["The host lets you see the racks of those who agree."]
    evening.do(1, ShowRack(on=True))
    assert wren.read() == [f"Person 2 holds {' '.join(by_suit(evening.heat(1).rack))}."]
    evening.do(1, ShowRack(on=False))
    assert wren.read() == ["Person 2's rack is hidden."]
    evening.do(0, Pause())
    assert wren.read() == ["The table is paused."]


def test_a_watcher_reads_votes_and_offers_once_the_table_tells_them() -> None:
    evening = Evening(QUICK.model_copy(update={"side_courtesy": True}), people=4)
    wren = Reader(evening, evening.table.watch("Wren", None).chair)  # type: ignore[union-attr]
    evening.ready()
    evening.go_to("go on")
    wren.read()
    for chair in range(3):
        evening.do(chair, Vote(go_on=chair != 1))
        assert wren.read() == [f"Person {chair + 1} has answered."]
    evening.do(3, Vote(go_on=True))
    assert wren.read()[0] == "No second Charleston: Person 2 chose to stop."
    for chair, count in enumerate((2, 0, 1, 3)):
        evening.do(chair, Offer(count=count))
    assert wren.read()[:2] == [
        "Person 1 offered 2, Person 3 offered 1: each gives 1.",
        "Person 2 offered 0, Person 4 offered 3: each gives 0.",
    ]
    for chair in (0, 2):
        evening.answer(chair)
    assert wren.read()[0] == "Heat 1, side offer."
    for chair, (count, to) in enumerate(((1, "right"), (2, "left"), (0, "left"), (3, "right"))):
        evening.do(chair, Offer(count=count, to=to))  # type: ignore[arg-type]
    assert wren.read()[0] == (
        "Person 1 offered 1 to the right, Person 2 offered 2 to the left, "
        "Person 3 offered 0, Person 4 offered 3 to the right."
    )


def test_a_watcher_reads_what_a_heat_took() -> None:
    evening = Evening(people=4)
    wren = Reader(evening, evening.table.watch("Wren", None).chair)  # type: ignore[union-attr]
    evening.play_heat()
    (line,) = wren.read()
    assert line.startswith("Heat 1 is over: Person 1 ")


def test_players_read_who_is_beside_the_table_and_the_host_how_to_deal_with_them() -> None:
    evening = Evening(people=4)
    host, guest = Reader(evening, 0), Reader(evening, 1)
    place = evening.join("Kim")
    told = "Beside the table, as number 5: Kim waits for a chair."
    assert host.read() == [f"{told} let see 5: show them racks. send off 5: send them away."]
    assert guest.read() == [told]
    evening.do(0, LetSee(place=place, on=True))
    assert guest.read() == ["Kim may see racks: write show yes to let them see yours, show no to hide it."]
    evening.do(1, ShowRack(on=True))
    assert guest.read() == ["Your rack is seen by Kim; show no hides it."]
    evening.take(evening.table.disconnected(place, evening.now_ms))
    assert guest.read() == ["Kim, beside the table, is away.", "Nobody sees your rack now."]
    evening.join("Kim", evening.tokens[place])
    guest.read()
    evening.do(place, Leave())
    assert guest.read() == ["Kim is beside the table no more.", "Nobody sees your rack now."]


@pytest.mark.parametrize(
    ("line", "intent"),
    [
        ("show yes", ShowRack(on=True)),
        ("show no", ShowRack(on=False)),
        ("let see 5", LetSee(place=4, on=True)),
        ("let see 5 no", LetSee(place=4, on=False)),
        ("send off 5", SendOff(place=4)),
    ],
)
def test_a_line_about_people_beside_the_table(line: str, intent: Intent) -> None:
    evening = Evening(people=4)
    evening.do(0, LetSee(place=evening.join("Kim"), on=True))
    assert Reader(evening, 0).types(line) == [intent]
    assert Reader(Evening(people=4), 0).types(line) == [], "nobody is there"
