"""The page for browsers: its server, its limits, and the process of each visitor."""
