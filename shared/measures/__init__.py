"""Statistics of heats: times, standings, trends. Must never know a socket or a file."""
