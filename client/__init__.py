"""The client: what a player sees and does. It must never decide anything about the game: it asks the server."""
