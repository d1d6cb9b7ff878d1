"""The card writer without a screen: an example is typed, its freedom chosen and turned, and nothing is ever lost."""

from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.cards import Card, read_card
from shared.cards.card import Hand
from shared.cards.draft import Draft, DraftSection, draft_of, read_draft
from shared.cards.expand import count_choices, counts_of, expand_groups, instances, pattern_of
from shared.cards.picture import examples
from shared.cards.play import complete
from shared.cards.turning import ShownRow, kinds_of_turn, turn
from shared.cards.writer import Writer
from tests.bench.guessing import INVENTED, load
from tests.shared.cards.random_hands import YEAR, hands


def fresh() -> Writer:
    return Writer(Draft("Pier evening", YEAR))


def written(line: str) -> Writer:
    writer = fresh().type(line)
    assert len(writer.proposals) > 1, writer.read.faults
    return writer.choose(0)


def test_an_example_becomes_a_hand_in_two_steps() -> None:
    writer = fresh().type("FFFF 111b 2222b 333")
    assert (writer.count, writer.proposals) == ("11 of 14", ())
    assert writer.open == (
        "At 17: 333 has no suit. Write 333b, 333c or 333d.",
        "There are 11 of 14 tiles. Type the others.",
    )
    writer = writer.type("FFFF 111b 2222b 333b")
    assert writer.count == "14 of 14"
    assert str(writer.proposals[0]) == "any three ranks in a row, one suit: 21 ways"
    assert writer.open == ("Nothing is chosen yet. Say what is free about it.",)
    writer = writer.leave()
    assert (writer.open, writer.ways, str(writer.words)) == ((), 21, "any three ranks in a row, one suit")
    assert writer.joker_groups == (True, True, True, True)
    card = read_card(writer.text.encode())
    assert isinstance(card, Card)
    assert [hand.groups for hand in card.hands] == ["F^4 n.p^3 n+1.p^4 n+2.p^3"]
    assert not card.share


def test_what_was_chosen_is_open_again_when_the_tiles_change() -> None:
    writer = written("FFFF 111b 2222b 333b").type("FFFF 111b 2222b 333c")
    assert writer.words is None
    assert writer.open


@pytest.mark.parametrize(
    ("line", "turns", "words"),
    [
        ("FFFF 111b 2222b 333b", [(3, "suit"), (3, "suit")], "any three ranks in a row, one or two suits"),
        ("FFFF 111b 2222b 333b", [(3, "suit")], "any three ranks in a row, bams only"),
        ("FFFF 111b 2222b 333b", [(1, "rank"), (2, "rank"), (3, "rank")], "only 1, 2 and 3; one suit"),
        ("FFFF 111b 2222b 333b", [(3, "rank")], "any two ranks in a row, 3 stays; one suit"),
        ("FFFF 11111b 99999c", [(2, "rank")], "any two different ranks, two suits"),
        ("FFF 444b 5555b GGGG", [(3, "dragon")], "any two ranks in a row, one suit, any dragon"),
        ("FFF 444b 5555b GGGG", [(3, "dragon"), (3, "dragon")], "any two ranks in a row, one suit"),
        ("FFFFFF NNNN EEEE", [(1, "wind")], "east: any wind"),
    ],
)
def test_keys_turn_what_is_free_about_one_group(line: str, turns: list[tuple[int, str]], words: str) -> None:
    writer = written(line)
    if line.endswith("99999c"):
        at = [str(proposal.freedom) for proposal in writer.proposals]
        writer = writer.choose(at.index("only 1 and 9, two suits"))
        turns = [(1, "rank"), *turns]
    for group, what in turns:
        writer = writer.to_group(-99).to_group(group).turn(what)
    assert str(writer.words) == words


@settings(max_examples=150, deadline=None)
@given(
    st.integers(0, 2**32), st.lists(st.tuples(st.integers(0, 9), st.sampled_from(["rank", "suit", "dragon", "wind"])))
)
def test_however_it_is_turned_the_example_stays_an_example(seed: int, turns: list[tuple[int, str]]) -> None:
    hand = next(hands(seed))
    pattern = pattern_of(hand)
    example = examples(Hand("h", "s", hand.groups, jokers=hand.jokers), YEAR)[0]
    row = ShownRow(example.groups, example.tiles)
    sizes = tuple(group.count for group in example.groups)
    for place, what in turns:
        row = turn(row, place % len(sizes), what)
        assert tuple(group.count for group in row.groups) == sizes
        if count_choices(row.groups, None) <= 1_000:
            assert counts_of(row.tiles, sizes) in {
                counts_of(tiles, sizes) for tiles in instances(row.groups, None, YEAR)
            }, [str(group) for group in row.groups]
    assert pattern.rows


@pytest.mark.parametrize(("what", "at", "round_"), [("suit", 1, 3), ("rank", 1, 3), ("wind", 4, 2), ("dragon", 3, 4)])
def test_turning_comes_round_to_where_it_began(what: str, at: int, round_: int) -> None:
    writer = written("FF 333b 44c GGG NNNN")
    shown = writer.here_row.chosen if writer.here_row else None
    assert shown is not None
    assert what in kinds_of_turn(shown, at)
    seen = [shown]
    for _ in range(round_):
        seen.append(turn(seen[-1], at, what))
    wants = [frozenset(expand_groups(row.groups, None, YEAR)) for row in seen]
    assert len(set(wants)) >= 2
    assert wants[0] in wants[1:]


