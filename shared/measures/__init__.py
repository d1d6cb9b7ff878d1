"""Statistics of heats: times, standings, trends."""
