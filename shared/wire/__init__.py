"""What goes over the line: messages, intents of the desk, and the views that a seat is sent."""
