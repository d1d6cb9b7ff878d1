"""What a history says in sentences."""

from client.reports.history_lesson import lesson, lesson_report, one_habit
from client.reports.history_stats import history_report
from client.storage.history_db import HistoryEntry, Read, StepLoss
from shared.rules.settings import Settings
from shared.rules.steps import FIRST
from shared.rules.typed_tiles import typed
from tests.client.heats import DEALT, entry, heat, step


def played(number: int, seconds: float, points: float, of: int = 1) -> HistoryEntry:
    """Return a heat that is a set of its own, with as long again for the first pass."""
    steps = [step(name, seconds * (2 if name == FIRST[0] else 1)) for name in FIRST]
    losses = [StepLoss(step=one.step, points=points, error=0.1, luck=0.0, best=DEALT[3:6]) for one in steps]
    return entry(heat(number, steps, settings=Settings(heats=of)), losses, first=number)


def said(*entries: HistoryEntry) -> str:
    return "\n".join(lesson(history_report(Read(entries))))


def test_below_three_heats_it_says_how_many_there_are() -> None:
    assert said(played(1, 5, 1)) == "From 3 heats on this says what to work on; so far there is one."
    assert said(played(1, 5, 1), played(2, 5, 1)).endswith("so far there are 2.")


def test_the_last_set_stands_against_the_five_before_it_and_no_more() -> None:
    told = said(played(1, 90, 50), *(played(number, 6, 2) for number in range(2, 7)), played(7, 3, 1))
    assert "Last set: 4.0 s a pass, 1.0 point lost. Up to 5 sets before it: 8.0 s a pass, 2.0 points lost." in told


def test_the_best_sets_are_named_by_their_day() -> None:
    told = said(played(1, 6, 2), played(2, 3, 3), played(3, 6, 1))
    assert "Fastest set with every heat in time: 2031-03-01 at 3:00, 4.0 s a pass." in told
    assert "Best set by points: 2031-03-01 at 3:00, 1.0 point lost a pass." in told


def test_the_first_pass_and_the_dealer_stand_apart() -> None:
    told = said(*(played(number, 9 if number % 4 == 0 else 5, 1) for number in range(1, 9)))
    assert "First pass: 10.0 s, 1.0 point lost. Each later pass: 5.0 s, 1.0 point lost." in told
    assert "As dealer: 9.0 s a pass, 1.0 point lost. Otherwise: 5.0 s a pass, 1.0 point lost." in told


def test_a_habit_is_told_with_its_tiles() -> None:
    rack = typed("1b 1b 2b 3b 5b 9c 4c 7d 7d N G F J")
    steps = [step(FIRST[0]).model_copy(update={"given": typed("1b 9c N"), "came": typed("1c 2c 3c")})]
    losses = [StepLoss(step=FIRST[0], points=2.0, error=0.1, luck=0.0, best=typed("4c 9c N"))]
    heats = [heat(number, steps).model_copy(update={"dealt": rack}) for number in range(12)]
    told = said(*(entry(each, losses) for each in heats))
    assert "You break pairs: 12 of 12 times in 12 heats, 24 points lost. Instead: " in told
    assert "\n  Heat 1, first right: 1 bam, 9 crak and north cost 2.0; better: 4 crak, 9 crak and north." in told


def test_the_end_of_a_set_names_the_same_habit_from_three_heats_on() -> None:
    heats = [played(number, 6, 2) for number in range(1, 13)]
    assert one_habit(Read(tuple(heats[:2]))) == ()
    assert one_habit(Read(tuple(heats)))[0] in lesson(history_report(Read(tuple(heats))))


def test_text_lines_fit_eighty_cells_and_name_the_way_to_the_tables() -> None:
    lines = lesson_report(history_report(Read(tuple(played(number, 6, 2) for number in range(1, 9)))))
    assert max(map(len, lines)) <= 80
    assert "racktempo history --numbers" in " ".join(lines)
