"""A seat at another machine, the code for newcomers, and friends who come late."""

import pytest

from server.table.output import Joined, Rejected
from shared.rules.intents import (
    FreeChair,
    Leave,
    LetIn,
    NewCode,
    SeatBot,
    TakeSeat,
)
from shared.wire.messages import Close, OwnHeat
from tests.tables import QUICK, Evening


def test_one_key_changes_the_code_for_newcomers() -> None:
    evening = Evening(people=2)
    evening.do(0, NewCode())
    assert evening.table.record.code not in ("", "tern-12")
    assert evening.view(0).code == evening.table.record.code
    assert evening.view(1).code == ""


def test_another_machine_has_a_seat_only_if_the_host_lets_it_in_each_time() -> None:
    evening = Evening(people=2)
    evening.take(evening.table.disconnected(1, evening.now_ms))
    new = b"another machine!"

    def ask(token: bytes = new) -> Joined | Rejected:
        return evening.table.join("person 2", token, evening.now_ms)

    answer = ask()
    assert isinstance(answer, Rejected)
    assert answer.close == Close.ASKED_HOST
    assert answer.output.changed, "the host's screen asks"
    assert evening.view(0).chairs[1].asks
    assert evening.refused(0, LetIn(chair=2)) == "not now"
    assert isinstance(ask(), Rejected), "asking twice is no word of the host"
    evening.do(0, LetIn(chair=1))
    assert isinstance(ask(b"a third machine!"), Rejected), "only the machine that asked"
    answer = ask()
    assert isinstance(answer, Joined)
    assert answer.chair == 1
    evening.take(evening.table.disconnected(1, evening.now_ms))
    assert isinstance(ask(b"a third machine!"), Rejected), "each time anew"
    assert isinstance(ask(), Joined), "and the machine that has the seat now comes back as ever"


@pytest.mark.parametrize(("token", "away"), [(b"another machine!", (0, 1)), (None, (1,))], ids=["no host", "no token"])
def test_who_cannot_be_let_in_comes_as_somebody_else(token: bytes | None, away: tuple[int, ...]) -> None:
    """While the host is away, nobody could answer; a machine without a token could not be told from others."""
    evening = Evening(people=2)
    for chair in away:
        evening.take(evening.table.disconnected(chair, evening.now_ms))
    answer = evening.knock("Person 2", token)
    assert isinstance(answer, Joined)
    assert answer.chair == 2
    assert evening.view().chairs[2].name != "Person 2"
    assert not evening.view().chairs[1].asks


def let_in(evening: Evening, chair: int, token: bytes) -> None:
    """Cut a chair's line, let a machine ask for it by the name of its person, and let it in."""
    evening.take(evening.table.disconnected(chair, evening.now_ms))
    name = evening.table.record.chairs[chair].name
    assert isinstance(evening.table.join(name, token, evening.now_ms), Rejected)
    evening.do(0, LetIn(chair=chair))


def test_at_another_machine_one_is_the_same_person_and_the_heat_stays_ones_own() -> None:
    evening = Evening(people=2)
    evening.play_heat()
    evening.ready()
    let_in(evening, 1, b"another machine!")
    evening.join("Person 2", b"another machine!")
    assert evening.view(1).person == 2
    evening.sent.clear()
    evening.play_heat()
    assert [[player.name for player in heat.players[1]] for heat in evening.finished] == [["Person 2"], ["Person 2"]]
    (own,) = [message.heat for message in evening.sent[1] if isinstance(message, OwnHeat)]
    assert {step.by for step in own.steps} == {"person"}


def test_the_machine_that_a_seat_was_taken_from_gets_no_second_seat_and_can_ask_for_its_own() -> None:
    evening = Evening(people=2)
    old, new = evening.tokens[1], b"another machine!"
    let_in(evening, 1, new)
    evening.join("Person 2", new)
    answer = evening.table.join("Person 2", old, evening.now_ms)
    assert isinstance(answer, Rejected)
    assert answer.close == Close.SEAT_TAKEN_OVER
    assert [chair.sitter for chair in evening.view().chairs] == ["person", "person", "nobody", "nobody"]
    let_in(evening, 1, old)
    assert evening.join("Person 2", old) == 1
    answer = evening.table.join("Person 2", new, evening.now_ms)
    assert isinstance(answer, Rejected)
    assert answer.close == Close.SEAT_TAKEN_OVER, "and so it is the other way round"


