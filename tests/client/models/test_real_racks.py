"""What lay on the rack, line by line: what is known, what cannot be right, and what of it is a whole heat."""

from client.models.real_racks import ClockedHeat, RacksModel, into, out_of, read_heat, with_racks
from shared.cards.owned import told_card
from shared.cards.play import shipped_text
from shared.clock.real_clock import RealClock, real_tiles_heat
from shared.coach.lived import LivedHeat, lived
from shared.rules.settings import Settings
from shared.rules.steps import PASSES
from shared.rules.tiles import by_suit
from shared.rules.typed_tiles import compact
from tests.client.real_heats import played_heat

YEAR = 2026
DEAL = "1123b 567c 9d NEE FF J"


def clocked(*declines: str, settings: Settings | None = None) -> ClockedHeat:
    """A heat that is over, in which these steps were declined."""
    clock = RealClock(settings=settings or Settings()).begin(0, "2030-01-01T20:00:00Z")
    now_ms = 0
    while step := clock.face(now_ms).step:
        now_ms += 9_000
        clock = clock.decline(now_ms) if step in declines else clock.done(now_ms)
    (heat,) = clock.finished()
    times = real_tiles_heat("one 1", heat, clock.settings)
    return ClockedHeat(times.commitment, 1, True, clock.settings, times)


def lines_of(heat: ClockedHeat, *texts: str) -> dict[str, str]:
    return dict(zip(heat.lines, texts, strict=False))


def test_all_lines_make_a_heat_that_the_coach_can_judge() -> None:
    heat, played = clocked("courtesy offer"), played_heat(31, 14)
    read = read_heat(heat, lines_of(heat, *played.typed()), YEAR)
    assert (read.faults, read.is_whole, read.passes) == ({}, True, len(PASSES))
    assert heat.times
    whole = with_racks(heat.times, read, told_card(shipped_text()))
    judged = lived(whole)
    assert isinstance(judged, LivedHeat)
    assert judged.is_whole
    assert by_suit(judged.final.rack) == by_suit(played.final)
    assert [step.vote for step in whole.steps if step.step == "go on"] == [True]
    assert [step.offer for step in whole.steps if step.step == "courtesy offer"] == [0]
    assert [step.spent_ms for step in whole.steps] == [9_000] * len(whole.steps)


def test_a_heat_that_stopped_after_three_passes_is_whole_without_the_others() -> None:
    heat, played = clocked("go on", "courtesy offer"), played_heat(32, 13, passes=3)
    read = read_heat(heat, lines_of(heat, *played.typed()), YEAR)
    assert read.is_whole
    assert heat.times
    whole = with_racks(heat.times, read, told_card(shipped_text()))
    assert [step.vote for step in whole.steps if step.step == "go on"] == [False]
    assert isinstance(lived(whole), LivedHeat)


def test_a_pass_left_out_ends_what_is_known_and_the_times_stay() -> None:
    heat, played = clocked("courtesy offer"), played_heat(33, 14)
    lines = lines_of(heat, *played.typed())
    del lines[into("first left")]
    read = read_heat(heat, lines, YEAR)
    assert (read.passes, read.is_whole, read.faults) == (2, False, {})
    assert heat.times
    part = with_racks(heat.times, read, told_card(shipped_text()))
    assert (part.final, len(part.steps)) == ((), len(heat.times.steps))
    judged = lived(part, partly=True)
    assert isinstance(judged, LivedHeat)
    assert not judged.is_whole
    assert [step.step.step for step in judged.steps] == ["first right", "first across"]
    assert "does not add up" in str(lived(part)), "elsewhere only whole heats are judged"


