"""The guided first heat: no clock, the card for a first evening, and a word at each step on what to look for. Pure."""

from shared.rules.intents import Extend
from shared.rules.settings import Settings
from shared.rules.steps import TIMED, StepName

CARD = "first-evening"
UNTIMED_MS = 600_000
"""A step of this length, the longest there is, has no clock to speak of."""
SETTINGS = Settings(
    level_ms=1_800_000,
    lengths_ms=dict.fromkeys(TIMED, UNTIMED_MS),
    heats=1,
    bot_pace="no wait",
    hints="after each pass",
    plan=True,
    plan_ms=UNTIMED_MS,
)
"""The rules know no heat without a clock: each step has ten minutes, nobody is shown them, and more are asked for."""
ASK_AT_MS, _MORE_MS = 60_000, 600_000
"""When more time is asked for, and how much."""
WORDS: dict[StepName, tuple[str, ...]] = {
    "first right": (
        "Three tiles go to the player on your right. Look for what stands together: pairs, neighbours in one suit, one "
        "rank in several suits.",
        "Open the card, pick the hand that you are nearest to, and let go of tiles that it has no use for.",
    ),
    "first across": (
        "Three tiles go to the player across. See what came in: does it serve your hand?",
        "If so, keep it. If not, it may go on at once.",
    ),
    "first left": (
        "Three tiles go to the left. If you can spare none of your own, 1, 2 or 3 pass on as many that come, unseen.",
        "Do not pass two alike if you can help it: a pair given away is a present.",
    ),
    "go on": (
        "A second round of three passes is played only if all four want it; one stop ends it.",
        "Go on while you still hold three tiles that you do not need. Stop if you would have to break your hand.",
    ),
    "second left": (
        "The second round starts to the left. By now you should play for one hand, or one and its neighbour.",
        "Change your hand only for a reason: something clearly nearer.",
    ),
    "second across": ("Across again. Tiles that nobody kept come by a second time: they are safe to let go.",),
    "last right": (
        "The last pass goes right, and tiles may go unseen again.",
        "Keep pairs and jokers' helpers: groups of three and more take jokers, pairs and single tiles do not.",
    ),
    "courtesy offer": (
        "You and the player across may swap up to three tiles; the smaller of your two numbers counts.",
        "Offer as many as you can spare without regret; 0 is a good answer too.",
    ),
    "plan": (
        "The passing is over. Which hand would you play now, and which three tiles would you discard first?",
        "Name the hand on the card and lift the tiles, or skip it with enter. The coach says what it thinks of both.",
    ),
    "courtesy give": ("Choose the tiles that you swap: the ones your hand has no use for.",),
}
"""What each step is, and what to look for; one or two sentences each."""
OFFER = "First time? g plays one guided heat: no clock, easy hands, a word at each step."


def more_time(left_ms: int) -> tuple[Extend, ...]:
    """Return what keeps a step open: ten minutes more in its last one."""
    return (Extend(by_ms=_MORE_MS),) if left_ms <= ASK_AT_MS else ()
