"""No player has to read how a card's file writes hands: not on a screen, in a plain line, on a page or in an export.

Notation and ids of hands stand in TOML, in JSON and where `--notation` asks for them, and nowhere else.
"""

import itertools
import re
from collections.abc import Iterable
from html import unescape
from pathlib import Path

import pytest

from client.cli import main
from client.hosting.table import play_bots
from client.models.rack import PLACES
from client.plain.sentences import end_lines
from client.plain.table import PlainTable
from client.reports.bot_set import set_as_json, set_as_text
from client.reports.evening_csv import heats_csv, standings_csv
from client.reports.evening_html import evening_page
from client.reports.review import review_lines
from client.storage.heat_files import keep_heat
from client.storage.history_db import History, history_path
from shared.cards import first_evening_card, practice_card
from shared.cards.play import shipped_text
from shared.cards.show import show
from shared.cards.tell import tell
from shared.coach.heats import review_heat, to_review
from shared.rules.heat import final_state
from shared.rules.seat_heat import seat_heat
from shared.rules.seats import SEATS, Seat
from shared.rules.settings import Settings
from shared.rules.steps import STEPS
from shared.rules.tiles import JOKER
from tests.client.evenings import invented_evening
from tests.client.frozen import FOLDER
from tests.client.heats import heat as history_heat
from tests.client.tables import TableLine, Time

CARDS = (practice_card(), first_evening_card())
IDS = "|".join(sorted((re.escape(hand.id) for card in CARDS for hand in card.hands), key=len, reverse=True))
NOTATION = re.compile(
    rf"\^ ?\d|(?<![\w.])[nm\d]([+-]\d)?\.[pqrbcd]\b|\bD\([pqr]\)|\bY[1-4]\.|(?<![\w-])(?:{IDS})(?![\w-])"
)
ARROWS = re.compile(r"(?m)\^(?!$)|\S.*\^")
"""With plain borders this sign is the arrow across and the mark of what went. Alone on a line it points at a fault."""
OF_A_FILE = re.compile(r"^(cards|writer)-faults-")
"""What is wrong with a card's file is told in the words of that file."""
PICTURES = Path(__file__).parents[1] / "pictures"
COACHED = Settings(seed=5, heats=1, plan=True, bot_skill="coach, at a glance", bot_pace="quick")


def check(text: str, where: str, may_have_arrows: bool = False) -> None:
    found = NOTATION.search(text) or (None if may_have_arrows else ARROWS.search(text))
    assert not found, f"{where}: {text[max(0, found.start() - 60) : found.end() + 60]!r}"


def check_lines(lines: Iterable[str], where: str) -> str:
    text = "\n".join(lines)
    assert text.strip(), where
    check(text, where)
    return text


@pytest.mark.parametrize(
    "shown",
    ["F^4 n.p^3", "n+1.q", "2.p", "D(r)", "Y1.p", CARDS[0].hands[0].id, f"It keeps {CARDS[1].hands[5].id} (8 away)"],
)
def test_the_walk_would_find_notation_and_ids(shown: str) -> None:
    with pytest.raises(AssertionError):
        check(shown, "here")


def test_no_frozen_screen_shows_any() -> None:
    screens = [path for path in sorted(FOLDER.glob("*.txt")) if not OF_A_FILE.match(path.name)]
    assert len(screens) > 100
    shown = ""
    for path in screens:
        text = path.read_text("utf-8")
        check(text, path.name, may_have_arrows="ascii" in path.name)
        shown += text
    names = [told.name for card in CARDS for told in tell(card)]
    assert sum(name in shown for name in names) > 40, "the screens show hands at all"


def test_no_picture_of_the_readme_shows_any() -> None:
    pictures = sorted(PICTURES.glob("*.svg"))
    assert pictures
    for path in pictures:
        check(unescape(" ".join(re.findall(r"<text[^>]*>([^<]*)</text>", path.read_text("utf-8")))), path.name)


