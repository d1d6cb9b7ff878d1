"""The clocks for real tiles: on one machine, and on a machine each."""
