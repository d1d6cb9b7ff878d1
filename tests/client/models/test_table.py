"""What the client makes of views and keys; the views come from a real table in a time of its own."""

from client.models.neighbours import neighbours
from client.models.rack import PLACES
from client.models.ran_out import time_ran_out
from client.models.table import TableModel
from shared.rules.intents import Arrange, Extend, Intent, Lift, Offer, Pass, Pause, Plan, Ready, Resume, TakeBack, Vote
from shared.rules.seats import Direction, Seat
from shared.rules.settings import Settings
from shared.rules.steps import STEPS
from shared.wire.messages import Refused
from shared.wire.views import View
from tests.client.tables import TableLine, Time


class Play:
    """A model at a table, with the app's part played by hand."""

    def __init__(self, settings: Settings | None = None, name: str = "Anna") -> None:
        self.now_ms = Time()
        self.line = TableLine(settings or Settings(seed=7), self.now_ms, name)
        self.model = TableModel()
        self.listen()
        self.ask(Ready())

    def ask(self, *intents: Intent, listen: bool = True) -> None:
        for intent in intents:
            self.model.sent(self.line.ask(intent, self.model.heat_number), intent)
        if listen:
            self.listen()

    def listen(self) -> None:
        while not self.line.inbox.empty():
            heard = self.line.inbox.get_nowait()
            match heard:
                case View():
                    self.model.hear(heard, self.now_ms(), 0)
                case Refused():
                    self.model.refused(heard)
                case _:
                    self.model.done(getattr(heard, "id", 0))

    def press(self, *keys: str, listen: bool = True) -> tuple[Intent, ...]:
        asked: tuple[Intent, ...] = ()
        for key in keys:
            asked = self.model.press(key)
            self.ask(*asked, listen=listen)
        return asked

    def free(self) -> list[str]:
        """The letters of all places that may be lifted."""
        return [PLACES[place] for place in range(len(self.model.rack.tiles)) if self.model.rack.may_lift(place)]

    def go_to(self, step: str) -> None:
        """Play on with the leftmost tiles until a step begins."""
        while self.model.step is not None and self.model.step.name != step:
            match self.model.step.ask:
                case "vote":
                    self.press("1", "enter")
                case "offer":
                    self.press("3", "enter")
                case _:
                    self.press(*self.free()[: self.model.wanted], "enter")
            self.line.let_others_play()
            self.listen()


def test_the_rack_shows_exactly_what_the_table_deals_sorted_by_suit() -> None:
    play = Play()
    assert play.model.heat is not None
    assert sorted(play.model.rack.tiles) == sorted(play.model.heat.dealt)
    assert play.model.rack.sort == "suit"


def test_letters_lift_and_drop_and_enter_passes_what_is_lifted() -> None:
    play = Play()
    first = play.free()[:3]
    play.press(*first, first[0], first[0])
    lifted = play.model.rack.lifted_tiles()
    assert play.press("enter") == (Pass(step="first right", tiles=lifted, blind=0),)
    assert play.model.stage == "answered"


def test_nothing_is_passed_before_the_table_says_so() -> None:
    play = Play()
    play.press(*play.free()[:3])
    play.press("enter", listen=False)
    assert play.model.stage == "sending"
    assert play.press("enter", "a", listen=False) == ()
    play.listen()
    assert play.model.stage == "answered"


def test_enter_with_too_few_tiles_asks_nothing_and_says_how_many_are_missing() -> None:
    play = Play()
    play.press(play.free()[0])
    assert play.press("enter") == ()
    assert "2 more" in play.model.note


def test_a_fourth_tile_is_not_lifted() -> None:
    play = Play()
    play.press(*play.free()[:4])
    assert len(play.model.rack.lifted) == 3
    assert play.model.note


def test_a_joker_is_not_lifted_and_the_reason_is_said() -> None:
    play = Play()
    assert "J" in play.model.rack.tiles
    play.press(PLACES[play.model.rack.tiles.index("J")])
    assert play.model.rack.lifted == ()
    assert "joker" in play.model.note


def test_u_drops_everything_before_the_commit() -> None:
    play = Play()
    play.press(*play.free()[:3], "u")
    assert play.model.rack.lifted == ()


