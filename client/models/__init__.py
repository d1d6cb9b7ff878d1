"""What the screens and plain lines know, and which intent a key means. Pure."""
