"""The only owner of hidden tiles: the table, its socket shell, its bots and its disk."""