def test_no_plain_line_of_a_whole_heat_tells_any() -> None:
    line, plain = TableLine(Settings(seed=7, heats=1, plan=True, hints="after each pass"), Time()), PlainTable(bytes)
    said = list[str]()

    def types(text: str) -> None:
        reply = plain.read(text, line.now_ms())
        said.extend(reply.lines)
        for intent in reply.intents:
            line.ask(intent, plain.view.heat_number if plain.view else 0)
        hear()

    def hear() -> None:
        while not line.inbox.empty():
            heard = line.inbox.get_nowait()
            assert heard is not None
            said.extend(plain.hear(heard, line.now_ms()).lines)

    hear()
    for text in ("help", "card", *(f"card {section.name}" for section in CARDS[0].sections), "card nothing", "ready"):
        types(text)
    for _ in STEPS:
        heat = line.heat()
        if heat is None or heat.step is None:
            break
        free = [place for place, tile in zip(PLACES, plain._rack(), strict=False) if tile != JOKER][: heat.give]
        answers = {"vote": "go on", "offer": "2", "plan": f"plan {tell(CARDS[0])[3].name}"}
        types(answers.get(STEPS[heat.step].ask, " ".join(free)))
        line.let_others_play()
        line.pass_time(60_000)
        hear()
    text = check_lines(said, "plain lines")
    assert "You end with" in text
    assert "Nearest hand: " in text
    assert all(f"{told.name}: {told.ear}." in text for told in tell(CARDS[0]))


def test_no_text_about_bots_or_a_review_has_any() -> None:
    card = shipped_text("first-evening")
    (heat,) = heats = play_bots(COACHED, card=card)
    text = check_lines([set_as_text(COACHED, heats)], "a set of bots")
    assert "first discards" in text
    assert NOTATION.search(set_as_json(COACHED, heats)), "the JSON keeps the ids"
    life = seat_heat(heat, final_state(heat), Seat.EAST)
    *_, review = review_heat(to_review(life))
    text = check_lines(review_lines(life, review), "a review")
    assert "It keeps " in text
    assert "to go: " in text
    for seat in SEATS:
        check_lines(end_lines(seat_heat(heat, final_state(heat), seat), CARDS[1]), "the end in plain lines")


def test_no_page_or_table_of_an_evening_has_any() -> None:
    evening = invented_evening()
    for name, text in {
        "page": evening_page("An evening", "2026-01-01", evening),
        "heats": heats_csv(evening),
        "standings": standings_csv(evening),
    }.items():
        check_lines([text], name)


@pytest.mark.parametrize(
    "command",
    [
        ("ask", "1b 1b 2b 3b 5c 6c 7c 9d N E F F J", "--step", "first right", "--card", "first-evening"),
        ("card", "show"),
        ("card", "show", "first-evening"),
        ("card", "check", "practice"),
        ("rules",),
        ("history",),
        ("history", "--csv", "-"),
        ("review", "HEAT"),
        ("verify", "HEAT"),
        *((command, "--help") for command in ("ask", "card", "review", "solo", "drill", "history", "join", "host")),
    ],
    ids=" ".join,
)
def test_no_command_prints_any(command: tuple[str, ...], home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    if command[0] == "history":
        history = History(history_path())
        for number in range(1, 5):
            history.add(history_heat(number))
        history.close()
    kept = keep_heat(play_bots(COACHED, card=shipped_text("first-evening"))[0], home) if "HEAT" in command else ""
    words = [str(getattr(kept, "path", kept)) if word == "HEAT" else word for word in command]
    try:
        code = main(words)
    except SystemExit as left:
        code = left.code
    assert code in (0, None)
    text = check_lines([capsys.readouterr().out], " ".join(command))
    if command[:2] == ("card", "show"):
        assert not any(NOTATION.search(line) for line in itertools.chain.from_iterable(show(card) for card in CARDS))
        assert NOTATION.search("\n".join(show(CARDS[0], notation=True))), "--notation shows it"
        assert any(told.tiles in text for card in CARDS for told in tell(card))
