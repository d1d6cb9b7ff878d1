"""What keys do to a card that is being written: no screen and no file."""

from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from client.models.card_writer import AS_IT_IS, CardWriter
from client.models.written_card import Entry, entries
from shared.cards import Card, read_card
from shared.cards.draft import Draft, read_draft
from shared.cards.writer import Writer

LINE = "FFFF 111b 2222b 333b"


def fresh() -> CardWriter:
    model = CardWriter(Writer(Draft("Pier evening", 2026)), Random(4).randrange)
    model.write_next()
    return model


def press(model: CardWriter, *keys: str) -> CardWriter:
    for key in keys:
        model.press(key)
    return model


def typed(text: str) -> list[str]:
    return ["space" if sign == " " else sign for sign in text]


def written(*lines: str) -> CardWriter:
    model = fresh()
    for number, line in enumerate(lines):
        press(model, *(["enter"] if number else []), *typed(line), "enter")
    return model


def words(model: CardWriter) -> str:
    assert model.told is not None
    return model.told.words


def hands(model: CardWriter) -> list[str]:
    return [told.here.rows[0].typed for told in rows(model) if told.here]


def rows(model: CardWriter) -> list[Writer]:
    draft = model.writer.draft
    return [Writer(draft, section, line) for section, line in draft.lines]


def test_a_new_card_begins_with_an_empty_line() -> None:
    model = fresh()
    assert (model.field, model.entry) == ("tiles", Entry("hand", 0, 0, 0, 1))


def test_tiles_are_typed_and_enter_takes_the_likeliest_meaning() -> None:
    model = press(fresh(), *typed(LINE))
    assert model.writer.count == "14 of 14"
    assert str(model.proposals[0]) == "any three ranks in a row, one suit: 21 ways"
    press(model, "enter")
    assert (model.field, words(model)) == ("", "any three ranks in a row, one suit")
    assert model.writer.group == 1, "flowers have nothing to turn"


def test_up_and_down_choose_another_meaning_and_stop_at_the_ends() -> None:
    model = press(fresh(), *typed(LINE), "up", "down")
    second = str(model.proposals[1].freedom)
    press(model, "enter")
    assert words(model) == second
    model = press(fresh(), *typed(LINE), *["down"] * 50)
    assert model.mark == len(model.proposals) - 1


def test_a_line_that_is_no_hand_yet_says_why_and_escape_keeps_it() -> None:
    model = press(fresh(), *typed("FFFF 111b 2222b 33"), "enter")
    assert model.field == "tiles"
    assert model.note == "At 17: 33 has no suit. Write 33b, 33c or 33d. Esc leaves the line as it is."
    press(model, "escape")
    assert model.field == ""
    assert model.told is not None
    assert model.told.tiles == "FFFF 111b 2222b 33"
    assert model.told.open[-1] == "There are 11 of 14 tiles. Type the others."
    assert isinstance(read_draft(model.writer.text.encode()), Draft)


def test_a_line_on_which_nothing_was_typed_goes_when_it_is_left() -> None:
    model = press(written(LINE), "enter", "escape")
    assert (hands(model), model.entry.number) == ([LINE], 1)
    assert model.writer.ahead == ()


@pytest.mark.parametrize(
    ("line", "keys", "told"),
    [
        (LINE, ["s"], "any three ranks in a row, bams only"),
        (LINE, ["right", "right", "r"], "any two ranks in a row, 3 stays; one suit"),
        ("FFF 444b 5555b GGGG", ["right", "right", "d"], "any two ranks in a row, one suit, any dragon"),
        ("FFFFFF NNNN EEEE", ["w"], "east: any wind"),
    ],
)
def test_letters_turn_what_is_free_about_a_group(line: str, keys: list[str], told: str) -> None:
    assert words(press(written(line), *keys)) == told


def test_a_group_that_has_no_such_freedom_says_what_it_has() -> None:
    model = press(written(LINE), "w")
    assert model.note == "This group has no wind to turn; r rank or s suit it has."
    assert words(model) == "any three ranks in a row, one suit"


def test_a_hand_says_how_each_group_stands() -> None:
    model = written("FF 444b 555c 666d GGG")
    assert [(turn.key, turn.stands) for turn in model.turns] == [
        ("r", "moves with 555c and 666d"),
        ("s", "one of its own"),
    ]
    press(model, "right", "right", "right")
    assert [(turn.key, turn.stands) for turn in model.turns] == [("d", "that of 444b")]


def test_figures_are_the_value_and_enter_ends_them() -> None:
    model = press(written(LINE), "3", "5", "enter")
    assert model.writer.here is not None
    assert (model.writer.here.values, model.field) == ((35,), "")


def test_concealed_jokers_and_a_note() -> None:
    model = press(written(LINE), "c", "j", "n", *typed("from the pier"), "enter")
    here = model.writer.here
    assert here is not None
    assert (here.concealed, here.jokers, here.note) == (True, False, "from the pier")


def test_or_adds_a_way_and_each_way_is_a_line_of_the_list() -> None:
    model = press(written("FF 1111b 2222b 3333b"), "o", *typed("FF 7777b 8888b 9999b"), "enter", "4", "0", "enter")
    assert [entry.row for entry in entries(model.writer.draft) if entry.level == "hand"] == [0, 1]
    assert model.writer.here is not None
    assert model.writer.here.values == (25, 40)
    press(model, "x")
    assert model.note == "This way to play it is deleted; u brings it back."
    assert len(model.writer.here.rows) == 1


