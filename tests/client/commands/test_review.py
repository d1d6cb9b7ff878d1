"""racktempo review: a kept heat looked at again, and what it leaves in the history."""

import json
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from client.cli import main
from client.hosting.table import play_bots
from client.reports.history_stats import history_report
from client.storage.heat_files import keep, keep_heat
from client.storage.history_db import History, history_path
from client.storage.reviews import keep_losses, last_heat, losses_of
from shared.cards.play import shipped_text
from shared.coach.coach import Coach, coach_of
from shared.coach.heats import NoReview, review_heat, reviewed, to_review
from shared.coach.review import review, seed_of
from shared.rules.heat import SavedHeat, final_state
from shared.rules.seat_heat import SeatHeat, seat_heat
from shared.rules.seats import Seat
from shared.rules.settings import Settings
from shared.versions import COACH
from shared.wire.messages import OwnHeat

CARD = shipped_text("first-evening")
HEAT = play_bots(Settings(seed=9, heats=1, plan=True), card=CARD)[0]
PASSES = ["first right", "first across", "first left", "go on", "second left", "second across", "last right"]
KEYS = ["step", "seconds", "limit", "tiles", "best", "loss", "se", "luck", "given", "forced", "timeout"]


def own(seat: Seat = Seat.SOUTH, heat: SavedHeat = HEAT) -> SeatHeat:
    return seat_heat(heat, final_state(heat), seat)


def kept(folder: Path, what: SavedHeat | SeatHeat) -> str:
    found = keep_heat(what, folder) if isinstance(what, SavedHeat) else keep(OwnHeat(heat=what), folder)
    assert not isinstance(found, str), found
    return str(found.path)