def test_tiles_passed_on_unseen_are_those_that_are_missing_where_that_is_allowed() -> None:
    heat = clocked("go on", "courtesy offer")
    lines = lines_of(heat, DEAL, "9d N 7c", "4b 5b 6b", "123b", "777d", "5c", "8c")
    read = read_heat(heat, lines, YEAR)
    assert read.is_whole
    assert [step.blind for step in read.steps if step.is_pass] == [0, 0, 2]
    strict = clocked("go on", "courtesy offer", settings=Settings(blind=False))
    assert read_heat(strict, lines, YEAR).faults == {out_of("first left"): "Three tiles go at first left; these are 1."}


def test_of_the_courtesy_a_dash_says_that_nothing_went_and_an_empty_line_that_nothing_is_known() -> None:
    heat, played = clocked(), played_heat(34, 14)
    lines = lines_of(heat, *played.typed())
    part = read_heat(heat, lines, YEAR)
    assert not part.is_whole
    assert part.steps[-1].step == "last right", "an offer that is not known is not judged"
    lines |= {out_of("courtesy give"): "-", into("courtesy give"): "-"}
    whole = read_heat(heat, lines, YEAR)
    assert whole.is_whole
    assert [step.offer for step in whole.steps if step.step == "courtesy offer"] == [0]


def test_a_last_rack_that_does_not_follow_is_told_with_the_one_that_does() -> None:
    heat, played = clocked("courtesy offer"), played_heat(35, 14)
    lines = lines_of(heat, *played.typed()) | {"final": DEAL}
    read = read_heat(heat, lines, YEAR)
    assert not read.is_whole
    assert read.faults["final"] == f"The deal and the passes leave another rack: {compact(by_suit(played.final))}."
    short = read_heat(heat, lines | {"final": compact(by_suit(played.final)[:13])}, YEAR)
    assert short.faults["final"] == "14 tiles were dealt, so 14 are left; these are 13."


def test_fourteen_tiles_are_easts_whatever_place_the_clock_gave() -> None:
    heat = clocked("go on", "courtesy offer")
    assert heat.times
    west = heat.times.model_copy(update={"seat": 2})
    for tiles, times, seat in ((14, west, 0), (13, west, 2), (14, heat.times, 0), (13, heat.times, 1)):
        read = read_heat(heat, {"dealt": compact(by_suit(played_heat(36, tiles).dealt))}, YEAR)
        assert with_racks(times, read, told_card(shipped_text())).seat == seat


def test_a_card_that_is_not_shared_leaves_no_text_in_the_heat() -> None:
    heat = clocked("go on", "courtesy offer")
    text = shipped_text().replace("share = true", "share = false")
    assert heat.times
    own = with_racks(heat.times, read_heat(heat, {"dealt": DEAL}, YEAR), told_card(text))
    assert (own.card, bool(own.card_digest)) == ("", True)


def test_enter_goes_through_the_lines_to_the_next_heat_and_then_back() -> None:
    over = clocked("go on", "courtesy offer")
    coming = ClockedHeat("real tiles one 2", 2, False, Settings())
    model = RacksModel((over, coming), YEAR)
    model.begin({})
    assert (model.page, model.line) == (0, "dealt")
    for _ in over.lines[1:]:
        assert model.press("enter") == ""
    assert model.line == "final"
    assert model.press("enter") == ""
    assert (model.page, model.line) == (1, "dealt")
    assert model.press("enter") == "back"
    model.press("left")
    assert (model.page, model.line) == (0, "dealt")
    for key in ("1", "2", "b", "space", "backspace", "backspace"):
        model.press(key)
    assert model.lines["dealt"] == "12"
    model.press("up")
    assert model.line == "dealt"


def test_whoever_comes_back_goes_on_at_the_first_empty_line_of_the_last_heat() -> None:
    over = clocked("go on", "courtesy offer")
    coming = ClockedHeat("real tiles one 2", 2, False, Settings())
    model = RacksModel((over, coming), YEAR)
    model.begin({over.key: {"dealt": DEAL}})
    assert (model.page, model.line) == (0, out_of("first right"))
    played = played_heat(37, 14, passes=3)
    model.begin({over.key: lines_of(over, *played.typed())})
    assert (model.page, model.line) == (1, "dealt")
