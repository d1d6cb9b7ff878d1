"""Cards of hands on this machine: the two that come with racktempo, the player's own, and any file.

A player's own cards lie in the config folder, one TOML file each, and are called by the file's name without its
ending. Of a card that is not shared every version by which a table was opened is kept here, called by its digest, since
neither tables nor heats hold its text. What a card may hold is the business of shared.cards.
The card writer reads and writes one file as a whole.
"""

import os
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock

from client.storage.files import config_folder, data_folder, read_at_most, write_whole
from shared.cards import Card, Fault, read_card
from shared.cards.draft import Draft, read_draft
from shared.cards.owned import is_copy, told_card
from shared.cards.play import MAX_TEXT_BYTES, SHIPPED, shipped_text
from shared.rules.heat import SavedHeat
from shared.rules.seat_heat import SeatHeat
from shared.toml import MAX_BYTES
from shared.troubles import describe_error

PRACTICE = "practice"
NEW = "my card"
"""What a card is called that somebody begins without naming it."""
NO_COMMENTS = "Comments in the file are not kept once something is written here."
Stamp = tuple[int, int, int] | None
"""What tells that a file was changed: its inode, time and size; None if there is no file."""


class BadCard(ValueError):
    """A card that cannot be had; faults are sentences, each with its place, in the order of the file.

    faults name the file each time, told does not.
    """

    def __init__(self, where: str, *faults: Fault | str) -> None:
        """Take where the card was looked for, and what is wrong with it."""
        self.told = tuple(map(str, faults))
        self.faults = tuple(f"{where}: {fault}" for fault in faults)
        super().__init__("\n".join(self.faults))


@dataclass(frozen=True, slots=True)
class CardFile:
    """A card that can be read: its text as a table takes it, and what the text says."""

    text: str
    card: Card


def cards_folder() -> Path:
    """Return where the player's own cards lie."""
    return config_folder() / "cards"


def card_names(folder: Path | None = None) -> tuple[str, ...]:
    """Return the names of all cards that can be had by name: first those that come with racktempo."""
    own = sorted(path.stem for path in (folder or cards_folder()).glob("*.toml"))
    return (*SHIPPED, *(name for name in own if name not in SHIPPED))


def find_card(name: str = PRACTICE, folder: Path | None = None) -> CardFile:
    """Return a card by the path of its file, or by its name.

    Raises:
        BadCard: there is none, or everything that is wrong with it.
    """
    if name in SHIPPED and not os.path.isfile(name):
        return read_text(name, shipped_text(name).encode())
    path, folder = Path(name), folder or cards_folder()
    own = folder / f"{name}.toml"
    if not os.path.isfile(path) and os.path.lexists(own):
        return read_file(own)
    try:
        os.lstat(path)
    except FileNotFoundError as error:
        told = f"There is no such file, and no card of this name in your cards folder, {folder}."
        raise BadCard(name, told) from error
    except OSError as error:
        raise BadCard(name, f"The card cannot be read: {describe_error(error)}.") from error
    return read_file(path)


def read_file(path: Path) -> CardFile:
    """Return the card in a file.

    Raises:
        BadCard: everything that is wrong with it.
    """
    try:
        data = read_at_most(path, MAX_BYTES)
    except OSError as error:
        raise BadCard(str(path), f"The card cannot be read: {describe_error(error)}.") from error
    return read_text(str(path), data)


def read_text(where: str, data: bytes) -> CardFile:
    """Return the card in bytes that were found somewhere.

    Raises:
        BadCard: everything that is wrong with it.
    """
    card = read_card(data)
    if not isinstance(card, Card):
        raise BadCard(where, *card)
    return CardFile(data.decode("utf-8-sig"), card)


def table_card(name: str | None) -> str:
    """Return the text of a card that a table is to play by; empty for the practice card.

    Raises:
        BadCard: it cannot be had, or it is longer than a table takes.
    """
    if name is None:
        return ""
    text = find_card(name).text
    if len(text.encode()) > MAX_TEXT_BYTES:
        limit = MAX_TEXT_BYTES // 1024
        raise BadCard(name, f"The card has {len(text.encode())} bytes; a table takes {limit} KiB. Write shorter notes.")
    return text


def played_folder() -> Path:
    """Return where the versions of cards lie by which tables were opened."""
    return data_folder() / "cards-played"


def keep_played(text: str) -> None:
    """Keep the version of a card by which a table is opened, unless tables and heats hold it themselves.

    A disk that cannot be written keeps nobody from playing; whoever reviews such a heat is asked for the card.
    """
    told = told_card(text)
    path = played_folder() / f"{told.digest}.toml"
    if told.digest and not told.text and not path.exists():
        with suppress(OSError):
            write_whole(path, text.encode())


