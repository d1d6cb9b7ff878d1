"""The whole game: tiles, steps, passes, clocks of a heat, and heats as files."""