def told(capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    assert main(["review", *words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def refused(capsys: pytest.CaptureFixture[str], code: int, *words: str) -> str:
    assert main(["review", *words]) == code
    said = capsys.readouterr()
    assert said.out == ""
    assert len(said.err.splitlines()) == 1
    return said.err


def test_the_json_is_the_ledger_step_by_step(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = told(capsys, kept(home, HEAT), "--seat", "south")
    assert list(found) == ["seat", "start", "steps", "final"]
    assert found["seat"] == "south"
    life = own()
    assert [step["step"] for step in found["steps"]] == [step.step for step in life.steps]
    assert [step["step"] for step in found["steps"]][:7] == PASSES
    for step, lived in zip(found["steps"], life.steps, strict=True):
        assert list(step) == KEYS
        assert step["seconds"] == lived.spent_ms / 1000
        assert step["limit"] == lived.length_ms / 1000
        assert step["tiles"] == list(lived.given)
        assert len(step["best"]) <= 3
        assert step["loss"] >= 0
        assert step["timeout"] is False
        assert step["forced"] is (lived.step == "plan")
    added = found["start"] + sum(step["luck"] + step["given"] - step["loss"] for step in found["steps"])
    assert added == pytest.approx(found["final"], abs=1e-9)


def test_a_seats_own_file_says_the_same_as_the_whole_heat(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert told(capsys, kept(home, own())) == told(capsys, kept(home, HEAT), "--seat", "south")


def test_without_a_seat_it_is_the_first_person_or_east(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert told(capsys, kept(home, HEAT))["seat"] == "east"
    with_person = HEAT.model_copy(update={"sitters": ("bot", "bot", "person", "bot"), "east": 1})
    assert told(capsys, kept(home, with_person))["seat"] == "south"


def test_lines_say_where_seconds_and_points_went(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["review", kept(home, HEAT)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= 80
    assert sum(line.startswith(tuple(step.capitalize() for step in PASSES)) for line in lines) == len(PASSES)
    assert any(line.startswith("  >") for line in lines)
    assert any("Likeliest hands at the end" in line for line in lines)


def test_the_last_heat_of_the_history_needs_no_file(capsys: pytest.CaptureFixture[str]) -> None:
    assert "no heat with tiles" in refused(capsys, 1, "--last")
    history = History(history_path())
    history.add(own(Seat.WEST))
    history.close()
    found = told(capsys, "--last")
    assert found["seat"] == "west"
    with closing(History(history_path())) as history:
        (entry,) = history.read().entries
    assert entry.coach == COACH
    assert sum(loss.points for loss in entry.losses.values()) == pytest.approx(sum(s["loss"] for s in found["steps"]))


def test_what_cannot_be_looked_at_is_one_sentence(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = home / "letter.txt"
    text.write_text("Dear Heron,", "utf-8")
    assert "is not a saved heat" in refused(capsys, 1, str(text))
    assert "cannot be read" in refused(capsys, 1, str(home / "nowhere.heat"))
    assert "of south only" in refused(capsys, 1, kept(home, own()), "--seat", "north")
    with_real_tiles = own().model_copy(update={"dealt": (), "steps": (), "final": ()})
    assert "real tiles" in refused(capsys, 1, kept(home, with_real_tiles))
    bad_card = own().model_copy(update={"card": "no card"})
    assert "card" in refused(capsys, 1, kept(home, bad_card))
    forged = HEAT.model_copy(update={"events": HEAT.events[5:]})
    assert "cannot have been played" in refused(capsys, 1, kept(home, forged))


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ([], "needs FILE or --last"),
        (["a.heat", "--last"], "needs FILE or --last"),
        (["--last", "--seat", "east"], "--seat needs FILE"),
        (["a.heat", "--seat", "up"], "--seat cannot be 'up'"),
    ],
)
def test_a_bad_word_is_one_sentence(words: list[str], sentence: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert sentence in refused(capsys, 2, *words)


def test_a_review_leaves_its_losses_in_the_history_once() -> None:
    coach = coach_of(CARD)
    assert isinstance(coach, Coach)
    heat = own()
    asked = to_review(heat)
    whole = list(review(coach, asked.lived, seed_of(heat)))[-1]
    history = History(history_path())
    history.add(heat, "drill", "the third kind")
    for _ in range(2):
        keep_losses(history, heat, whole)
    (entry,) = history.read().entries
    history.close()
    assert (entry.source, entry.coach) == ("drill", COACH)
    assert tuple(entry.losses[loss.step] for loss in losses_of(whole)) == losses_of(whole)
    assert set(entry.losses) == {step.step for step in heat.steps} - {"plan"}
    assert all(loss.forced for loss in entry.losses.values()), "a bot decided"


def test_a_standing_counts_what_the_players_own_review_says(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The clock's pass, the question and the number offered are in no loss per unforced pass."""
    played = own()
    heat = played.model_copy(
        update={
            "steps": tuple(
                step.model_copy(update={"by": "timeout" if step.step == "first left" else "person"})
                for step in played.steps
            )
        }
    )
    counted = reviewed(heat)
    shown = told(capsys, kept(home, heat))
    passes = [step for step in shown["steps"] if step["tiles"] and not step["forced"] and not step["timeout"]]
    assert counted.unforced == len(passes) >= 6
    assert counted.loss == sum(step["loss"] for step in passes)
    assert counted.points == shown["final"]
    *_, whole = review_heat(to_review(heat))
    history = History(history_path())
    keep_losses(history, heat, whole)
    report = history_report(history.read()).overall
    history.close()
    assert report is not None
    assert report.loss is not None
    assert report.loss.count == counted.unforced
    assert report.loss.value * report.loss.count == pytest.approx(counted.loss, abs=1e-9)


def test_the_latest_heat_with_tiles_is_the_last_one() -> None:
    history = History(history_path())
    with pytest.raises(NoReview):
        last_heat(history)
    for number in (1, 2):
        history.add(own().model_copy(update={"number": number, "played_at": f"2026-05-0{number}T19:30:00Z"}))
    history.add(own().model_copy(update={"dealt": (), "steps": (), "final": (), "played_at": "2026-05-03T19:30:00Z"}))
    assert last_heat(history).heat.number == 2
    history.close()
