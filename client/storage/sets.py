"""Sets to take home on this machine: which ones were made or begun here, and what is handed in of them.

A set is one file in a folder of its own, called by a digest of its line. It knows the tables at which the set was
tried; their heats lie with all other heats, so a result that was lost can be made again from them.
"""

import hashlib
import json
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache, partial
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from client.storage.card_files import card_names, cards_folder, find_card, keep_played, played_folder, read_file
from client.storage.files import data_folder, file_stem, read_at_most, write_whole
from client.storage.heat_files import heats_folder
from shared import versions
from shared.cards.owned import told_card
from shared.cards.play import MAX_TEXT_BYTES, complete
from shared.codec import BadFrame, FileCodec
from shared.names import clean_name
from shared.records import Record
from shared.rules.heat import HEAT, SavedHeat
from shared.rules.set_line import TakeHome, read_line
from shared.rules.set_result import RESULT, Handed, SetResult, bare, read_result
from shared.rules.tiles import Rack
from shared.toml import read_table
from shared.troubles import describe_error

TABLE = "Take home"
"""What the table of such a set is called; its heats are found by it."""
TITLE_CELLS = 40
_LONGEST = MAX_TEXT_BYTES + 4096
"""The longest file of a set: it may hold a card."""


class Try(Record):
    """One time that the set was begun here: its table, and how often it was left and gone on with."""

    table: Annotated[str, Field(max_length=64)]
    left: int = Field(0, ge=0, le=10_000)


class KeptSet(Record):
    """A set that was made or begun here. player is the random number that stands for the player in its results."""

    format: Literal["racktempo set"] = "racktempo set"
    version: int = Field(versions.SET_FILE, ge=1, le=versions.SET_FILE)
    line: Annotated[str, Field(max_length=200)]
    title: Annotated[str, Field(max_length=200)] = ""
    maker: bool = False
    player: str = Field(pattern="^[0-9a-f]{16}$")
    name: Annotated[str, Field(max_length=200)] = ""
    tries: Annotated[tuple[Try, ...], Field(max_length=1000)] = ()

    @property
    def called(self) -> str:
        """Its title, or the first group of its line."""
        return clean_name(self.title, f"Set {self.line[:6]}", TITLE_CELLS)


KEPT: FileCodec[KeptSet] = FileCodec(KeptSet, 256 * 1024, "racktempo set", versions.SET_FILE)


@dataclass(frozen=True, slots=True)
class Offered:
    """A set as it came: by its line, or by a file with a title and perhaps the card."""

    taken: TakeHome
    title: str = ""
    card: str = ""


def sets_folder() -> Path:
    """Return where the sets lie."""
    return data_folder() / "sets"


def folder_of(line: str) -> Path:
    """Return the folder of one set."""
    return sets_folder() / hashlib.sha256(line.encode()).hexdigest()[:16]


def kept_sets() -> tuple[KeptSet, ...]:
    """Return the sets that were made or begun here, the newest first; one that cannot be read is left out."""
    paths = sorted(sets_folder().glob("*/set"), key=lambda path: path.stat().st_mtime_ns, reverse=True)
    return tuple(found for path in paths if (found := _read(path)))


def kept_set(line: str) -> KeptSet | None:
    """Return what is known here of a set."""
    return _read(folder_of(line) / "set")


def keep_set(kept: KeptSet) -> None:
    """Keep what is known of a set. Raises OSError."""
    write_whole(folder_of(kept.line) / "set", KEPT.pack(kept))


def _read(path: Path) -> KeptSet | None:
    with suppress(OSError, BadFrame):
        return KEPT.unpack(read_at_most(path, KEPT.limit))
    return None


# ---- the file of a set


def set_file(taken: TakeHome, title: str, card: str) -> bytes:
    """Return the file that hands a set on: its line and title, and the card's text if its owner shares it."""
    lines = [
        "# A set to take home. Play it: racktempo set play THIS-FILE",
        f"line = {json.dumps(taken.line)}",
        f"title = {json.dumps(title, ensure_ascii=False)}",
    ]
    if shared := told_card(card).text:
        lines.append(f"card = {json.dumps(shared, ensure_ascii=False)}")
    return ("\n".join(lines) + "\n").encode()