def test_a_committed_pass_is_final_unless_the_settings_say_otherwise() -> None:
    play = Play()
    play.press(*play.free()[:3], "enter")
    assert play.press("u") == ()
    assert "final" in play.model.note
    loose = Play(Settings(seed=7, final_at="step end"))
    loose.press(*loose.free()[:3], "enter")
    assert loose.press("u") == (TakeBack(step="first right"),)
    assert loose.model.stage == "deciding"


def test_after_the_step_what_was_lifted_is_gone_and_what_came_is_marked() -> None:
    play = Play()
    play.go_to("first across")
    model = play.model
    assert model.heat is not None
    came = model.heat.route[0].came
    assert sorted(model.rack.tiles[place] for place in model.fresh) == sorted(came)
    assert model.rack.lifted == ()
    play.press(*play.free()[:3], "enter")
    assert model.fresh == frozenset()


def test_blind_tiles_take_the_place_of_own_ones() -> None:
    play = Play()
    play.go_to("first left")
    letters = play.free()
    play.press(*letters[:3], "2")
    assert play.model.wanted == 1
    assert len(play.model.rack.lifted) == 1
    (intent,) = play.press("enter")
    assert intent == Pass(step="first left", tiles=play.model.rack.lifted_tiles(), blind=2)
    assert play.model.stage == "answered"


def test_no_blind_tiles_where_the_step_allows_none() -> None:
    play = Play()
    play.press("2")
    assert play.model.blind == 0
    assert "unseen" in play.model.note


def test_a_vote_needs_a_choice_and_then_enter() -> None:
    play = Play()
    play.go_to("go on")
    assert play.press("enter") == ()
    assert play.press("1") == ()
    assert play.press("0", "enter") == (Vote(go_on=False),)
    assert play.model.stage == "answered"


def test_what_is_lifted_during_a_question_stays_lifted_for_the_next_pass() -> None:
    play = Play()
    play.go_to("go on")
    play.press(*play.free()[:2])
    ahead = play.model.rack.lifted_tiles()
    assert not any(isinstance(draft, Lift) for draft in play.model.drafts())
    play.press("1", "enter")
    play.line.let_others_play()
    play.listen()
    assert play.model.step == STEPS["second left"]
    assert play.model.rack.lifted_tiles() == ahead
    assert Lift(step="second left", tiles=ahead) in play.model.drafts()


def test_the_courtesy_gives_exactly_the_agreed_number() -> None:
    play = Play()
    play.go_to("courtesy offer")
    assert play.press("3", "enter") == (Offer(count=3),)
    play.line.let_others_play()
    play.listen()
    assert play.model.step == STEPS["courtesy give"]
    assert play.model.heat is not None
    assert play.model.wanted == play.model.heat.give


def test_drafts_tell_the_table_the_order_and_the_lifted_tiles_once() -> None:
    play = Play()
    play.press("right", "shift+right", *play.free()[:2])
    drafts = play.model.drafts()
    assert Arrange(tiles=play.model.rack.tiles) in drafts
    assert Lift(step="first right", tiles=play.model.rack.lifted_tiles()) in drafts
    assert play.model.drafts() == ()
    play.ask(*drafts)
    assert play.model.drafts() == ()


def test_after_time_runs_out_the_lifted_tiles_went_and_the_player_is_told() -> None:
    play = Play()
    play.press(*play.free()[:2])
    lifted = play.model.rack.lifted_tiles()
    play.ask(*play.model.drafts())
    play.line.pass_time(60_000)
    play.listen()
    assert play.model.heat is not None
    assert play.model.heat.route[0].by == "timeout"
    assert set(lifted) <= set(play.model.heat.route[0].given)
    assert play.model.note == time_ran_out(play.model.heat.route[0].given)


def test_a_late_refusal_is_said_with_how_late_it_was() -> None:
    play = Play()
    play.model.sent(99, Vote(go_on=True))
    play.model.refused(Refused(id=99, code="late", text="Too late by 120 ms.", late_ms=120))
    assert "120 ms" in play.model.note


