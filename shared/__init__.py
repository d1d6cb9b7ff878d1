"""What both ends of the table agree on: pure values and rules; no socket, no clock, no dice, no screen."""