def read_offer(text: str) -> Offered | str:
    """Return the set that a line says, or the file that a path names; or one sentence that says what to do."""
    path = Path(text.strip())
    try:
        is_file = path.is_file()
    except (OSError, ValueError):
        is_file = False
    if not is_file:
        is_path = "." in text or "/" in text or "\\" in text
        return f"There is no such file: {text[:60]!r}." if is_path else _offered(text)
    try:
        table = read_table(read_at_most(path, _LONGEST), _LONGEST)
    except OSError as error:
        return f"{path} cannot be read: {describe_error(error)}."
    if isinstance(table, str) or not isinstance(table.get("line"), str):
        return f"{path} is not the file of a set."
    found = _offered(str(table["line"]))
    if isinstance(found, str):
        return f"{path}: {found}"
    title, card = (value if isinstance(value := table.get(name), str) else "" for name in ("title", "card"))
    if card and not told_card(card).digest.startswith(found.taken.card):
        return f"{path} holds another card than its line says. Ask for the file again."
    return Offered(found.taken, clean_name(title, "", TITLE_CELLS), card)


def _offered(line: str) -> Offered | str:
    taken = read_line(line)
    return taken if isinstance(taken, str) else Offered(taken)


def card_for(taken: TakeHome, card: str = "") -> str:
    """Return the text of a set's card: the one given if it is that, else one of this machine; empty if there is none.

    What is found is kept as a version that was played by.
    """
    texts = [card] if card else []
    for name in card_names():
        with suppress(ValueError):
            texts.append(find_card(name).text)
    for path in played_folder().glob(f"{taken.card}*.toml"):
        with suppress(ValueError):
            texts.append(read_file(path).text)
    found = next((text for text in texts if told_card(text).digest.startswith(taken.card)), "")
    keep_played(found)
    return found


def card_wanted(taken: TakeHome, card: str = "") -> str:
    """Return the text of a set's card, like card_for. Raises ValueError with what to do if there is none."""
    if found := card_for(taken, card):
        return found
    raise ValueError(
        "This machine does not have the card of this set. Ask its maker for the card or, if the card is "
        "shared, for the file of the set; put your copy into your cards folder, "
        f"{cards_folder()}."
    )


# ---- making and playing it


def made_here(taken: TakeHome, player: str, title: str, card: str) -> None:
    """Keep a set that was made on this machine, and its card as a version that was played by. Raises OSError."""
    kept = kept_set(taken.line) or KeptSet(line=taken.line, player=player)
    keep_set(kept.model_copy(update={"maker": True, "title": clean_name(title, "", TITLE_CELLS)}))
    keep_played(card)


def begun(taken: TakeHome, table: str, player: str, name: str, title: str = "", goes_on: bool = False) -> None:
    """Note that a set is begun at a table, or gone on with; player is used if none was drawn before. Raises OSError."""
    kept = kept_set(taken.line) or KeptSet(line=taken.line, player=player)
    tries = kept.tries
    if table not in (one.table for one in tries):
        tries = (*tries, Try(table=table))
    if goes_on:
        tries = tuple(Try(table=one.table, left=one.left + (one.table == table)) for one in tries)
    keep_set(kept.model_copy(update={"tries": tries, "name": name, "title": title or kept.title}))


def not_begun(taken: TakeHome, table: str) -> None:
    """Note that no heat was dealt at a table. Raises OSError."""
    if kept := kept_set(taken.line):
        keep_set(kept.model_copy(update={"tries": tuple(one for one in kept.tries if one.table != table)}))


def played_of(kept: KeptSet, number: int, folder: Path | None = None) -> tuple[SavedHeat, ...]:
    """Return the heats of a try (1 for the first one) that are kept, by their number."""
    if not 1 <= number <= len(kept.tries):
        return ()
    table, most = kept.tries[number - 1].table, _most(kept)
    found = {heat.number: heat for heat in _heats(folder) if heat.table_id == table and heat.number <= most}
    return tuple(found[number] for number in sorted(found))


