"""What is imported before a screen opens."""

import subprocess
import sys

PURE = (
    "client.models.table",
    "client.models.rack",
    "client.theme",
    "client.models.settings_form",
    "client.tui.ports",
    "client.cli",
    "client.plain.session",
)


def test_nothing_but_the_screens_imports_textual() -> None:
    code = f"import sys, {', '.join(PURE)}; sys.exit('textual' in sys.modules or 'rich' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_without_a_terminal_the_full_screen_is_refused_in_one_sentence() -> None:
    run = [sys.executable, "-m", "client.cli", "solo"]
    done = subprocess.run(run, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.count("\n") == 1
    assert "--plain" in done.stderr
