"""The version of everything that is sent or kept. Raise a number with every change of what it counts.

A change of the settings changes all of these. tests/test_versions.py freezes what belongs to each number.
"""

PROTOCOL = 8
"""The messages. Client and server must hold the same number; a different one is refused with both named."""
HEAT_FILE = 5
"""A whole heat (.heat)."""
SEAT_FILE = 5
"""A heat as one seat lived it (.seat), also in the history."""
STORE = 9
"""A host's tables and evenings (SQLite)."""
SET_FILE = 1
"""What is known on a machine of a set to take home."""
RESULT_FILE = 2
"""What somebody hands in of a set to take home, as a file or as a line; its heats have versions of their own."""
CLOCK_FILE = 1
"""The clock for real tiles of a set that is not over."""
PRESET = 5
"""What a preset holds besides settings; from 2 on the name of a card. The file itself holds no number."""
COACH = "racktempo coach 4"
"""The coach, kept with every loss: raise it when the same heat would get other numbers, or numbers in another unit."""