def test_the_clock_shows_what_is_left_less_time_gone_and_half_a_round_trip() -> None:
    play = Play()
    view = play.model.view
    assert view is not None
    assert view.heat is not None
    play.model.hear(view, 5_000, 40)
    left_ms = view.heat.clock.left_ms
    assert play.model.face(5_000).left_ms == left_ms - 20
    assert play.model.face(6_500).left_ms == left_ms - 1_520
    assert play.model.face(10_000_000).left_ms == 0


def test_a_clock_that_stands_does_not_run() -> None:
    play = Play()
    assert play.press("p") == (Pause(),)
    before = play.model.face(play.now_ms())
    assert play.model.face(play.now_ms() + 5_000) == before
    assert not before.running
    assert play.press("a") == ()
    assert play.press("p") == (Resume(),)
    assert play.model.stage == "deciding"


def test_a_pause_keeps_the_order_and_what_is_lifted_in_hand() -> None:
    play = Play()
    play.press("shift+right", *play.free()[:2])
    held = play.model.rack
    play.press("p")
    assert play.model.heat is not None
    assert play.model.stage == "paused"
    assert play.model.heat.rack == ()
    assert play.model.rack == held
    play.press("p")
    assert play.model.stage == "deciding"
    assert play.model.rack == held
    play.ask(*play.model.drafts())
    assert play.model.heat.rack == held.tiles
    assert play.model.heat.lifted == held.lifted_tiles()


def test_who_comes_into_a_pause_gets_rack_and_lifted_tiles_when_it_ends() -> None:
    play = Play()
    play.press(*play.free()[:2])
    play.ask(*play.model.drafts())
    lifted = play.model.rack.lifted_tiles()
    play.press("p")
    play.model = TableModel()
    play.model.hear(play.line.table.view(play.line.chair, play.now_ms()), 0, 0)
    assert play.model.rack.tiles == ()
    play.press("p")
    assert len(play.model.rack.tiles) == 14
    assert play.model.rack.lifted_tiles() == lifted


def test_a_step_that_closes_before_a_pause_is_found_closed_after_it() -> None:
    """The line was cut meanwhile: the client hears of the pause first and of the new rack only after it."""
    play = Play()
    play.press(*play.free()[:3], listen=False)
    asked = play.model.press("enter")
    play.ask(*asked, listen=False)
    play.line.let_others_play()
    play.ask(Pause(), listen=False)
    while not play.line.inbox.empty():
        play.line.inbox.get_nowait()
    play.model.connected()
    play.model.hear(play.line.table.view(play.line.chair, play.now_ms()), 0, 0)
    assert play.model.stage == "paused"
    assert play.model.rack.lifted
    play.ask(Resume())
    assert play.model.heat is not None
    assert play.model.heat.step == "first across"
    assert sorted(play.model.rack.tiles) == sorted(play.model.heat.rack)
    assert play.model.rack.lifted == ()


def test_the_host_can_give_more_time() -> None:
    play = Play()
    before_ms = play.model.face(play.now_ms()).left_ms
    assert play.press("x") == (Extend(by_ms=10_000),)
    assert play.model.face(play.now_ms()).left_ms == before_ms + 10_000
    assert play.model.note == "The host gives 10 s more."
    play.press("left")
    play.go_to("first across")
    assert play.model.note == "", "a longer step is no gift"


def test_neighbours_are_named_by_where_they_sit_and_which_way_tiles_travel() -> None:
    play = Play()
    assert play.model.heat is not None
    me = Seat(play.model.heat.seat)
    by_relation = {seat.relation: seat for seat in neighbours(play.model)}
    assert by_relation["right"].wind == me.to(Direction.RIGHT).word
    assert by_relation["right"].gets_from_me
    assert by_relation["left"].gives_to_me
    assert not by_relation["across"].gets_from_me
    play.go_to("first across")
    across = {seat.relation: seat for seat in neighbours(play.model)}["across"]
    assert across.gets_from_me
    assert across.gives_to_me


