"""What is kept on the player's machine, and reading it again."""
