"""The full screen. Only this folder imports Textual."""
