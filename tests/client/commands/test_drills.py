"""racktempo drills: what is laid for the words on the command line, and what is said where nothing can be."""

from pathlib import Path

import pytest

from client.cli import main
from client.commands import drills
from client.commands.options import BadArgument, Parser
from client.hosting.table import play_bots
from client.storage.heat_files import find_whole, keep_heat
from shared.rules.drills import TEMPTING, Laid
from shared.rules.heat import SavedHeat, final_state
from shared.rules.seat_heat import seat_heat
from shared.rules.seats import Seat
from shared.rules.settings import Settings
from shared.rules.state import replay


def laid(*words: str) -> tuple[Laid, ...] | str:
    parser = Parser("drills", "")
    drills.add_arguments(parser)
    found = drills._laid(parser.parse_args(list(words)))
    return found if isinstance(found, str) else found[0]


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
        "'dragon' is neither a drill (costliest, first, tempting, go-on, courtesy, discard, family, rack), "
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
