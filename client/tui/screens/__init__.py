"""One module a screen; a screen shows what the model holds and hands keys to it, and never decides."""
