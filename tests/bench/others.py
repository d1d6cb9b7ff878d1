"""Keep what the coach expects of the other seats on the cards that come with the project, so that it starts at once.

    python -m tests.bench.others

Run it after a change of a card or of the quick policies; a test compares the file with the play it came from.
"""

import json
from pathlib import Path

import numpy as np

import shared.coach
from shared.cards.shipped import first_evening_card, practice_card
from shared.coach.distance import Patterns
from shared.coach.others import fingerprint, found_by_play

KEPT = Path(shared.coach.__file__).with_name("others.json")


def main() -> None:
    """Play and write."""
    kept = {}
    for card in (practice_card(), first_evening_card()):
        patterns = Patterns.of_card(card)
        found = found_by_play(patterns)
        kept[fingerprint(patterns)] = [np.round(found.flow, 6).tolist(), found.draws]
    KEPT.write_text(json.dumps(kept) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
