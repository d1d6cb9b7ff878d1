"""One table: its chairs, its heat, its bots, and the loop that keeps it."""
