"""The rules of the passing phase for a table's settings, and a glossary. Pure.

Must never describe a rule that the table does not play. Both are plain text; the screen and `racktempo rules` show the
same sections.
"""

from dataclasses import dataclass

from shared.rules.settings import Settings
from shared.rules.steps import FIRST, PASSES
from shared.times import write_time

HOUSE = "House rules differ: where your table's own rule sheet says otherwise, the sheet wins."


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and its sentences, one paragraph each."""

    title: str
    lines: tuple[str, ...]


GLOSSARY: dict[str, str] = {
    "away": "How many tiles a rack still needs for a hand. On screens: 7 to go.",
    "bam": "One of the three suits, 1 to 9, four tiles of each.",
    "best": "Of all passes you could have made, the one that keeps the most points.",
    "blind": "Passing on incoming tiles without looking at them.",
    "carried over": "Time left from one step that is added to your next one.",
    "Charleston": "The passing before play: right, across, left, and the same backwards if nobody stops.",
    "concealed": "Said of a hand that must be finished with tiles you draw yourself, except the last one.",
    "cost": "How many points fewer your pass keeps than the best one. Also called loss.",
    "courtesy": "A last exchange across the table of up to three tiles; the smaller of the two offers counts.",
    "crak": "One of the three suits, 1 to 9, four tiles of each.",
    "dot": "One of the three suits, 1 to 9, four tiles of each.",
    "dragon": "Red, green or white. Red goes with craks, green with bams, white with dots.",
    "drill": "A deal that was laid for practice instead of dealt by chance.",
    "East": "The dealer of a heat: 14 tiles, the others hold 13.",
    "first discards": "The tiles that you would throw away first once play begins.",
    "flower": "One of eight tiles that all count as the same.",
    "forced": "Said of an answer with nothing to choose between. It counts as no mistake.",
    "gap": "A missing rank between two ranks you hold; the hand needs all three.",
    "gift": "What your pass is worth to the player who gets it.",
    "hand": "A line of the card: fourteen tiles that win.",
    "heat": "One deal and its Charleston.",
    "idle": "Said of a tile that no hand within reach wants.",
    "joker": "Stands for any tile in a group of three or more, never in a single or a pair. It is never passed.",
    "kong": "Four of one kind.",
    "level": "The time for one whole Charleston; each step has its share of it.",
    "lift": "Choose a tile of your rack to be passed; you can still put it back.",
    "like tiles": "Tiles that are equal, or of one rank in several suits.",
    "luck": "Points won or lost by what came in, which you did not decide.",
    "pair": "Two of one kind, never with a joker.",
    "pin": "Keep one hand of the card in sight beneath your rack.",
    "plan": "A step after the passing: name the hand you would play and your first discards.",
    "points": "The chance in 100 that a rack wins the hand at a table of four. 25 is an even share.",
    "pung": "Three of one kind.",
    "quint": "Five of one kind; it needs a joker, except for flowers.",
    "rack": "The tiles that you hold.",
    "run": "Neighbouring ranks, such as 3, 4 and 5.",
    "second Charleston": "Left, across and right once more, after the first three passes.",
    "section": "A part of the card whose hands share one idea.",
    "set": "Several heats in a row; East moves on after each.",
    "shared card": "A card whose owner lets the table send it to everybody; any other stays with its owner.",
    "soap": "The white dragon. In a year it stands for zero.",
    "target": "The hand or section that you are passing for.",
    "tempting deal": "A drill whose tiles make a wrong choice look good.",
    "too close": "The difference is smaller than what chance alone could make; nobody can say which pass is better.",
    "unseen": "Tiles that you have not seen: in the wall or on other racks.",
    "value": "What a hand scores, as the card says.",
    "wall": "All tiles that are not dealt.",
    "within reach": "Said of a hand that your rack can still become.",
    "worth": "The points that your rack would lose without a tile.",
}
"""Words that a newcomer may not know, each explained in a sentence or two."""


def rules_of(settings: Settings) -> tuple[Section, ...]:
    """Return the rules of a table with these settings, section by section."""
    jokers = f"{settings.jokers} jokers" if settings.jokers else "no jokers"
    tiles = 144 + settings.jokers
    return (
        Section(
            "The deal",
            (
                f"{tiles} tiles: 108 in three suits, 16 winds, 12 dragons, 8 flowers, {jokers}.",
                "East gets 14 tiles, everybody else 13.",
                _complete(settings),
                _east(settings),
            ),
        ),
        Section("The passes", (*_passes(settings), *_blind(settings), _jokers(settings))),
        Section("Clocks", _clocks(settings)),
        Section("At the end", _end(settings)),
        Section("Your own table", (HOUSE,)),
    )


def _east(settings: Settings) -> str:
    first = {"lot": "A lot decides who is East first"}.get(
        settings.first_east, f"Chair {settings.first_east} is East first"
    )
    heats = f"each of the {settings.heats} heats" if settings.heats > 1 else "the heat"
    return f"{first}; East moves one seat to the right after {heats}."


def _complete(settings: Settings) -> str:
    if settings.east_complete == "wins":
        return "If East is dealt a complete hand of a shared card, East wins the heat; nothing is passed."
    return "If East is dealt a complete hand, the tiles are dealt again."


def _passes(settings: Settings) -> tuple[str, ...]:
    second = {
        "offered": f"Then everybody says go on or stop. One stop ends the passing; no answer means {settings.silence}. "
        "If nobody stops: three tiles left, across, and right.",
        "always": "Then three tiles left, across, and right; this table always plays the second Charleston.",
        "never": "This table plays no second Charleston.",
    }[settings.second]
    courtesy = (
        "In the courtesy you and the player across each offer 0 to 3 tiles; the smaller number is exchanged, "
        "also after a stop."
        if settings.courtesy
        else "This table plays no courtesy pass."
    )
    comes = {
        "racks": (),
        "wall": ("Your incoming tiles come from the wall, without jokers, not from the other racks.",),
    }[settings.incoming]
    first = "Three tiles to the right, three across, three to the left; these passes are compulsory."
    unseen = "The tiles of first left stay face down until everybody has said go on or stop."
    side = (
        "One more courtesy may go to either side: you name a neighbour and a number. You swap if that neighbour names "
        "you too; the smaller number counts."
    )
    return (
        first,
        *((unseen,) if settings.hides(FIRST[-1]) else ()),
        second,
        courtesy,
        *((side,) if settings.side_courtesy else ()),
        *comes,
    )


def _blind(settings: Settings) -> tuple[str, ...]:
    steps = [step for step in PASSES if settings.most_blind(step) and settings.plays(step)]
    if not steps:
        return ("Blind passes are not allowed.",)
    tiles = {1: "one incoming tile", 2: "one or two incoming tiles", 3: "one to three incoming tiles"}
    most = tiles[settings.blind_most]
    return (f"At {' and '.join(steps)} you may pass on {most}, unseen, instead of your own.",)


def _jokers(settings: Settings) -> str:
    if not settings.jokers:
        return "There is no joker to pass."
    return "A joker is never passed, at any step. Anything else may be."


def _clocks(settings: Settings) -> tuple[str, ...]:
    left = "added to your next step" if settings.carry_over else "lost"
    return (
        f"A whole Charleston takes {write_time(settings.total_ms())} at most. Time you do not use is {left}.",
        "When your time runs out, the table passes the tiles you lifted, topped up from the right end of your rack.",
        "A pass is final as soon as you commit it."
        if settings.final_at == "commit"
        else "You may take a pass back until the step ends.",
    )


def _end(settings: Settings) -> tuple[str, ...]:
    plan = (
        (
            f"In the plan step you have {write_time(settings.plan_ms)} to name the hand you would play and your first "
            "discards.",
        )
        if settings.plan
        else ()
    )
    racks = "Everybody sees all racks." if settings.open_racks else "Racks stay closed."
    hints = {
        "none": "The coach says nothing.",
        "after each pass": "The coach says what a pass was worth after each pass.",
        "at the end": "The coach speaks after the heat.",
    }[settings.hints]
    values = (VALUES,) if settings.play_for == "values" else ()
    return (*plan, racks, hints, *values)


VALUES = (
    "The coach plays for the hands' values. Where it says points or so many in 100, 100 is the card's dearest hand, "
    "won for sure."
)
"""What numbers mean where values count."""


def found_in(text: str) -> tuple[tuple[str, str], ...]:
    """Return the glossary's entries that contain the text, in word or meaning; all entries for an empty text.

    Words that begin with the text come first, then words that contain it.
    """
    wanted = text.casefold().strip()
    found = [(word, means) for word, means in GLOSSARY.items() if wanted in f"{word} {means}".casefold()]
    return tuple(sorted(found, key=lambda entry: _place(entry[0].casefold(), wanted)))


def _place(word: str, wanted: str) -> int:
    return 0 if word.startswith(wanted) else 1 if wanted in word else 2
