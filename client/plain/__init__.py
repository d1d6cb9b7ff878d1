"""Playing in plain lines, for a screen reader, a pipe or a simple terminal."""
