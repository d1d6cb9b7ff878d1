"""What opens a server in the client's own process: nothing else in the client does."""
