"""The client: what a player sees and does; it never decides and never imports the server."""
