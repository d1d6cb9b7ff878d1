"""Results as lines: what was played comes back as the file tells it, and one slip of a hand is found in its group."""

import random

import pytest

from client.hosting.result_lines import is_result, line_of, pasted, result_of_line
from client.storage.sets import folder_of, made_here
from shared.cards.play import shipped_text
from shared.rules.events import ClocksRan, ClocksStopped, DeadlinesMoved, StepBegan
from shared.rules.grouped import ALL_AGAIN, ALPHABET
from shared.rules.result_line import RESULT_LINE, TENTH_MS
from shared.rules.set_line import SET_LINE, TakeHome
from shared.rules.set_result import RESULT, Handed, SetResult, read_result
from shared.rules.settings import Settings
from shared.rules.tiles import by_suit
from tests.owned import OWN
from tests.take_home import SETTINGS, handed_in, made, of_practice, played


def known(taken: TakeHome, card: str = "") -> TakeHome:
    """Make a set known on this machine."""
    made_here(taken, "ab" * 8, "Tuesday", card or shipped_text())
    return taken


def accepted(result: SetResult) -> Handed:
    found = read_result(RESULT.pack(result), of_practice)
    assert isinstance(found, Handed), found
    return found


def check_same(told: SetResult) -> SetResult:
    """Check that a result comes back from its line as its file tells it, with seconds to a tenth."""
    again = result_of_line(line_of(told))
    one, other = accepted(told), accepted(again)
    assert again.by_line
    assert again.model_copy(update={"by_line": False, "heats": told.heats}) == told
    assert other.notes == (*one.notes, "came as a line: seconds rounded to tenths")
    assert len(one.own) == len(other.own)
    for first, second in zip(one.own, other.own, strict=True):
        assert (first.number, first.dealt) == (second.number, second.dealt)
        assert by_suit(first.final) == by_suit(second.final)
        assert len(first.steps) == len(second.steps)
        for step, found in zip(first.steps, second.steps, strict=True):
            for name in ("step", "by", "blind", "vote", "offer", "to", "hand", "discards"):
                assert getattr(step, name) == getattr(found, name), (step.step, name)
            assert (by_suit(step.given), by_suit(step.came)) == (by_suit(found.given), by_suit(found.came))
            assert abs(step.spent_ms - found.spent_ms) <= TENTH_MS
        whole_ms = sum(step.spent_ms for step in first.steps) - sum(step.spent_ms for step in second.steps)
        assert abs(whole_ms) <= TENTH_MS / 2 + 1
    return again


@pytest.mark.parametrize("who", range(1, 4))
@pytest.mark.parametrize(
    "more",
    [
        {},
        {"incoming": "racks"},
        {"incoming": "racks", "side_courtesy": True, "plan": True, "blind_at": "last right"},
        {"second": "always", "carry_over": False, "final_at": "step end", "level_ms": 30_000},
        {"second": "never", "courtesy": False, "jokers": 10, "first_east": "3", "bot_pace": "slow"},
        {"stop_unseen": True, "level_ms": 15_000, "bot_skill": "coach, distracted"},
    ],
)
def test_a_line_says_what_the_file_says(who: int, more: dict[str, object]) -> None:
    taken = known(made(Settings.model_validate({**SETTINGS.model_dump(), "heats": 2, **more}), seed=40 + who))
    check_same(handed_in(taken, who, number=1, tries=9, interrupted=2, seen=(2,)))


def test_the_clock_that_answered_stays_the_clock() -> None:
    taken = known(made(SETTINGS.model_copy(update={"level_ms": 20_000})))
    result = check_same(handed_in(taken, 1))
    assert any(step.by == "timeout" for own in accepted(result).own for step in own.steps)


def test_three_heats_take_fewer_than_two_hundred_characters() -> None:
    taken = known(made())
    assert all(len(line_of(handed_in(taken, who))) < 200 for who in range(1, 9))


def test_a_set_that_is_not_known_and_a_card_that_is_not_here_say_what_to_do() -> None:
    taken = known(made(seed=77))
    line = line_of(handed_in(taken, 1))
    (folder_of(taken.line) / "set").unlink()
    with pytest.raises(ValueError, match="neither made nor played on this machine"):
        result_of_line(line)


def test_pauses_and_added_time_are_told() -> None:
    taken = known(made())
    heats = list(played(taken, 1))
    held = ClocksStopped(at_ms=0), ClocksRan(at_ms=0), DeadlinesMoved(by_ms=30_000, why="host")
    at = next(at for at, event in enumerate(heats[1].events) if isinstance(event, StepBegan)) + 1
    events = (*heats[1].events[:at], *held, *heats[1].events[at:])
    heats[1] = heats[1].model_copy(update={"events": events})
    again = check_same(handed_in(taken, 1, tuple(heats)))
    assert {"clock stopped once", "0:30 of time added"} <= set(accepted(again).notes)


