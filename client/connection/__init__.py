"""The connection to a table: addresses, seat tokens, discovery, joining, reconnecting. Must never know a screen."""