def played_numbers(kept: KeptSet) -> set[int]:
    """Return which heats of a set were played to their end here, in any try."""
    tables, most = {one.table for one in kept.tries}, _most(kept)
    return {heat.number for heat in _heats() if heat.table_id in tables and heat.number <= most}


def _most(kept: KeptSet) -> int:
    taken = read_line(kept.line)
    return taken.settings.heats if isinstance(taken, TakeHome) else 0


def _heats(folder: Path | None = None) -> Iterable[SavedHeat]:
    for path in sorted((folder or heats_folder()).glob("*-take-home-*.heat")):
        with suppress(OSError, BadFrame):
            yield HEAT.unpack(read_at_most(path, HEAT.limit))


def result_of(kept: KeptSet, name: str, number: int = 1, before: Iterable[tuple[str, str]] = ()) -> SetResult | str:
    """Return what is handed in of a try, or a sentence why there is nothing.

    before are commitment and moment of the heats of the player's history: a deal that is among them at an earlier
    moment had been played before.
    """
    heats = played_of(kept, number)
    if not heats:
        return "Nothing of this set has been played to its end here. Play it first: racktempo set play LINE"
    moments: dict[str, list[str]] = {}
    for commitment, moment in before:
        moments.setdefault(commitment, []).append(moment)
    seen = tuple(heat.number for heat in heats if any(at < heat.played_at for at in moments.get(heat.commitment, ())))
    return SetResult(
        line=kept.line,
        player=kept.player,
        name=clean_name(name, "Somebody"),
        number=number,
        tries=len(kept.tries),
        interrupted=kept.tries[number - 1].left,
        seen=seen,
        heats=tuple(map(bare, heats)),
    )


def result_name(kept: KeptSet, result: SetResult) -> str:
    """Return what the file of a result is called; where it is somebody else's, so that two of one name stay apart."""
    which = f"-try-{result.number}" if result.number > 1 else ""
    whose = "" if result.player == kept.player else f"-{result.player[:4]}"
    return f"{file_stem(f'{kept.called} {result.called}')[:60]}{whose}{which}.result"


# ---- what others have handed in


@dataclass(frozen=True, slots=True)
class Results:
    """Results of one set that replay, and for each file that does not count its name and the reason."""

    handed: tuple[Handed, ...]
    refused: tuple[tuple[str, str], ...]


def result_files(paths: Iterable[Path]) -> Iterator[tuple[str, bytes | str]]:
    """Yield the files named, and of each folder those that end like a result: by name, with what lies in them or a
    sentence why that cannot be read."""
    for file in (file for path in paths for file in (sorted(path.glob("*.result")) if path.is_dir() else (path,))):
        try:
            yield file.name, read_at_most(file, RESULT.limit)
        except OSError as error:
            yield file.name, f"It cannot be read: {describe_error(error)}."


def read_results(given: Iterable[tuple[str, bytes | str]], line: str = "") -> Results:
    """Read results, each with its name or refused already with a sentence; all must be of one set, that of the first
    one that can be read.

    With a line they are those of its set, and what is given of other sets is passed over.
    """
    handed, refused = list[Handed](), list[tuple[str, str]]()
    cards: dict[str, str] = {}

    def text_of(data: bytes) -> str:
        with suppress(BadFrame):
            result = RESULT.unpack(data)
            if result.line not in cards:
                taken = read_line(result.line)
                text = "" if isinstance(taken, str) else card_for(taken)
                cards[result.line] = told_card(text).text
            return cards[result.line]
        return ""

    for name, data in given:
        found = data if isinstance(data, str) else read_result(data, partial(complete_by, text_of(data)))
        if isinstance(found, str):
            refused.append((name, found))
        elif found.taken.line != (line or (handed[0].taken.line if handed else found.taken.line)):
            refused += [] if line else [(name, f"It is of another set: {found.taken.line}")]
        else:
            handed.append(found)
    return Results(tuple(handed), tuple(refused))


@lru_cache(maxsize=64)
def complete_by(shared: str, _: str, rack: Rack) -> bool:
    """Say whether a rack is a finished hand of a set's card; none is of a card that is not shared. Everybody's East has
    the same rack, so it is looked at once."""
    return bool(shared) and complete(shared, rack)
