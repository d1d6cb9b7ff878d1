"""racktempo set: a set is made, played elsewhere, handed in, and compared by its maker and by a player."""

import csv
from pathlib import Path

import pytest

from client.cli import main
from client.hosting import take_home
from client.storage.heat_files import heats_folder, keep_heat
from client.storage.sets import KeptSet, Try, keep_set, kept_set, kept_sets, made_here, result_of
from shared.rules.set_line import COACH, TakeHome, read_line
from shared.rules.set_result import RESULT, SetResult, packed_result
from shared.rules.settings import Settings
from tests.owned import OWN, SHARED
from tests.take_home import SETTINGS, handed_in, made, played

SHORT = SETTINGS.model_copy(update={"heats": 1})


def said(capsys: pytest.CaptureFixture[str], *words: str, code: int = 0) -> str:
    assert main(["set", *words]) == code
    found = capsys.readouterr()
    return found.out if not code else found.err


def line_in(text: str) -> TakeHome:
    taken = read_line(text.splitlines()[0])
    assert isinstance(taken, TakeHome), taken
    return taken


def played_here(taken: TakeHome, who: int, maker: bool = False, heats: int | None = None) -> None:
    """Keep a set as if it had been played on this machine."""
    for heat in played(taken, who, heats):
        assert not isinstance(keep_heat(heat, heats_folder()), str)
    known = kept_set(taken.line) or KeptSet(line=taken.line, player=f"{who:016x}", name=f"Person {who}")
    tries = (*known.tries, Try(table=f"{who:016x}"))
    keep_set(known.model_copy(update={"tries": tries, "maker": maker}))


def written(folder: Path, *results: SetResult) -> Path:
    folder.mkdir(exist_ok=True)
    for number, result in enumerate(results):
        (folder / f"{number}.result").write_bytes(packed_result(result))
    return folder


def test_a_new_set_is_one_line_with_the_chosen_settings(capsys: pytest.CaptureFixture[str], home: Path) -> None:
    words = ("--level", "2:30", "--heats", "2", "--bots", "simple", "--opens", "2026-12-01", "--closes", "2026-12-08")
    out = said(capsys, "new", *words, "--seed", "11", "--title", "Tuesday")
    taken = line_in(out)
    wanted = {"level_ms": 150_000, "heats": 2, "bot_skill": "simple", "incoming": "wall", "bot_pace": "no wait"}
    assert taken.settings == Settings.model_validate({**wanted, "seed": 11})
    assert "2 heats of 2:30" in out
    assert "from 2026-12-01 up to 2026-12-08" in out
    assert [kept.called for kept in kept_sets()] == ["Tuesday"]
    assert "Tuesday: not begun" in said(capsys, "list")


def test_two_new_sets_have_other_deals(capsys: pytest.CaptureFixture[str]) -> None:
    assert line_in(said(capsys, "new")).seed != line_in(said(capsys, "new")).seed


