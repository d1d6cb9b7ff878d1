"""The client: what a player sees and does; it never decides, and asks the server over a line."""
