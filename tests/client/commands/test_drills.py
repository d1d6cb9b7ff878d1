"""racktempo drills: what is laid for the words on the command line, and what is said where nothing can be."""

import io
from pathlib import Path

import pytest

from client.cli import main
from client.coach.drilling import Drilling
from client.coach.queue import Coaching
from client.commands import drills
from client.commands.options import BadArgument, Parser
from client.hosting.table import play_bots
from client.storage.costliest import NONE_YET
from client.storage.heat_files import KeptFile, find_whole, heats_folder, keep_heat
from client.storage.history_db import History, StepLoss, history_path
from client.storage.journal import Journal
from shared.rules.drills import TEMPTING, Laid
from shared.rules.heat import SavedHeat, final_state
from shared.rules.seat_heat import seat_heat
from shared.rules.seats import Seat
from shared.rules.settings import Settings
from shared.rules.state import replay
from shared.versions import COACH
from tests.client.here import CoachHere

RACK = ["1b", "2b", "3b", "4c", "5c", "6c", "7d", "8d", "9d", "N", "E", "F", "J"]


def laid(*words: str) -> tuple[Laid, ...] | str:
    parser = Parser("drills", "")
    drills.add_arguments(parser)
    found = drills._laid(parser.parse_args(list(words)))
    return found if isinstance(found, str) else found[0]


async def round_of(*words: str) -> Drilling | str:
    """The round of decisions that the words mean."""
    parser = Parser("drills", "")
    drills.add_arguments(parser)
    made = drills._decisions(parser.parse_args(list(words)))
    return await made(Coaching(CoachHere(), Journal(), lambda: None), Journal())


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, SavedHeat]:
    """A folder with one whole heat of four bots."""
    folder, heat = tmp_path_factory.mktemp("heats"), play_bots(Settings(seed=5, heats=1))[0]
    keep_heat(heat, folder)
    return folder, heat


@pytest.mark.parametrize("kind", TEMPTING)
def test_a_seed_repeats_a_deal(kind: str) -> None:
    first = laid(kind, "--seed", "4", "--level", "2:00")
    assert isinstance(first, tuple)
    assert first == laid(kind, "--seed", "4", "--level", "2:00")
    assert first != laid(kind, "--seed", "5", "--level", "2:00")
    assert first[0].settings.level_ms == 120_000


def test_a_file_is_played_again_from_the_step_that_is_named(kept: tuple[Path, SavedHeat]) -> None:
    (file,) = kept[0].glob("*.heat")
    found = laid(str(file), "--from", "First-Across", "--level", "1:00")
    assert isinstance(found, tuple)
    state = replay(found[0].settings, found[0].events)
    assert state.step == "first across"
    assert found[0].settings.level_ms == 60_000


def test_words_that_make_no_sense_are_one_sentence(
    kept: tuple[Path, SavedHeat], capsys: pytest.CaptureFixture[str]
) -> None:
    (file,) = kept[0].glob("*.heat")
    assert main(["drills", str(file), "--from", "sideways"]) == 2
    assert "--from is 'sideways'" in capsys.readouterr().err
    assert main(["drills", "rival", "--from", "first left"]) == 2
    assert main(["drills", str(kept[0] / "nothing.heat")]) == 1
    assert main(["drills", "dragon"]) == 1
    said = (
        "'dragon' is neither a drill (costliest, first, tempting, go-on, courtesy, discard, hand, family, rack), "
        "nor a whole heat (rival, dragons, flowers), nor the file of a heat.\n"
    )
    assert capsys.readouterr().err.endswith(said)
    with pytest.raises(BadArgument):
        laid("rival", "--level", "soon")


def test_a_whole_heat_is_found_by_what_one_seat_knows_of_it(kept: tuple[Path, SavedHeat]) -> None:
    folder, heat = kept
    own = seat_heat(heat, final_state(heat), Seat.SOUTH)
    assert find_whole(own, folder) == heat
    assert find_whole(own.model_copy(update={"number": 2}), folder) is None
    (folder / f"{own.played_at[:10]}-bad.heat").write_bytes(b"no heat")
    assert find_whole(own, folder) == heat


async def test_a_typed_rack_is_asked_its_family_and_its_first_pass() -> None:
    found = await round_of("rack", *RACK)
    assert isinstance(found, Drilling)
    asked = [await found.supply(number) for number in range(found.count)]
    assert [(each.ask, each.step, each.rack) for each in asked] == [
        ("family", "first right", tuple(RACK)),
        ("pass", "first right", tuple(RACK)),
    ]
    dealer = await round_of("rack", "1123b", "567c", "9d", "NE", "FF", "JJ")
    assert isinstance(dealer, Drilling)
    assert (await dealer.supply(dealer.count - 1)).ask == "discard"


def test_a_typed_rack_in_plain_lines(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setattr("client.plain.decisions.CoachService", CoachHere)
    monkeypatch.setattr("sys.stdin", io.StringIO("quit\n"))
    assert main(["drills", "rack", *RACK, "--plain"]) == 0
    assert capsys.readouterr().out.startswith("A rack of your own. ")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["rack", "1b", "2b"], "A rack has 13 or 14 tiles; these are 2."),
        (["rack", *RACK[:-1], "1x"], "1x"),
        (["first", *RACK], "Only rack takes tiles."),
    ],
)
def test_tiles_that_make_no_rack_are_one_sentence(
    words: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["drills", *words, "--plain"]) == 2
    said = capsys.readouterr().err
    assert told in said
    assert said.count("\n") == 1


async def test_a_file_gives_each_of_its_decisions_as_it_stood(kept: tuple[Path, SavedHeat], home: Path) -> None:
    file = keep_heat(kept[1], home)
    assert isinstance(file, KeptFile)
    own = seat_heat(kept[1], final_state(kept[1]), Seat.EAST)
    found = await round_of(str(file.path), "--decisions")
    assert isinstance(found, Drilling)
    asked = [await found.supply(number) for number in range(found.count)]
    assert [each.step for each in asked] == [step.step for step in own.steps if step.step != "plan"]
    assert asked[0].rack == own.dealt


def test_a_file_that_is_no_heat_has_no_decisions(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["drills", str(home / "nothing.heat"), "--decisions", "--plain"]) == 2
    assert "nothing.heat" in capsys.readouterr().err


def test_the_costliest_decisions_are_laid_as_whole_heats(
    kept: tuple[Path, SavedHeat], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["drills", "costliest", "--whole"]) == 1
    assert capsys.readouterr().err == f"{NONE_YET}\n"
    heat = kept[1]
    keep_heat(heat, heats_folder())
    lived = seat_heat(heat, final_state(heat), Seat.SOUTH)
    own = lived.model_copy(update={"steps": tuple(step.model_copy(update={"by": "person"}) for step in lived.steps)})
    history = History(history_path())
    loss = StepLoss(step="first left", points=4.0, error=0.1, luck=0.0)
    history.set_losses(history.add(own).id, COACH, [loss])
    history.close()
    (found,) = laid("costliest", "--whole")
    assert isinstance(found, Laid)
    assert (found.step, found.seat, found.lost) == ("first left", Seat.SOUTH, 4.0)
    assert replay(found.settings, found.events).step == "first left"
