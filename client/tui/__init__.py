"""The full screen. Only this folder imports Textual."""

import os

os.environ.setdefault("TEXTUAL_FPS", "120")
"""How often a second Textual looks whether lines must be drawn: at its usual 60 a key waits up to 17 ms for nothing."""
