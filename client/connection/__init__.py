"""The line to a table: addresses, seat tokens, discovery, joining, and coming back after a cut."""