def test_ranks_can_be_listed_and_must_hold_the_example() -> None:
    model = press(written("FFFFFF 4444b 4444c"), "l", "1", "3", "enter")
    assert model.note == "The example itself starts at 4: leave 4 in, or type another example."
    press(model, "backspace", "4", "enter")
    assert model.writer.here is not None
    assert model.writer.here.n == (1, 4)


def test_a_heading_is_typed_once_and_the_first_hand_follows() -> None:
    model = press(fresh(), "escape", "h", *typed("Waves"), "enter", *typed(LINE), "enter")
    press(model, "h", *typed("Winds"), "enter", *typed("FFFFFF NNNN EEEE"), "enter")
    assert [(section.name, len(section.lines)) for section in model.writer.draft.sections] == [
        ("Waves", 1),
        ("Winds", 1),
    ]
    press(model, "h", "escape")
    assert len(model.writer.draft.sections) == 2, "a heading without words goes when it is left"


def test_the_mark_stands_on_headings_and_on_the_card_too() -> None:
    model = press(written(LINE), "up")
    assert model.entry == Entry("heading", 0)
    press(model, "e", *["backspace"] * 5, *typed("Waves"), "enter", "up", "right", "e", *typed(" II"), "enter")
    draft = model.writer.draft
    assert (draft.sections[0].name, draft.title, draft.year) == ("Waves", "Pier evening II", 2027)


def test_a_hand_is_moved_deleted_and_brought_back() -> None:
    other = "FFFFFF NNNN EEEE"
    model = press(written(LINE, other), "m", "up", "enter")
    assert hands(model) == [other, LINE]
    press(model, "shift+down")
    assert hands(model) == [LINE, other]
    press(model, "x")
    assert (hands(model), model.note) == ([LINE], "Hand 2 is deleted; u brings it back.")
    press(model, "u")
    assert hands(model) == [LINE, other]
    press(model, "y")
    assert hands(model) == [LINE]


def test_undo_takes_back_a_whole_line_and_not_a_letter() -> None:
    model = press(written(LINE), "enter", *typed("FFFFFF NNNN EEEE"), "enter", "u")
    assert hands(model) == [LINE]


def test_a_line_that_was_turned_can_be_opened_and_left_as_it_is() -> None:
    model = press(written(LINE), "right", "right", "r")
    told = words(model)
    press(model, "e")
    assert (model.is_kept, model.mark) == (True, AS_IT_IS)
    press(model, "down", "up", "enter")
    assert words(model) == told
    press(model, "e", "down", "enter")
    assert words(model) == "any three ranks in a row, one suit"


def test_t_deals_a_complete_rack_and_any_key_puts_it_away() -> None:
    model = press(written(LINE), "t")
    first = model.dealt
    assert len(first) == 14
    assert press(model, "q").press("q") == "back"  # type: ignore[func-returns-value]
    assert model.dealt == ()


def test_what_no_coach_could_look_through_is_refused() -> None:
    model = written("11b 22b 33b 44b 55b 66b 77b")
    for _ in range(7):
        press(model, *["left"] * 7)
        for _ in range(7):
            press(model, "s", "s", "right")
    read = read_card(model.writer.text.encode())
    assert isinstance(read, Card), read


def test_clicks_choose_meanings_groups_and_hands() -> None:
    model = press(fresh(), *typed(LINE), "take 2")
    assert words(model) == "only 1, 2 and 3; one suit"
    assert press(model, "group 3").writer.group == 3
    press(model, "at 0")
    assert model.level == "card"
    press(model, "at 2")
    assert model.entry.number == 1


def test_a_file_that_cannot_be_read_stops_writing_until_it_is_mended() -> None:
    model = written(LINE)
    model.found_faults(("one", "two", "three"))
    assert model.press("x") == ""
    assert hands(model) == [LINE]
    press(model, *["down"] * 9)
    assert model.first_fault == 2
    assert model.press("k") == "overwrite"
    model.reread(Draft("Mended", 2026))
    assert (model.faults, model.writer.draft.title) == ((), "Mended")
    press(model, "u")
    assert hands(model) == [LINE]


def test_a_file_that_was_bad_from_the_start_is_never_written_over() -> None:
    model = CardWriter(Writer(Draft()), Random(1).randrange, ("one",), may_keep=False)
    assert model.press("k") == ""


KEYS = [*"rsdwevnljcotmhxuy?q3", "up", "down", "left", "right", "enter", "escape", "space", "backspace", "shift+up",
        "pagedown", "take 1", "group 2", "at 3", *[LINE, "FF 2026b NNNN EEEE", "x"]]  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from(KEYS), max_size=40))
def test_whatever_is_pressed_can_be_saved_and_read_again(keys: list[str]) -> None:
    model = fresh()
    for key in keys:
        if len(key) > 9 and model.field:
            model.type(key)
        else:
            model.press(key)
        assert model.entry in entries(model.writer.draft)
        assert len(model.examples) <= 2
    read = read_draft(model.writer.text.encode())
    assert isinstance(read, Draft), read
    assert len(read.lines) == len(model.writer.draft.lines)
