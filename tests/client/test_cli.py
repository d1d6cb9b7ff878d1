"""The command line: what it imports, what it answers, and that every bad word is one sentence."""

import contextlib
import json
import os
import re
import subprocess
import sys
import termios
from pathlib import Path

import pytest

from client.cli import COMMANDS, main
from client.plain.sentences import HELP

ROOT = Path(__file__).parents[2]
START = "import sys; from client.cli import main; sys.exit(main())"


def racktempo(*words: str, code: str = "", given: str = "") -> subprocess.CompletedProcess[str]:
    """Run the command line in a process of its own."""
    return subprocess.run(
        [sys.executable, "-c", code or START, *words],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        input=given,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def test_help_lists_every_command_and_imports_nothing_heavy() -> None:
    code = "import sys; from client.cli import main; main(['--help']); print(*sorted(sys.modules), file=sys.stderr)"
    done = racktempo(code=code)
    assert all(f"  {command} " in done.stdout for command in COMMANDS)
    imported = set(done.stderr.split())
    assert "client.cli" in imported
    heavy = ("textual", "pydantic", "websockets", "msgpack", "numpy", "platformdirs", "asyncio", "shared", "server")
    assert not imported & set(heavy)


def test_every_command_has_help_of_its_own(capsys: pytest.CaptureFixture[str]) -> None:
    for command in COMMANDS:
        with pytest.raises(SystemExit) as end:
            main([command, "--help"])
        assert end.value.code == 0
        assert f"usage: racktempo {command}" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("dance", "no command 'dance'"),
        ("--fast", "no command '--fast'"),
        ("solo --level soon", "--level is 'soon'"),
        ("solo --level 0:01", "--level is '0:01'; it must be 0:10 to 30:00"),
        ("solo --level", "--level needs a value"),
        ("solo --heats 13", "heats is 13"),
        ("solo --heats 1.5", "heats is '1.5'"),
        ("solo --seed -1", "seed is '-1'"),
        ("solo --seed 99999999999999999999", "seed is 99999999999999999999"),
        ("solo --preset nobody", "no preset named 'nobody'"),
        ("solo --json", "--json needs --autoplay"),
        ("solo --lev 3:00", "does not know '--lev"),
        ("solo --plain=3", "--plain takes no value"),
        ("solo quickly", "does not know 'quickly'"),
        ("join a/b --plain", "'a/b' is not an address"),
        ("join boathouse:0", "'0' is not a port"),
        ("join --plain boathouse --name Ann", "needs --code"),
        ("browser a/b", "'a/b' is not an address"),
        ("browser --port 0", "'0' is not a port"),
        ("browser --bind", "--bind needs a value"),
        ("host --port 99999", "'99999' is not a port"),
        ("host --resume --fresh", "Use only one of --resume and --fresh."),
        ("host --tls-cert cert.pem", "go together"),
        ("clock --together --port 99999", "'99999' is not a port"),
        ("clock --resume", "--resume needs --together"),
        ("clock --name Ann", "--name needs --together"),
        ("clock --port 15300", "--port needs --together"),
        ("clock --together --heats 13", "heats is 13"),
        ("verify", "needs FILE"),
        ("messages now", "does not know 'now'"),
    ],
)
def test_a_bad_command_line_is_one_sentence_and_exit_2(
    line: str, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(line.split()) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert words in told.err
    assert told.err.count("\n") == 1
    assert told.err.endswith(".\n")


def test_verify_exits_0_for_a_good_heat_and_1_for_any_other(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["solo", "--autoplay", "--heats", "1", "--seed", "7", "--save", str(tmp_path / "heats")]) == 0
    [file] = (tmp_path / "heats").iterdir()
    capsys.readouterr()
    assert main(["verify", str(file)]) == 0
    fair, wall = capsys.readouterr().out.splitlines()
    assert fair.endswith("every event follows the rules.")
    assert "seed" in wall
    file.write_bytes(file.read_bytes().replace(b"Heron", b"Hxron"))
    assert main(["verify", str(file)]) == 1
    assert main(["verify", str(tmp_path / "missing")]) == 1


def test_saved_heats_of_one_seed_have_the_same_bytes_and_names(tmp_path: Path) -> None:
    for folder in ("one", "two"):
        assert main(["solo", "--autoplay", "--seed", "7", "--save", str(tmp_path / folder)]) == 0
    one, two = sorted((tmp_path / "one").iterdir()), sorted((tmp_path / "two").iterdir())
    assert [file.name for file in one] == [file.name for file in two]
    assert [file.read_bytes() for file in one] == [file.read_bytes() for file in two]
    assert len(one) == 3


def test_a_folder_that_cannot_be_saved_to_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "file").write_bytes(b"")
    assert main(["solo", "--autoplay", "--save", str(tmp_path / "file")]) == 2
    assert main(["solo", "--autoplay", "--heats", "1", "--save", str(tmp_path / "file" / "under")]) == 1
    assert "could not be kept" in capsys.readouterr().err


def test_a_preset_serves_as_settings_and_options_win_over_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from client.setup import Setup
    from client.storage.presets import presets_folder, save_preset
    from shared.rules.settings import Settings

    save_preset(presets_folder(), "Thursday", Setup(Settings(heats=2, level_ms=60_000, second="never")))
    assert main(["solo", "--autoplay", "--json", "--preset", "Thursday", "--heats", "1"]) == 0
    settings = json.loads(capsys.readouterr().out)["settings"]
    assert (settings["heats"], settings["level_ms"], settings["second"]) == (1, 60_000, "never")


