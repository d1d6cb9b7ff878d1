"""Everything that is done with a set to take home, for screens and commands: list, make, open, hand in, compare.

Shows nothing: what cannot be done is a ValueError with a sentence. Calls may take as long as a disk takes.
"""

import os
import secrets
from collections.abc import AsyncGenerator, Callable, Iterable, Iterator
from contextlib import aclosing, closing
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from client.coach.comparing import Comparing, compare_all, known_already
from client.coach.process import CoachService
from client.connection.opened import Opening
from client.hosting.result_lines import is_result, pasted
from client.hosting.set_table import open_set, where_it_stands, where_it_waits
from client.reports.evening_csv import ENCODING, heats_csv
from client.reports.evening_files import near_home
from client.reports.set_compare import Compared, compared_page
from client.reports.set_paper import line_picture, set_in_words
from client.storage.files import data_folder, file_stem, write_whole
from client.storage.history_db import History, HistoryFault, history_path
from client.storage.sets import (
    KeptSet,
    Offered,
    Results,
    card_for,
    card_wanted,
    kept_set,
    kept_sets,
    made_here,
    read_offer,
    read_results,
    result_files,
    result_name,
    result_of,
    set_file,
)
from shared.cards.owned import told_card
from shared.cards.play import shipped_text
from shared.rules.set_line import OLDER, TakeHome, taken_home
from shared.rules.set_result import RESULT, SetResult, holds
from shared.rules.settings import Settings
from shared.troubles import describe_error

USUAL = {"incoming": "wall", "bot_pace": "no wait"}
"""What such a set has unless its maker chooses otherwise: everybody gets the same tiles, and no bot is waited for."""
_RESULT = "This is the line of a result: hand it to racktempo set compare, or paste it on the page of its set."
_OLDER = "Made with an older racktempo: its heats stay in the history; play a new set."
"""What can still be done with a set that this version cannot play, short enough for a list."""


@dataclass(frozen=True, slots=True)
class Shown:
    """A set as screens show it: its line, what it is called, what it is in sentences, how far the player is, and the
    name under which it was played."""

    line: str
    called: str
    words: tuple[str, ...]
    stands: str
    has_begun: bool
    is_over: bool
    name: str = ""


def offered(text: str) -> Offered:
    """Return the set of a line, or of a file. Raises ValueError with what to do."""
    found = read_offer(text)
    if isinstance(found, str):
        raise ValueError(_RESULT if is_result(text) else found)
    return found


def listed() -> tuple[Shown, ...]:
    """Return the sets that were made or begun here, the newest first."""
    return tuple(_listed(kept) for kept in kept_sets())


def _listed(kept: KeptSet) -> Shown:
    offer = read_offer(kept.line)
    if isinstance(offer, Offered):
        return _shown(offer, kept)
    words = _OLDER if offer == OLDER else offer
    return Shown(kept.line, kept.called, (words,), "of another version", bool(kept.tries), False)


def look(text: str) -> Shown:
    """Return the set of a line or a file. Raises ValueError with what to do."""
    found = offered(text)
    return _shown(found, kept_set(found.taken.line))


def shown_of(text: str) -> tuple[str, Shown, str]:
    """Return the line or file of a set, the set, and nothing; of a result that is pasted, which is taken in, the line
    of its set, the set, and what was done. Raises ValueError with what to do."""
    if not is_result(text):
        return text, look(text), ""
    line, told = take_in(text, results_folder())
    return line, look(line), told


def _shown(found: Offered, kept: KeptSet | None) -> Shown:
    taken = found.taken
    stands = where_it_stands(kept) if kept else "not begun"
    title = told_card(card_for(taken, found.card)).title or "a card that is not on this machine"
    called = kept.called if kept else found.title or f"Set {taken.line[:6]}"
    begun = bool(kept and kept.tries)
    is_over = begun and not where_it_waits(taken)
    words = set_in_words(taken, title, date.today())
    if taken.is_older:
        words, stands = (*words, f"{OLDER} Results of it can still be compared."), f"{stands}, older bots"
    return Shown(taken.line, called, words, stands, begun, is_over, kept.name if kept else "")


def make(settings: Settings, card: str, title: str = "", opens: int = 0, closes: int = 0) -> TakeHome:
    """Make a set and keep it as made here; without a seed its deals are fresh. Raises ValueError."""
    text = card or shipped_text()
    seed = secrets.randbelow(1 << 32) if settings.seed is None else settings.seed
    taken = taken_home(settings, told_card(text).digest, seed, opens, closes)
    if isinstance(taken, str):
        raise ValueError(taken)
    try:
        made_here(taken, secrets.token_hex(8), title, text)
    except OSError as error:
        raise ValueError(f"The set cannot be kept: {describe_error(error)}.") from error
    return taken


