"""Everything that client and server send each other: messages, intents of the desk, views."""
