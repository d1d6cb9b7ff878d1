"""Screens as plain text, compared with what was frozen.

Every screen is frozen at 80x24. There is a picture at 120x40 only where the layout differs: where the large screen,
read row by row, shows other words and signs, or the same ones in another order. Blanks, blank rows, the place where a
sentence breaks, and the length of a rule or a bar are padding. A large screen without a picture of its own is compared
with the small picture in this way.

FREEZE=1 in the environment freezes anew and deletes the large pictures that are not needed. Use it with -n 0, so that
every small picture is there before its large one.
"""

import os
import re
from difflib import unified_diff
from pathlib import Path

import pytest

from client.tui.app import RacktempoApp

FOLDER = Path(__file__).parent / "frozen"
SMALL, LARGE = "80x24", "120x40"

sized = pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=[SMALL, LARGE])
"""Runs a test at both sizes."""


def text_of(app: RacktempoApp) -> str:
    """Return what is on the screen, line by line, without trailing blanks."""
    return "".join(f"{strip.text.rstrip()}\n" for strip in app.screen._compositor.render_strips())


def layout(text: str) -> list[str]:
    """Return a screen's words and signs in reading order, without its padding."""
    runs_once = re.sub(r"([^\w\s])\1+", r"\1", text)
    return [word for line in runs_once.splitlines() for word in line.strip(" │║").split()]


def check_frozen(app: RacktempoApp, name: str) -> None:
    """Fail unless the screen is the frozen one of this name and size."""
    check_text(text_of(app), name, f"{app.size.width}x{app.size.height}")


def check_text(shown: str, name: str, size: str, folder: Path = FOLDER) -> None:
    """Fail unless the text is, character for character, the frozen one, or has its layout where that is enough."""
    path, small = folder / f"{name}-{size}.txt", folder / f"{name}-{SMALL}.txt"
    freezes = os.environ.get("FREEZE") == "1"
    if size == LARGE and small.exists() and layout(shown) == layout(small.read_text("utf-8")):
        if freezes:
            path.unlink(missing_ok=True)
        assert not path.exists(), f"delete {path.name}: its layout is that of {small.name}"
        return
    if freezes:
        path.write_text(shown, "utf-8")
    frozen = path if path.exists() or size != LARGE else small
    assert frozen.exists(), f"{path.name} was never frozen"
    expected = frozen.read_text("utf-8")
    if frozen != path or shown != expected:
        rows = unified_diff(
            expected.splitlines(), shown.splitlines(), frozen.name, f"the screen at {size}", lineterm=""
        )
        pytest.fail("\n".join([f"the screen is not the one in {frozen.name}:", *rows]))
