"""The clocks for real tiles: one for the whole table, or one on each person's machine."""