def find_played(digest: str) -> str:
    """Return the text of a card by its digest: a version that was played by, else one of the cards that are here.

    Every card of one's own is read; whoever must not wait asks in a thread. Empty if there is none. What is found is
    kept as a version that was played by.
    """
    if not digest:
        return ""
    here = [played_folder() / f"{digest}.toml", *sorted(cards_folder().glob("*.toml"))]
    texts = (text for path in here if (text := _text_or_nothing(path)))
    shipped = (shipped_text(name) for name in SHIPPED)
    text = next((text for found in (texts, shipped) for text in found if is_copy(text, digest)), "")
    keep_played(text)
    return text


def text_for(heat: SavedHeat | SeatHeat) -> str:
    """Return the text of the card that a heat was played by: its own, the practice card's if it says none, else
    what is found on this machine; empty if that is nothing."""
    if heat.card or not heat.card_digest:
        return heat.card or shipped_text()
    return find_played(heat.card_digest)


def _text_or_nothing(path: Path) -> str:
    try:
        return read_file(path).text
    except BadCard:
        return ""


@dataclass(slots=True)
class WrittenFile:
    """The file of a card that is being written here, and perhaps by somebody else in an editor.

    Every write is whole, and none goes over what somebody else has changed. Safe to use from several threads.
    """

    path: Path
    _known: bytes = b""
    _stamp: Stamp = None
    _lock: Lock = field(default_factory=Lock)

    def changed(self) -> bytes | None:
        """Return what the file holds if somebody else has changed it since it was last read or written.

        A file that was deleted has not changed: the next write makes it anew.

        Raises:
            BadCard: it cannot be read.
        """
        with self._lock:
            return self._changed()

    def write(self, text: str, over: bool = False) -> bool:
        """Write the file whole; with `over` also if somebody else has changed it. Say whether it was written.

        Raises:
            BadCard: it could not be written, or read before; nothing changed.
        """
        with self._lock:
            stamp, known = self._stamp, self._known
            if not over and self._changed() is not None:
                self._stamp, self._known = stamp, known  # whoever asks next is still told of the change
                return False
            data = text.encode()
            try:
                write_whole(self.path, data)
            except OSError as error:
                raise BadCard(str(self.path), f"The card could not be saved: {describe_error(error)}.") from error
            self._known, self._stamp = data, _stamp(self.path)
            return True

    @property
    def has_comments(self) -> bool:
        """Whether somebody has written comments into the file, which the writer does not keep."""
        return any(line.lstrip().startswith(b"#") for line in self._known.splitlines())

    def forget(self) -> None:
        """Look at the file again next time, as if it had just been changed."""
        with self._lock:
            self._known, self._stamp = b"", None

    def _changed(self) -> bytes | None:
        stamp = _stamp(self.path)
        if stamp is None or stamp == self._stamp:
            return None
        try:
            data = read_at_most(self.path, MAX_BYTES)
        except OSError as error:
            raise BadCard(str(self.path), f"The card cannot be read: {describe_error(error)}.") from error
        is_same, self._known, self._stamp = data == self._known, data, stamp
        return None if is_same else data


def _stamp(path: Path) -> Stamp:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_ino, found.st_mtime_ns, found.st_size


def file_to_write(name: str | None = None, folder: Path | None = None) -> WrittenFile:
    """Return the file to write a card in, by its path or its name; without either the card that was written last.

    Raises:
        BadCard: the name cannot be that of a card of one's own.
    """
    folder = folder or cards_folder()
    if name is None:
        own = [path for path in folder.glob("*.toml") if path.stem not in SHIPPED]
        latest = max(own, key=lambda path: path.stat().st_mtime_ns, default=folder / f"{NEW}.toml")
        return WrittenFile(latest)
    if name.endswith(".toml") or os.path.dirname(name):
        return WrittenFile(Path(name))
    if name in SHIPPED:
        raise BadCard(name, "This card comes with racktempo and stays as it is. Write one of your own by another name.")
    if not name.isprintable() or not name.strip() or name.startswith(".") or len(f"{name}.toml".encode()) > 255:
        raise BadCard(name, "A file cannot have this name. Use letters, digits and spaces.")
    return WrittenFile(folder / f"{name}.toml")


def fresh_name(folder: Path | None = None) -> str:
    """Return a name for a new card that no other card has: "my card", "my card 2"."""
    taken, number = set(card_names(folder)), 1
    while (name := NEW if number == 1 else f"{NEW} {number}") in taken:
        number += 1
    return name


def begin_card(file: WrittenFile, year: int) -> Draft:
    """Return the card in a file that is to be written, or a new one named after the file.

    Raises:
        BadCard: everything that is wrong with it; it is to be mended in an editor first.
    """
    data = file.changed()
    if data is None:
        title = file.path.stem[:60]
        return Draft(title[:1].upper() + title[1:], year)
    draft = read_draft(data)
    if isinstance(draft, Draft):
        return draft
    raise BadCard(str(file.path), *draft)
