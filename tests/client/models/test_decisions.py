"""Decisions one after the other: what keys mean, when the clock runs, and what is in sight."""

from dataclasses import replace

from client.models.decisions import Decisions, question
from shared.rules.decisions import Answer, Ask, Decision
from shared.rules.settings import Settings
from shared.rules.steps import StepName
from shared.rules.typed_tiles import typed

RACK = typed("1b 2b 3b 4c 5c 6c 7d 8d 9d N E F J")


def decision(step: StepName | None = "first right", ask: Ask = "pass", **more: object) -> Decision:
    plain = Decision(ask, step, RACK, Settings(), "", 20_000)
    return replace(plain, **more)  # type: ignore[arg-type]


def begun(*decisions: Decision) -> Decisions:
    model = Decisions("Practice", len(decisions))
    for each in decisions:
        model.deal(each, 0)
    return model


def press(model: Decisions, *keys: str, now_ms: int = 1_000) -> None:
    for key in keys:
        model.press(key, now_ms)


def test_three_tiles_are_lifted_and_passed_against_the_clock() -> None:
    model = begun(decision())
    press(model, "a", "b", "enter")
    assert model.note == "Lift 1 more."
    press(model, "m")
    assert model.note == "A joker is never passed."
    press(model, "c", "d")
    assert model.note == "3 are lifted already: drop one first, or all with u."
    press(model, "enter", now_ms=7_500)
    (done,) = model.done
    assert (done.answer, done.spent_ms) == (Answer(("1b", "2b", "3b")), 7_500)
    assert model.phase == "verdict"


def test_a_blind_pass_takes_fewer_tiles_where_the_step_allows_it() -> None:
    model = begun(decision("first left"))
    press(model, "a", "b", "2")
    assert model.rack.lifted_tiles() == ("1b",)
    press(model, "enter")
    assert model.done[0].answer == Answer(("1b",), 2)
    model = begun(decision("first right"))
    press(model, "2", "a", "b", "c", "enter")
    assert model.done[0].answer == Answer(("1b", "2b", "3b"))


def test_a_vote_and_an_offer_are_confirmed_and_a_section_is_named_at_once() -> None:
    model = begun(decision("go on", "vote"), decision("courtesy offer", "offer"))
    press(model, "a", "enter")
    assert model.note == "Choose with 0 to 1 first."
    press(model, "1", "0", "enter", "enter", "3", "enter")
    assert [done.answer for done in model.done] == [Answer(number=0), Answer(number=3)]
    model = begun(decision("first right", "family", choices=("Runs", "Winds")))
    press(model, "3", "2")
    assert model.done[0].answer == Answer(number=1)


def test_one_tile_is_discarded_and_another_key_takes_its_place() -> None:
    model = begun(decision(None, "discard"))
    press(model, "a", "j", "enter")
    assert model.done[0].answer == Answer(("N",))


def test_time_runs_out_once_and_keys_that_come_too_late_change_nothing() -> None:
    model = begun(decision())
    press(model, "a", "b", "c")
    assert model.tick(19_999) is None
    press(model, "enter", now_ms=20_000)
    assert not model.done
    late = model.tick(20_030)
    assert late is not None
    assert (late.answer, late.spent_ms) == (None, 20_000)
    assert model.tick(20_100) is None


def test_the_clock_stands_still_while_something_else_is_in_sight() -> None:
    model = begun(decision())
    model.hold(5_000)
    model.hold(6_000)
    assert model.tick(100_000) is None
    assert model.face(100_000).left_ms == 15_000
    model.go_on(100_000)
    assert model.face(101_000).left_ms == 14_000


def test_the_clock_begins_with_the_rack_and_not_before() -> None:
    model = Decisions("Practice", 2, "Look first.")
    assert model.phase == "goal"
    press(model, "enter", now_ms=1_000)
    assert (model.phase, model.number) == ("waiting", 1)
    model.deal(decision(), 9_000)
    assert model.face(10_000).left_ms == 19_000
    press(model, "a", "b", "c", "enter", "enter", now_ms=11_000)
    assert (model.phase, model.number) == ("waiting", 2)


def test_when_no_more_racks_come_the_round_ends_with_those_there_are() -> None:
    model = begun(decision())
    model.count = 10
    model.ends("The coach stopped before it answered; ask again.")
    assert (model.count, model.phase) == (1, "deciding")
    press(model, "a", "b", "c", "enter", "enter")
    assert model.phase == "over"


def test_each_step_asks_its_own_question() -> None:
    assert question(decision("last right")) == "Last right: three tiles for the player on your right."
    assert question(decision("first across")) == "First across: three tiles for the player across."
    assert question(decision("courtesy give", "give", give=1)) == "Courtesy: one tile for the player across."
