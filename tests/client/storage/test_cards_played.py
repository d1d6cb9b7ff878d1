"""Of a card that is not shared, every version that was played by is kept for its owner and found by its digest."""

import stat
from pathlib import Path

import pytest

from client.cli import main
from client.hosting.table import play_bots
from client.setup import ABOUT_CARDS
from client.storage.card_files import cards_folder, find_played, keep_played, played_folder, text_for
from client.storage.costliest import lay_costliest
from client.storage.heat_files import keep_heat
from client.storage.history_db import HistoryEntry, Read, StepLoss
from shared.cards.owned import told_card
from shared.cards.play import SHIPPED, shipped_text
from shared.coach.heats import NoReview, reviewed, to_review
from shared.rules.heat import HEAT, SavedHeat, final_state
from shared.rules.seat_heat import SeatHeat, seat_heat
from shared.rules.seats import Seat
from shared.rules.settings import Settings
from shared.versions import COACH
from tests.owned import COPY, OWN, SHARED, TITLE

DIGEST = told_card(OWN).digest
SETTINGS = Settings(seed=8, heats=1, bot_skill="simple")


def own_card(text: str, name: str = "pier") -> Path:
    path = cards_folder() / f"{name}.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, "utf-8")
    return path


@pytest.fixture(scope="module")
def whole() -> SavedHeat:
    return play_bots(SETTINGS, card=OWN)[0]


@pytest.fixture
def heat(whole: SavedHeat) -> SeatHeat:
    lived = seat_heat(whole, final_state(whole), Seat.EAST)
    return lived.model_copy(update={"steps": tuple(step.model_copy(update={"by": "person"}) for step in lived.steps)})


def test_a_version_is_kept_for_its_owner_alone() -> None:
    keep_played(OWN)
    (path,) = played_folder().iterdir()
    assert path.name == f"{DIGEST}.toml"
    assert path.read_text("utf-8") == OWN
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_a_card_that_heats_hold_themselves_is_not_kept_again() -> None:
    keep_played(SHARED)
    keep_played("")
    keep_played("no card")
    assert not played_folder().exists()


def test_mending_a_hand_orphans_nothing() -> None:
    path = own_card(OWN)
    keep_played(OWN)
    path.write_text(shipped_text("practice"), "utf-8")
    assert find_played(DIGEST) == OWN


def test_a_copy_in_other_words_under_any_name_is_found_and_kept() -> None:
    own_card(shipped_text("practice"), "another")
    own_card("no card", "broken")
    own_card(COPY, "typed in anew")
    assert find_played(DIGEST) == COPY
    (cards_folder() / "typed in anew.toml").unlink()
    assert find_played(DIGEST) == COPY


def test_a_kept_version_that_somebody_has_changed_is_not_taken_for_it() -> None:
    keep_played(OWN)
    (played_folder() / f"{DIGEST}.toml").write_text(shipped_text("practice"), "utf-8")
    assert find_played(DIGEST) == ""


def test_a_heat_holds_title_and_digest_and_its_review_asks_for_the_card(heat: SeatHeat) -> None:
    assert (heat.card, heat.card_title, heat.card_digest) == ("", TITLE, DIGEST)
    with pytest.raises(NoReview, match=f'does not hold its card, "{TITLE}": .* with --card') as asked:
        to_review(heat, text_for(heat))
    assert str(asked.value).count(". ") == 0
    with pytest.raises(NoReview, match="another one"):
        to_review(heat, shipped_text())


def test_both_copies_review_a_heat_with_the_same_numbers(heat: SeatHeat) -> None:
    assert reviewed(heat, card=OWN) == reviewed(heat, card=COPY)


def test_the_command_reviews_by_a_file_that_is_named(
    whole: SavedHeat, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    kept = keep_heat(whole, tmp_path)
    assert not isinstance(kept, str)
    assert main(["review", str(kept.path)]) == 1
    assert TITLE in capsys.readouterr().err
    assert main(["verify", str(kept.path)]) == 0
    copy = tmp_path / "copy.toml"
    copy.write_text(COPY, "utf-8")
    assert main(["review", str(kept.path), "--card", str(copy)]) == 0
    named = capsys.readouterr().out
    own_card(COPY)
    assert main(["review", str(kept.path)]) == 0
    assert capsys.readouterr().out in named


def test_the_costliest_decisions_are_laid_by_the_card_that_is_found(heat: SeatHeat, whole: SavedHeat) -> None:
    loss = StepLoss(step="first right", points=5.0, error=1.0, luck=0.0)
    entry = HistoryEntry(1, heat, "table", coach=COACH, losses={"first right": loss})
    said = lay_costliest(Read((entry,)), lambda one: whole)
    assert isinstance(said, str)
    assert TITLE in said
    keep_played(OWN)
    found = lay_costliest(Read((entry,)), lambda one: whole)
    assert not isinstance(found, str)
    assert found[1] == OWN
    assert len(found[0]) == 1


def test_a_heat_from_before_still_holds_its_text(whole: SavedHeat) -> None:
    old = whole.model_copy(update={"card": OWN, "card_title": "", "card_digest": "", "version": 1})
    read = HEAT.unpack(HEAT.pack(old))
    assert text_for(read) == OWN


def test_the_cards_that_come_with_racktempo_are_shared() -> None:
    assert all(told_card(shipped_text(name)).text == shipped_text(name) for name in SHIPPED)


def test_the_sentence_on_sharing_says_how_and_whose_printed_cards_are() -> None:
    assert "share = true" in ABOUT_CARDS
    assert "Printed cards belong to their publishers" in ABOUT_CARDS