def test_rows_of_one_hand_can_have_lists_and_values_of_their_own() -> None:
    writer = written("FFFFFF 4444b 4444c")
    even = [str(proposal.freedom) for proposal in writer.proposals].index("one even rank, two suits")
    writer = writer.choose(even).add_row().type("FFFFFF 3333b 3333d")
    odd = [str(proposal.freedom) for proposal in writer.proposals].index("one odd rank, two suits")
    writer = writer.choose(odd).set_value(40)
    card = writer.draft.card()
    assert card is not None
    (hand,) = card.hands
    assert hand.groups == "F^6 n.p^4 n.q^4 or F^6 m.p^4 m.q^4"
    assert (hand.n, hand.m, hand.values) == ((2, 4, 6, 8), (1, 3, 5, 7, 9), (25, 40))
    assert writer.delete_row().draft.card().hands[0].values == ()  # type: ignore[union-attr]


def test_the_same_hand_is_told_with_the_number_of_the_first() -> None:
    writer = written("FFFF 111b 2222b 333b").add_line().type("FFFF 777c 8888c 999c").choose(0)
    assert writer.twin == 1
    assert writer.draft.card() is None
    assert writer.turn_jokers().twin is None
    assert isinstance(read_draft(writer.text.encode()), Draft)


def test_random_examples_and_racks_are_hands_of_the_line() -> None:
    dice = Random(4)
    writer = written("FFFF 111b 2222b 333b")
    pictures = writer.other_examples(dice.randrange)
    assert len({picture.text() for picture in pictures}) == 2
    assert all(picture.text() != "FFFF  111b  2222b  333b" for picture in pictures)
    for line in ("FFFF 111b 2222b 333b", "FF 11111b 22222b NN", "FF 2026b 4444c 4444d"):
        writer = written(line)
        for _ in range(20):
            assert complete(writer.text, writer.dealt(dice.randrange))


def test_lines_move_over_the_ends_of_sections_and_are_deleted() -> None:
    writer = written("FFFF 111b 2222b 333b").add_line().type("FFFFFF NNNN EEEE").choose(0)
    writer = writer.add_section("Winds").add_line().type("FF RRRR GGGG OOOO").leave()
    assert [len(section.lines) for section in writer.draft.sections] == [2, 1]
    up = writer.move_line(-1)
    assert ([len(section.lines) for section in up.draft.sections], up.section, up.line) == ([3, 0], 0, 2)
    assert up.move_line(1).draft == writer.draft
    assert up.move_line(-1).move_line(-1).line == 0
    assert up.move_line(-1).move_line(-1).move_line(-1).line == 0
    assert [len(section.lines) for section in up.delete_line().draft.sections] == [2, 0]
    assert [section.name for section in writer.add_section("Winds").draft.sections] == ["Hands", "Winds", "Winds 2"]
    assert writer.delete_section().draft.sections == up.delete_line().draft.sections[:1]


intents = st.one_of(
    st.tuples(st.just("type"), st.sampled_from(["FFFF 111b 2222b 333b", "FF 2026b", "x", "FFFFFF NNNN EEEE", "11b 2"])),
    st.tuples(st.just("choose"), st.integers(0, 8)),
    st.tuples(st.just("turn"), st.sampled_from(["rank", "suit", "dragon", "wind"])),
    st.tuples(st.sampled_from(["to_group", "move_line", "step", "to_row"]), st.integers(-2, 2)),
    st.tuples(st.just("set_value"), st.integers(-5, 2_000)),
    st.tuples(st.sampled_from(["set_note", "add_section", "name_section"]), st.sampled_from(["", "Waves", "x" * 50])),
    st.tuples(st.sampled_from(["add_line", "delete_line", "add_row", "delete_row", "turn_concealed", "turn_jokers",
                               "delete_section", "leave", "undo", "redo"])),
)  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(st.lists(intents, max_size=25))
def test_whatever_is_done_can_be_saved_read_again_and_undone(done: list[tuple[object, ...]]) -> None:
    writer = fresh()
    for name, *arguments in done:
        writer = getattr(writer, str(name))(*arguments)
        assert all(section.name for section in writer.draft.sections)
        read = read_draft(writer.text.encode())
        assert isinstance(read, Draft), read
        assert [len(section.lines) for section in read.sections] == [
            len(section.lines) for section in writer.draft.sections
        ]
        assert writer.open is not None
    while writer.past:
        before = writer
        writer = writer.undo()
        assert writer.redo().draft == before.draft
    assert writer.draft == fresh().draft


def test_sixty_invented_hands_are_written_through_the_writer_and_come_back_the_same() -> None:
    card = load(INVENTED)
    draft = draft_of(card)
    assert sum(len(section.lines) for section in draft.sections) == 60
    assert Writer(draft).draft.card() == card
    assert isinstance(Writer(draft).draft.sections[0], DraftSection)