def test_a_file_holds_the_line_the_title_and_a_shared_card_but_no_other(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    for name, text in (("own", OWN), ("shared", SHARED)):
        (tmp_path / f"{name}.toml").write_text(text)
        file = tmp_path / f"{name}.set"
        picture = tmp_path / f"{name}.svg"
        words = ("--card", f"{tmp_path}/{name}.toml", "--file", f"{file}", "--picture", f"{picture}")
        out = said(capsys, "new", *words)
        taken = line_in(out)
        assert ("not shared" in out) == (name == "own")
        assert out.endswith(f"Written: {file}\nWritten: {picture}\n")
        assert taken.line in file.read_text()
        assert ("plover card" in file.read_text()) == (name == "shared")
        assert all(f">{group}<" in picture.read_text() for group in taken.line.split("-"))


def test_a_wrong_line_another_card_and_a_bad_file_say_what_to_do(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    line = made().line
    wrong = line[:8] + ("X" if line[8] != "X" else "Y") + line[9:]
    assert "Group 2" in said(capsys, "play", wrong, code=1)
    assert "There is no such file" in said(capsys, "play", "nothing.set", code=1)
    foreign = made(card=OWN).line
    assert "does not have the card of this set" in said(capsys, "play", "--plain", foreign, code=1)
    (tmp_path / "bad.set").write_text("line = 3")
    assert "is not the file of a set" in said(capsys, "play", f"{tmp_path}/bad.set", code=1)
    (tmp_path / "other.set").write_text(f'line = "{line}"\ncard = "title"')
    assert "another card than its line says" in said(capsys, "play", f"{tmp_path}/other.set", code=1)
    assert "was not played on this machine" in said(capsys, "hand-in", line, code=1)


def test_a_played_set_is_not_begun_again_unless_asked(capsys: pytest.CaptureFixture[str]) -> None:
    played_here(made(SHORT), 1)
    assert "You have played this set" in said(capsys, "play", made(SHORT).line, "--plain", code=1)
    assert "played" in said(capsys, "list")


def test_a_lost_result_can_be_handed_in_again_and_says_what_it_holds(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    taken = made(SHORT)
    played_here(taken, 1)
    played_here(taken, 2)
    out = said(capsys, "hand-in", taken.line, "--name", "Typed", "--out", f"{tmp_path}/a.result")
    assert 'The name "Typed"' in out
    said(capsys, "hand-in", *taken.line.split("-"), "--name", "Typed", "--out", f"{tmp_path}/b.result")
    one, two = (RESULT.unpack((tmp_path / f"{name}.result").read_bytes()) for name in "ab")
    assert one == two
    assert (one.number, one.tries, one.name, one.seen) == (1, 2, "Typed", ())
    said(capsys, "hand-in", taken.line, "--try", "2", "--out", f"{tmp_path}/c.result")
    second = RESULT.unpack((tmp_path / "c.result").read_bytes())
    assert (second.number, second.player) == (2, one.player)
    assert second.heats != one.heats
    assert "Nothing of this set" in said(capsys, "hand-in", taken.line, "--try", "3", code=1)


def test_a_deal_that_was_played_before_is_marked() -> None:
    taken = made(SETTINGS.model_copy(update={"heats": 2}))
    played_here(taken, 1)
    kept = kept_set(taken.line)
    assert kept
    _, second = played(taken, 1)
    for moment, seen in (("2026-04-30T00:00:00Z", (2,)), ("2026-06-01T00:00:00Z", ())):
        result = result_of(kept, "Ann", 1, [(second.commitment, moment), ("ab" * 32, "2020-01-01T00:00:00Z")])
        assert isinstance(result, SetResult)
        assert result.seen == seen


def test_the_maker_sees_standings_and_what_each_passed_from_the_same_rack(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    taken = made(SHORT)
    made_here(taken, "ab" * 8, "Tuesday", "")
    ada, bo = handed_in(taken, 1, name="Ada"), handed_in(taken, 2, name="Ada")
    folder = written(tmp_path / "in", ada, bo, ada, handed_in(made(SHORT, 99), 3))
    (folder / "z.result").write_bytes(packed_result(ada)[:-40])
    out = said(capsys, "compare", f"{folder}", "--page", f"{tmp_path}/page.html", "--csv", f"{tmp_path}/all.csv")
    for words in (
        "Tuesday: 2 results",
        "Time used: less is better. Part of the time that all steps allow. A heat in",
        "Points lost a pass",
        "Tables beaten",
        "Ada (2)",
        "Heat 1, first right: 2 with this rack",
        "Best: ",
        "nor does a copy",
        "It is of another set",
        "or it is damaged",
    ):
        assert words in out, words
    page = (tmp_path / "page.html").read_text()
    assert "Heat 1, first right: 2 with this rack" in page
    assert "Best: " in page
    rows = list(csv.DictReader((tmp_path / "all.csv").read_text("utf-8-sig").splitlines()))
    assert [row["name"] for row in rows] == ["Ada", "Ada (2)"]
    assert all(row["points lost"] for row in rows)


def test_what_was_found_is_kept_and_not_computed_again(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    taken = made(SHORT)
    folder = written(tmp_path / "in", handed_in(taken, 1), handed_in(taken, 2))
    first = said(capsys, "compare", f"{folder}")
    monkeypatch.setattr(take_home.CoachService, "one", None)
    assert said(capsys, "compare", f"{folder}") == first


def test_a_player_sees_what_others_did_in_deals_that_they_have_played_and_in_no_others(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    taken = made(SETTINGS.model_copy(update={"heats": 2}))
    folder = written(tmp_path / "in", handed_in(taken, 1), handed_in(taken, 2))
    page = tmp_path / "page.html"
    out = said(capsys, "compare", f"{folder}", "--times", "--page", f"{page}")
    assert "What others did in heats 1, 2 is shown once you have played them." in out
    assert "with this rack" not in out + page.read_text()
    assert "Person 1" not in out + page.read_text()
    played_here(taken, 5, heats=1)
    out = said(capsys, "compare", f"{folder}", "--times", "--page", f"{page}")
    assert "Heat 1, first right" in out
    assert "What others did in heat 2 is shown once you have played it." in out
    assert "Heat 2, first" not in out + page.read_text()
    assert "1 heat" in out
    assert "2 heats" not in out


def test_of_a_card_that_is_not_shared_no_hand_is_named(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    taken = made(SHORT, card=OWN)
    made_here(taken, "ab" * 8, "", OWN)
    results = [handed_in(taken, who, played(taken, who, card=OWN)) for who in (1, 2)]
    page = tmp_path / "page.html"
    out = said(capsys, "compare", f"{written(tmp_path / 'in', *results)}", "--page", f"{page}")
    assert "Best: " in out
    for text in (out, page.read_text()):
        assert "plover" not in text
        assert "within reach" not in text


def test_bots_that_answered_otherwise_take_a_result_out(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    taken = made(SHORT)
    other = made(SHORT.model_copy(update={"bot_skill": "coach, at a glance"}))
    false = handed_in(
        taken, 1, tuple(heat.model_copy(update={"settings": taken.settings.unseeded()}) for heat in played(other, 1))
    )
    out = said(capsys, "compare", f"{written(tmp_path / 'in', false, handed_in(taken, 2))}")
    assert "1 result" in out
    assert "Person 1: Heat 1 does not count: its bot in" in out


def test_a_set_whose_bots_are_older_is_compared_and_not_played(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    older = made(SHORT).model_copy(update={"coach": COACH - 1})
    assert "older racktempo" in said(capsys, "play", older.line, code=1)
    folder = written(tmp_path / "in", handed_in(older, 1), handed_in(older, 2))
    out = said(capsys, "compare", f"{folder}", "--times")
    assert "2 results" in out
    assert "bots of an older version, not asked again" in out


def test_nothing_to_compare_is_told(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    (tmp_path / "x.result").write_bytes(b"no")
    err = said(capsys, "compare", f"{tmp_path}/x.result", f"{tmp_path}/gone.result", code=1)
    assert "x.result: This is not the result of a set" in err
    assert "gone.result: It cannot be read" in err
    assert "There is no result to compare." in err


def test_a_result_is_handed_in_as_a_line_and_compared_beside_files(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    taken = made(SHORT)
    played_here(taken, 1, maker=True)
    out = said(capsys, "hand-in", taken.line, "--name", "Ada", "--line")
    assert 'The name "Ada"' in out
    assert "rounded to tenths" in out
    assert not list(Path.cwd().glob("*.result"))
    (line,) = (one for one in out.splitlines() if one.count("-") > 6)
    folder = written(tmp_path / "in", handed_in(taken, 2, name="Bo"))
    chat = tmp_path / "chat.txt"
    chat.write_text(f"[18:02] Ada: {line}\n")
    for given in (line, f"{chat}"):
        out = said(capsys, "compare", f"{folder}", given, "--times")
        assert "2 results" in out
        assert "Ada: came as a line: seconds rounded to tenths" in out
    assert "This is the line of a result" in said(capsys, "play", line, "--plain", code=1)
    wrong = ("X" if line[0] != "X" else "Y") + line[1:]
    out = said(capsys, "compare", f"{folder}", wrong, "--times")
    assert f"Group 1 ({wrong[:6]}) cannot be right: copy it again." in " ".join(out.split())
    assert said(capsys, "compare", wrong, code=1).endswith("There is no result to compare.\n")