def test_every_wrong_sign_and_swapped_neighbours_are_found_in_their_own_group() -> None:
    line = line_of(handed_in(known(made()), 1))
    dice = random.Random(3)
    for at in range(len(line)):
        if line[at] == "-":
            continue
        other = dice.choice([sign for sign in ALPHABET if sign != line[at]])
        typed = line[:at] + other + line[at + 1 :]
        assert RESULT_LINE.wrong(typed) == (at // 7,)
        ((_, told),) = pasted(typed)
        assert told == f"Group {at // 7 + 1} ({typed.split('-')[at // 7]}) cannot be right: copy it again." or (
            at // 7 == line.count("-") and "copy the end again" in str(told)
        )
        one, two = line[at], line[at + 1 : at + 2]
        if two not in ("", "-", one):
            assert RESULT_LINE.wrong(line[:at] + two + one + line[at + 2 :]) == (at // 7,)


def test_groups_that_changed_places_are_found_however_far_apart() -> None:
    groups = line_of(handed_in(known(made()), 1)).split("-")
    for at in range(len(groups)):
        for to in range(at):
            turned = list(groups)
            turned[at], turned[to] = groups[to], groups[at]
            if turned != groups:
                assert isinstance(RESULT_LINE.read("-".join(turned)), str)


def test_a_typist_with_one_wrong_key_in_a_hundred_never_hands_in_another_result() -> None:
    dice, line, well = random.Random(17), line_of(handed_in(known(made()), 1)), 0
    right = line.split("-")
    for _ in range(1_000):
        typed = "".join(dice.choice(ALPHABET) if sign != "-" and dice.random() < 0.01 else sign for sign in line)
        wrong = RESULT_LINE.wrong(typed)
        slips = [at for at, group in enumerate(typed.split("-")) if group != right[at]]
        assert set(wrong) <= set(slips)
        if len(wrong) == len(slips):
            well += 1
        else:
            assert (
                RESULT_LINE.read(
                    "-".join(right[at] if at in wrong else group for at, group in enumerate(typed.split("-")))
                )
                == ALL_AGAIN
            )
    assert well > 980


def test_the_lines_of_sets_and_of_results_are_told_apart() -> None:
    taken = known(made())
    line = line_of(handed_in(taken, 1))
    assert is_result(line)
    assert not is_result(taken.line)
    assert not is_result("hello there")
    assert RESULT_LINE.read(taken.line) == RESULT_LINE.none
    assert SET_LINE.read(line) == SET_LINE.none


def test_what_was_not_played_by_the_rules_of_the_set_makes_no_line() -> None:
    taken = known(made())
    with pytest.raises(ValueError, match="Heat 1 does not count"):
        line_of(handed_in(taken, 1, played(made(seed=18), 1)))
    older = taken.model_copy(update={"coach": taken.coach - 1})
    with pytest.raises(ValueError, match="bots of this set are those of an older racktempo"):
        line_of(handed_in(taken, 1).model_copy(update={"line": older.line}))


def test_a_heat_whose_bots_answered_otherwise_makes_no_line() -> None:
    taken = known(made(SETTINGS.model_copy(update={"bot_skill": "coach, distracted", "incoming": "racks"})))
    simple = made(SETTINGS.model_copy(update={"incoming": "racks"}))
    heats = [heat.model_copy(update={"settings": taken.settings.unseeded()}) for heat in played(simple, 1)]
    with pytest.raises(ValueError, match="hand it in as a file"):
        line_of(handed_in(taken, 1, tuple(heats)))


def test_several_lines_with_names_and_breaks_are_read() -> None:
    taken = known(made())
    one, two = (line_of(handed_in(taken, who)) for who in (1, 2))
    at = one.index("-", 60) + 1
    text = (
        f"[18:02] Ada: {one[:at]}\n   {one[at:]}\n\nhello there, this is my first result\n[18:05] Bo: {two.lower()}\n"
    )
    found = [data for _, data in pasted(text)]
    assert [RESULT.unpack(data).name for data in found if isinstance(data, bytes)] == ["Person 1", "Person 2"]


def test_a_card_that_is_not_shared_needs_a_copy_of_it() -> None:
    taken = known(made(card=OWN), OWN)
    result = handed_in(taken, 1, played(taken, 1, card=OWN))
    again = result_of_line(line_of(result))
    assert isinstance(read_result(RESULT.pack(again), lambda *_: False), Handed)


def test_whatever_a_line_says_it_is_read_or_refused_in_a_sentence() -> None:
    taken, dice = known(made(SETTINGS.model_copy(update={"plan": True, "side_courtesy": True}))), random.Random(9)
    whole = RESULT_LINE.read(line_of(handed_in(taken, 1)))
    assert isinstance(whole, int)
    head = 64 << 32  # the version and the set
    refused = list[str]()
    for _ in range(150):
        wrong = whole ^ (1 << dice.randrange(whole.bit_length())) if dice.random() < 0.5 else dice.getrandbits(500)
        line = RESULT_LINE.write(wrong // head * head + whole % head)
        try:
            result = result_of_line(line)
        except ValueError as error:
            refused.append(str(error))
        else:
            found = read_result(RESULT.pack(result), of_practice)
            assert isinstance(found, Handed) or found.endswith("."), found
    assert 10 < len(refused) < 150
    assert all(why.endswith(".") for why in refused)