def hand_on(text: str) -> str:
    """Write a set as a small file and as a picture of its line; return a sentence. Raises ValueError."""
    found = offered(text)
    kept = kept_set(found.taken.line)
    title = kept.title if kept else found.title
    stem = data_folder() / "sets to hand on" / file_stem(title or found.taken.line[:6])
    write(stem.with_suffix(".set"), set_file(found.taken, title, card_for(found.taken, found.card)))
    write(stem.with_suffix(".svg"), line_picture(found.taken, title))
    return f"Written: {near_home(stem.with_suffix('.set'))}, and a picture beside it."


def play(text: str, name: str, again: bool = False) -> Opening:
    """Open the table of a set. Raises ValueError with what to do."""
    found = offered(text)
    if found.taken.is_older:
        raise ValueError(OLDER)
    kept = kept_set(found.taken.line)
    card = card_wanted(found.taken, found.card)
    return open_set(found.taken, name or (kept.name if kept else "") or "You", card, found.title, again)


def result_here(text: str, name: str = "", number: int = 1) -> tuple[KeptSet, SetResult]:
    """Return what is handed in of a try. Raises ValueError if there is nothing."""
    kept = kept_set(offered(text).taken.line)
    if kept is None:
        raise ValueError("This set was not played on this machine.")
    try:
        with closing(History(history_path())) as history:
            before = [(entry.heat.commitment, entry.heat.played_at) for entry in history.read().entries]
    except HistoryFault:
        before = []
    result = result_of(kept, name or kept.name, number, before)
    if isinstance(result, str):
        raise ValueError(result)
    return kept, result


def what_it_holds(result: SetResult, as_line: bool = False) -> tuple[str, ...]:
    """Return what a result holds, in sentences."""
    return holds(result, bool(told_card(card_for(offered(result.line).taken)).text), as_line)


def write_result(kept: KeptSet, result: SetResult, path: Path | None = None) -> Path:
    """Write a result, to the player's own folder of results if no path is given. Raises ValueError."""
    path = path or results_folder() / result_name(kept, result)
    write(path, RESULT.pack(result))
    return path


def results_folder() -> Path:
    """Return where a screen writes results, and where it looks for those of others first."""
    return data_folder() / "results"


def results_of(given: Iterable[str], line: str = "") -> Results:
    """Return the results that files, folders and pasted lines hold. Raises ValueError if none can be compared.

    A text file may hold pasted lines too.
    """
    results = read_results(_given(given), line)
    if results.handed:
        return results
    told = [f"{name}: {why}" for name, why in results.refused]
    raise ValueError("\n".join([*told, "There is no result to compare."]))


def _given(given: Iterable[str]) -> Iterator[tuple[str, bytes | str]]:
    for one in given:
        path = os.path.expanduser(one)
        if is_result(one) and not os.path.exists(path):
            yield from pasted(one)
            continue
        for name, data in result_files([Path(path)]):
            if isinstance(data, bytes) and name.endswith(".txt"):
                yield from pasted(data.decode(errors="replace"))
            else:
                yield name, data


def take_in(text: str, folder: Path) -> tuple[str, str]:
    """Keep the results that were pasted as files in a folder. Return the line of their set, and what was kept in a
    sentence. Raises ValueError if one of them does not count."""
    line, names = "", list[str]()
    for _, data in pasted(text):
        results = read_results([("", data)])
        for _, why in results.refused:
            raise ValueError(why)
        (one,) = results.handed
        line = one.taken.line
        kept = kept_set(line)
        assert kept
        write_result(kept, one.result, folder / result_name(kept, one.result))
        names.append(one.result.called)
    if not names:
        raise ValueError("This is not the line of a result.")
    return line, f"Taken in: {', '.join(names)}."


async def looked_at(
    results: Results, with_coach: bool = True, make: Callable[[], CoachService] = CoachService
) -> AsyncGenerator[Comparing, None]:
    """Yield how far results have been looked at: what is known at once, then with every heat that was looked at."""
    comparing = known_already(results.handed)
    yield comparing
    card = card_for(results.handed[0].taken)
    if with_coach and card and comparing.done < comparing.every:
        async with aclosing(compare_all(results.handed, card, comparing, make)) as growing:
            async for now in growing:
                yield now


def keep_compared(shown: Compared) -> str:
    """Write the page and a table of all heats, and return a sentence about where they are. Raises ValueError."""
    stem = file_stem(f"{date.today().isoformat()} {shown.title}")
    page, table = (results_folder() / f"{stem}{ending}" for ending in (".html", ".csv"))
    write(page, compared_page(shown, date.today().isoformat()).encode())
    write(table, heats_csv(shown.played).encode(ENCODING))
    return f"Written: {near_home(page)} and a table beside it."


def write(path: Path, data: bytes) -> None:
    """Write a file. Raises ValueError with a sentence."""
    try:
        write_whole(path, data)
    except OSError as error:
        raise ValueError(f"{path} cannot be written: {describe_error(error)}.") from error
