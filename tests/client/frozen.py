"""Screens as plain text, compared with what was frozen. FREEZE=1 in the environment freezes anew."""

import os
from pathlib import Path

from client.tui.app import RacktempoApp

FOLDER = Path(__file__).parent / "frozen"


def text_of(app: RacktempoApp) -> str:
    """Return what is on the screen, line by line, without trailing blanks."""
    return "".join(f"{strip.text.rstrip()}\n" for strip in app.screen._compositor.render_strips())


def check_frozen(app: RacktempoApp, name: str) -> None:
    """Fail unless the screen is, character for character, the frozen one of this name and size."""
    path = FOLDER / f"{name}-{app.size.width}x{app.size.height}.txt"
    shown = text_of(app)
    if os.environ.get("FREEZE") == "1":
        path.parent.mkdir(exist_ok=True)
        path.write_text(shown, "utf-8")
    assert path.exists(), f"{path.name} was never frozen"
    assert shown == path.read_text("utf-8")