def test_a_machine_that_was_let_in_has_nobodys_seat_once_its_person_is_back_or_gone() -> None:
    evening = Evening(people=2)
    new = b"another machine!"
    let_in(evening, 1, new)
    evening.join("Person 2", evening.tokens[1])
    answer = evening.table.join("Person 2", new, evening.now_ms)
    assert isinstance(answer, Rejected)
    assert answer.close == Close.SEAT_TAKEN_OVER, "not the seat of who is here, and no other one either"
    assert evening.join("Dora", new) == 2, "but under another name"
    evening = Evening(people=2)
    let_in(evening, 1, new)
    evening.do(0, FreeChair(chair=1))
    assert evening.join("Cy") == 1
    assert evening.join("Person 2", new) == 2, "nor that of who came after them"


def test_nobody_has_a_seat_by_its_name_while_its_line_is_up() -> None:
    evening = Evening(people=2)
    answer = evening.table.join("Person 2", b"another machine!", evening.now_ms)
    assert isinstance(answer, Joined)
    assert answer.chair == 2
    assert not any(chair.asks for chair in evening.view(0).chairs)


def test_who_comes_late_plays_at_once_or_from_the_next_heat_as_the_host_wants_it() -> None:
    for late in ("at once", "next heat"):
        evening = Evening(QUICK.model_copy(update={"late": late, "heats": 2}), people=1)
        evening.ready()
        late_chair = evening.join("Dora")
        assert evening.view(0).chairs[late_chair].sitter == ("person" if late == "at once" else "bot")
        if late == "next heat":
            assert evening.refused(late_chair, TakeSeat()) == "not now"
            assert evening.view(0).chairs[late_chair].plays_next
            evening.take(evening.table.disconnected(late_chair, evening.now_ms))
            evening.join("Dora", evening.tokens[late_chair])
            assert evening.view(0).chairs[late_chair].sitter == "bot", "not by coming back either"
        evening.play_heat()
        assert evening.view(0).chairs[late_chair].sitter == "person"


def test_a_late_friend_takes_the_chair_of_who_has_left() -> None:
    evening = Evening(people=4)
    evening.ready()
    evening.do(2, Leave())
    assert evening.join("Dora") == 2


def test_who_may_come_to_a_running_heat_is_as_the_table_says() -> None:
    evening = Evening(QUICK.model_copy(update={"late": "next heat"}), people=4)
    evening.ready()
    evening.wait(10)
    evening.join("Kim")
    evening.do(2, Leave())
    evening.wait(1)
    assert (evening.view().chairs[2].name, evening.view().chairs[2].sitter) == ("Kim", "bot")
    assert evening.refused(2, TakeSeat()) == "not now"
    evening.play_heat()
    assert evening.view().chairs[2].sitter == "person"


@pytest.mark.parametrize("late", ["at once", "next heat"])
def test_who_sat_here_before_the_heat_takes_the_seat_back_at_once_whatever_newcomers_must_do(late: str) -> None:
    evening = Evening(QUICK.model_copy(update={"late": late}), people=4)
    evening.play_heat()
    evening.ready()
    evening.wait(10)
    assert evening.table.record.number == 2
    evening.take(evening.table.disconnected(2, evening.now_ms))
    evening.do(0, SeatBot(chair=2))
    evening.join("Person 3", evening.tokens[2])
    assert evening.view().chairs[2].sitter == "person"


def test_a_newcomer_may_take_the_seat_from_a_bot_at_once_where_the_table_says_so() -> None:
    evening = Evening(QUICK, people=4)
    evening.ready()
    evening.wait(10)
    token = evening.tokens[evening.join("Kim")]
    evening.do(2, Leave())
    evening.wait(1)
    evening.take(evening.table.disconnected(2, evening.now_ms))
    evening.do(0, SeatBot(chair=2))
    assert evening.view().chairs[2].sitter == "bot"
    evening.join("Kim", token)
    assert evening.view().chairs[2].sitter == "person"