def test_at_the_courtesy_offer_it_says_who_stopped_and_nothing_of_those_who_would_have_gone_on() -> None:
    play = Play()
    play.go_to("go on")
    play.press("0", "enter")
    play.line.let_others_play()
    play.listen()
    assert play.model.step is not None
    assert play.model.step.name == "courtesy offer"
    assert {seat.status for seat in neighbours(play.model)} == {"deciding"}
    view = play.model.view
    assert view is not None
    assert view.heat is not None
    seats = [seat.model_copy(update={"vote": False}) for seat in view.heat.seats]
    play.model.view = view.model_copy(update={"heat": view.heat.model_copy(update={"seats": tuple(seats)})})
    assert {seat.status for seat in neighbours(play.model)} == {"deciding, stopped"}


def test_an_older_view_changes_nothing() -> None:
    play = Play()
    old = play.model.view
    assert old is not None
    play.press(*play.free()[:3], "enter")
    play.model.hear(old, play.now_ms(), 0)
    assert play.model.stage == "answered"


def test_a_table_that_was_started_anew_is_heard_after_the_line_is_back() -> None:
    play = Play()
    assert play.model.view is not None
    anew = play.model.view.model_copy(update={"revision": 0, "table": "Boathouse again"})
    play.model.hear(anew, play.now_ms(), 0)
    assert play.model.view.table == "Boathouse"
    play.model.connected()
    play.model.hear(anew, play.now_ms(), 0)
    assert play.model.view.table == "Boathouse again"


def test_the_plan_names_up_to_three_first_discards() -> None:
    play = Play(Settings(seed=7, plan=True))
    play.go_to("plan")
    play.press(*play.free()[:2])
    assert play.press("enter") == (Plan(hand="", discards=play.model.rack.lifted_tiles()),)


def test_a_client_that_comes_back_finds_its_answer_in_the_tray() -> None:
    play = Play()
    play.press(*play.free()[:3], "enter")
    again = TableModel()
    assert play.model.view is not None
    again.hear(play.model.view, play.now_ms(), 0)
    assert again.stage == "answered"
    assert sorted(again.rack.lifted_tiles()) == sorted(play.model.rack.lifted_tiles())


def test_a_name_is_cleaned_again() -> None:
    play = Play()
    assert play.model.view is not None
    chairs = play.model.view.chairs
    evil = chairs[1].model_copy(update={"name": "\x1b[2J\u202eevil\u200b[b]"})
    view = play.model.view.model_copy(update={"chairs": (chairs[0], evil, *chairs[2:])})
    play.model.hear(view, play.now_ms(), 0)
    assert play.model.chair_name(1) == "[2Jevil[b]"


# ---- house variants


def test_as_many_tiles_go_blind_as_the_table_allows_and_the_reason_is_said() -> None:
    play = Play(Settings(seed=7, blind_most=1))
    play.go_to("first left")
    play.press("2")
    assert play.model.blind == 0
    assert play.model.note == "At this table at most one tile may go unseen."
    play.press("1")
    assert (play.model.blind, play.model.wanted) == (1, 2)


def test_at_a_courtesy_to_either_side_left_and_right_choose_the_neighbour() -> None:
    play = Play(Settings(seed=7, side_courtesy=True))
    play.go_to("side offer")
    play.press("left", "2")
    assert play.press("enter") == (Offer(count=2, to="left"),)


def test_an_offer_to_a_side_goes_right_unless_another_is_named() -> None:
    play = Play(Settings(seed=7, side_courtesy=True))
    play.go_to("side offer")
    assert play.press("1", "enter", listen=False) == (Offer(count=1, to="right"),)
    assert play.model.stage == "sending"


def test_tiles_that_lie_face_down_are_on_no_rack_until_all_have_voted() -> None:
    play = Play(Settings(seed=7, stop_unseen=True))
    play.go_to("go on")
    assert play.model.heat
    assert (len(play.model.rack.tiles), play.model.heat.face_down) == (11, 3)
    before = play.model.rack.tiles
    play.press("1", "enter")
    play.line.let_others_play()
    play.listen()
    assert play.model.step
    assert play.model.step.name == "second left"
    assert sorted(before) == sorted(old_tiles(play))
    assert len(play.model.fresh) == 3


def old_tiles(play: Play) -> list[str]:
    """The rack without the tiles that are marked as new."""
    return [tile for place, tile in enumerate(play.model.rack.tiles) if place not in play.model.fresh]
