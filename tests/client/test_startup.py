"""What is imported before a screen opens."""

import subprocess
import sys

PURE = ("client.model", "client.rack", "client.look", "client.setup", "client.doors", "client.cli", "client.plain")


def test_nothing_but_the_screens_imports_textual() -> None:
    code = f"import sys, {', '.join(PURE)}; sys.exit('textual' in sys.modules or 'rich' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
