"""Commands are waited for until they are answered, and on their way until a view shows what came of them."""

from hypothesis import given
from hypothesis import strategies as st

from client.models.commands import Commands
from shared.rules.intents import Arrange, Pause, Resume

STEPS = st.lists(st.tuples(st.sampled_from(["sent", "done", "refused", "shown"]), st.integers(1, 4)), max_size=12)


def test_a_command_that_is_done_is_on_its_way_until_a_view_shows_it() -> None:
    sent = Commands().sent(1, Pause())
    assert (tuple(sent.unanswered.values()), sent.on_their_way) == ((Pause(),), (Pause(),))
    assert sent.shown() == sent
    done = sent.done(1)
    assert (tuple(done.unanswered.values()), done.on_their_way) == ((), (Pause(),))
    assert done.shown() == Commands()


def test_a_refused_command_is_over_at_once() -> None:
    assert Commands().sent(1, Pause()).sent(2, Resume()).refused(1) == Commands().sent(2, Resume())


def test_nobody_waits_for_a_draft() -> None:
    draft = Commands().sent(1, Arrange(tiles=()))
    assert draft.unanswered == {}
    assert draft.on_their_way == draft.done(1).on_their_way == ()


@given(STEPS)
def test_answers_to_unknown_commands_change_nothing_and_none_is_in_two_states(steps: list[tuple[str, int]]) -> None:
    commands, used = Commands(), set[int]()
    for what, number in steps:
        before = commands
        match what:
            case "sent" if number not in used:
                used.add(number)
                commands = commands.sent(number, Pause())
            case "done" | "refused":
                commands = commands.done(number) if what == "done" else commands.refused(number)
                if number not in before.unanswered:
                    assert commands == before
            case "shown":
                commands = commands.shown()
        assert not set(commands.unanswered) & set(commands.unseen)
