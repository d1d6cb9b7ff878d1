"""A table whose card is not shared: whoever has a copy plays with it, everybody else is told in one sentence."""

from dataclasses import replace

from client.tui.app import RacktempoApp
from shared.cards.owned import told_card
from shared.rules.events import Planned
from shared.rules.settings import Settings
from tests.client.frozen import text_of
from tests.client.here import CoachHere
from tests.client.player import at
from tests.owned import COPY, OWN, TITLE, copy_in_words, found

HINTS = Settings(seed=7, hints="after each pass", plan=True)
DIGEST = told_card(OWN).digest


def pane_of(app: RacktempoApp) -> str:
    """What the pane beside the table says, in one line."""
    return " ".join(" ".join(line[82:] for line in text_of(app).splitlines()).split())


async def test_a_guest_without_a_copy_is_told_so_and_the_coach_is_not_asked() -> None:
    coach = CoachHere()
    async with at((120, 40), settings=HINTS, coach=coach, card=OWN, is_guest=True) as player:
        said = player.model.about_card
        assert said == f'No hints, points or named plan without your own copy of "{TITLE}".'
        assert said in text_of(player.app)
        await player.press("enter")
        assert said in pane_of(player.app)
        await player.play_to("first across")
        await player.press("y")
        assert said in pane_of(player.app)
        await player.press("y", "v")
        assert found(copy_in_words("plover", backwards=False), [text_of(player.app).encode()]) == set()
        assert coach.asked == []
        assert player.model.hint is None


async def test_a_guest_with_a_copy_in_other_words_plays_with_it() -> None:
    async with at((120, 40), settings=HINTS, card=OWN, copies={DIGEST: COPY}, is_guest=True) as player:
        await player.press("enter")
        assert player.model.about_card == ""
        assert "lapwing heading" in text_of(player.app)
        await player.play_to("first across")
        await player.until(lambda: player.model.hint and player.model.hint.compared)


async def test_a_plan_names_no_hand_to_the_table_and_stays_on_ones_own_screen() -> None:
    async with at((120, 40), settings=HINTS, card=OWN, copies={DIGEST: COPY}, is_guest=True) as player:
        await player.press("enter")
        await player.play_to("plan")
        player.model.pane = replace(player.model.pane, pinned="lapwing-hand-0")
        await player.press("enter")
        assert player.model.pane.pinned == "lapwing-hand-0"
        await player.others_play()
        await player.until(lambda: player.model.whole)
        (whole,) = player.model.whole.values()
        plans = [event for event in whole.events if isinstance(event, Planned)]
        assert len(plans) == 4
        assert {plan.hand for plan in plans} == {""}


async def test_a_host_whose_card_is_gone_is_told_so() -> None:
    async with at((120, 40), settings=HINTS, card=OWN) as player:
        assert player.model.about_card in text_of(player.app)
        assert f'this machine no longer has "{TITLE}"' in player.model.about_card
        await player.press("enter")
        assert player.model.about_card in pane_of(player.app)