def test_a_preset_names_the_card_too_and_the_option_wins_over_it(capsys: pytest.CaptureFixture[str]) -> None:
    import argparse

    from client.commands.options import card_of
    from client.setup import Setup
    from client.storage.presets import presets_folder, save_preset
    from shared.cards.play import shipped_text

    save_preset(presets_folder(), "Thursday", Setup(card="first-evening"))
    save_preset(presets_folder(), "Friday", Setup(card="nowhere"))
    assert card_of(argparse.Namespace(card=None, preset="Thursday")) == shipped_text("first-evening")
    assert card_of(argparse.Namespace(card="practice", preset="Thursday")) == shipped_text()
    assert card_of(argparse.Namespace(card=None, preset=None)) == ""
    of_plan = "first-evening"
    assert card_of(argparse.Namespace(card=None, preset=None), of_plan) == shipped_text("first-evening")
    assert card_of(argparse.Namespace(card="practice", preset=None), of_plan) == shipped_text()
    assert main(["solo", "--autoplay", "--heats", "1", "--preset", "Friday"]) == 2
    assert capsys.readouterr().err.startswith("nowhere: There is no such file")


@pytest.mark.parametrize("missing", ["textual_serve", "aiohttp"])
def test_without_the_extra_the_page_for_browsers_is_refused_in_one_sentence(missing: str) -> None:
    done = racktempo("web", code=f"import sys; sys.modules[{missing!r}] = None; {START}")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == "racktempo web needs the extra web: python -m pip install '.[web]' installs it.\n"


def test_an_address_at_which_no_page_can_be_served_is_one_sentence() -> None:
    done = racktempo("web", "--bind", "203.0.113.9")  # set aside for documentation (RFC 5737)
    assert (done.returncode, done.stderr) == (1, "")
    assert re.fullmatch(r"Port 15280 of 203\.0\.113\.9 cannot be opened: .*\.\n", done.stdout)


def test_the_protocol_is_told_as_json_schema(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["messages"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert {"protocol", "close_codes", "to_server", "to_client"} <= set(told)


def test_the_documented_line_prints_one_json_object_the_same_in_every_process() -> None:
    line = ["solo", "--plain", "--autoplay", "--seed", "7", "--json"]
    one, two = racktempo(*line), racktempo(*line, given="ignored\n")
    assert one.returncode == 0
    assert one.stderr == ""
    assert one.stdout == two.stdout
    assert len(json.loads(one.stdout)["heats"]) == 3


def test_output_that_nobody_reads_any_more_is_no_traceback() -> None:
    code = "import sys, os; os.close(0); from client.cli import main; sys.exit(main(['messages']))"
    with subprocess.Popen(
        [sys.executable, "-c", code], cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout
        assert process.stderr
        process.stdout.close()
        assert process.stderr.read() == ""
        assert process.wait(30) == 1


def test_a_heat_is_played_through_a_pipe() -> None:
    lines = "\na b c\na b c\nblind 3\nstop\n0\nquit\n"
    done = racktempo("solo", "--plain", "--level", "0:10", "--heats", "1", "--seed", "7", given=lines)
    assert done.returncode == 0
    assert done.stderr == ""
    assert "You passed 2 bam, 8 bam and 5 crak." in done.stdout
    assert "Courtesy with Plover" in done.stdout
    assert "\x1b" not in done.stdout


def test_the_guided_heat_is_offered_until_a_heat_has_been_played() -> None:
    assert racktempo("solo", "--plain", given="").stdout.startswith("First time? racktempo solo --plain --guided ")
    guided = racktempo("solo", "--plain", "--guided", given="").stdout
    assert guided.startswith("A guided heat, by easy hands\n")
    racktempo("solo", "--plain", "--level", "0:10", "--heats", "1", given="\na b c\na b c\nblind 3\nstop\n0\nplan\n")
    assert racktempo("solo", "--plain", given="").stdout.startswith("Heat 1 of 3\n")


def test_on_a_terminal_no_word_of_a_plain_line_is_broken() -> None:
    main_end, their_end = os.openpty()
    termios.tcsetwinsize(their_end, (24, 37))
    command = [sys.executable, "-m", "client.cli", "solo", "--plain", "--level", "0:10", "--seed", "7"]
    env = {name: value for name, value in os.environ.items() if name not in ("COLUMNS", "LINES")}
    with subprocess.Popen(
        command, cwd=ROOT, env=env, stdin=subprocess.PIPE, stdout=their_end, stderr=their_end
    ) as process:
        os.close(their_end)
        process.communicate(b"\nhelp\na b c\nquit\n", 60)
    said = b""
    with contextlib.suppress(OSError):  # the other end is closed
        while more := os.read(main_end, 65_536):
            said += more
    os.close(main_end)
    lines = said.decode().splitlines()
    whole = {word for line in HELP.splitlines() for word in line.split()}
    assert process.returncode == 0
    assert max(map(len, lines)) <= 37
    assert whole <= {word for line in lines for word in line.split()}


@pytest.mark.parametrize("module", ["alone", "evening", "table"])
def test_what_a_table_logs_is_not_written_across_the_players_screen(module: str) -> None:
    code = f"import logging, client.hosting.{module}; logging.getLogger('racktempo.keeper').error('table 1: something')"
    done = racktempo(code=code)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
