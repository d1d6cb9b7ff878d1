"""The card of hands as a player looks through it: what is searched, which hand is marked, which one is pinned.

Pure. Must never know a rack: with hints off the card says the same whatever one holds, and so it does here always.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

from shared.cards import Card, Hand, Section
from shared.cards.tell import ToldHand, tell

MOST_TYPED = 30
_GROUP_WORDS = {1: "single", 2: "pair", 3: "pung", 4: "kong", 5: "quint", 6: "sextet"}
_HONOUR_WORDS = {"N": "wind", "E": "wind", "W": "wind", "S": "wind", "R": "dragon", "G": "dragon", "O": "dragon white"}


@dataclass(frozen=True, slots=True)
class CardBrowser:
    """A card being looked through.

    Attributes:
        card: the table's card, None if it has none that can be read.
        missing: why it is not there, if there is more to say of that.
        query: the words looked for; a hand matches if it has them all.
        at: which hand is marked, by its number on the card.
        typing: whether characters go into the query.
        pinned: the id of the hand that stays in sight, "" for none.
    """

    card: Card | None = None
    query: str = ""
    at: int = 0
    typing: bool = False
    pinned: str = ""
    missing: str = ""

    @property
    def hands(self) -> tuple[Hand, ...]:
        """All hands of the card."""
        return self.card.hands if self.card else ()

    @property
    def told(self) -> tuple[ToldHand, ...]:
        """All hands of the card as they are shown."""
        return tell(self.card) if self.card else ()

    @property
    def sections(self) -> tuple[Section, ...]:
        """All sections of the card."""
        return self.card.sections if self.card else ()

    @property
    def marked(self) -> Hand | None:
        """The marked hand; None if nothing matches."""
        return self.hands[self.at] if self.at in self.matches() else None

    @property
    def section(self) -> str:
        """The section of the marked hand."""
        return self.marked.section if self.marked else ""

    @property
    def told_pinned(self) -> ToldHand | None:
        """The pinned hand as it is shown."""
        return next((told for told in self.told if told.hand.id == self.pinned), None)

    def matches(self) -> tuple[int, ...]:
        """Return the numbers of the hands that match the query."""
        words = self.query.lower().split()
        if not words:
            return tuple(range(len(self.hands)))
        found_by = _words_of(self.card) if self.card else ()
        return tuple(number for number, found in enumerate(found_by) if all(word in found for word in words))

    def listed(self) -> tuple[int, ...]:
        """Return the hands to show: all matches of a query, else the section of the marked hand."""
        matches = self.matches()
        if self.query.strip():
            return matches
        return tuple(number for number in matches if self.hands[number].section == self.section)

    def moved(self, by: int) -> "CardBrowser":
        """Return the pane with another matching hand marked, stopping at the ends."""
        matches = self.matches()
        if self.at not in matches:
            return self.marking(matches[0]) if matches else self
        place = matches.index(self.at) + by
        return replace(self, at=matches[max(0, min(place, len(matches) - 1))])

    def marking(self, number: int) -> "CardBrowser":
        """Return the pane with this hand marked."""
        return replace(self, at=max(0, min(number, len(self.hands) - 1)))

    def in_section(self, number: int) -> "CardBrowser":
        """Return the pane at the first hand of a section that matches the query, if there is one."""
        if not self.sections:
            return self
        name = self.sections[number % len(self.sections)].name
        first = next((match for match in self.matches() if self.hands[match].section == name), None)
        return self if first is None else self.marking(first)

    def next_section(self) -> "CardBrowser":
        """Return the pane in the next section that has a match."""
        names = [section.name for section in self.sections]
        here = names.index(self.section) if self.section in names else -1
        for step in range(1, len(names) + 1):
            there = self.in_section(here + step)
            if there.section != self.section:
                return there
        return self

    def typed(self, text: str) -> "CardBrowser":
        """Return the pane with more of the query; the first match is marked if the marked hand is none."""
        return self._asking((self.query + text)[:MOST_TYPED])

    def erased(self) -> "CardBrowser":
        """Return the pane with the last character of the query gone."""
        return self._asking(self.query[:-1])

    def finding(self) -> "CardBrowser":
        """Return the pane with a new query begun."""
        return replace(self._asking(""), typing=True)

    def cleared(self) -> "CardBrowser":
        """Return the pane with no query, on the hand that was marked."""
        return replace(self, query="", typing=False)

    def pinning(self) -> "CardBrowser":
        """Return the pane with the marked hand pinned, or unpinned if it was."""
        if self.marked is None:
            return self
        return replace(self, pinned="" if self.marked.id == self.pinned else self.marked.id)

    def press(self, key: str) -> "CardBrowser | None":
        """Return what a key of the card makes of the pane; None if the key is none of the card's.

        While typing, every character goes into the query and moves no tile. A click on a hand is "hand N", on a
        section "section N".
        """
        if self.typing:
            return self._typed_key(key)
        word, _, number = key.partition(" ")
        match word:
            case "up" | "down":
                return self.moved(1 if key == "down" else -1)
            case "z":
                return self.next_section()
            case "w":
                return self.finding()
            case "r":
                return self.pinning()
            case "hand" if number:
                return self.marking(int(number)).pinning()
            case "section" if number:
                return self.cleared().in_section(int(number))
        return None

    def _typed_key(self, key: str) -> "CardBrowser | None":
        match key:
            case "enter":
                chosen = self.cleared()
                return chosen if self.marked is None or self.marked.id == self.pinned else chosen.pinning()
            case "escape":
                return self.cleared()
            case "up" | "down":
                return self.moved(1 if key == "down" else -1)
            case "backspace":
                return self.erased()
            case "space":
                return self.typed(" ")
            case _ if len(key) == 1:
                return self.typed(key)
            case _ if key.startswith(("hand ", "section ")):
                return self.cleared().press(key)
        return self  # no other key acts while somebody types

    def _asking(self, query: str) -> "CardBrowser":
        asked = replace(self, query=query)
        matches = asked.matches()
        return asked if asked.at in matches or not matches else asked.marking(matches[0])


@lru_cache(maxsize=8)
def _words_of(card: Card) -> tuple[str, ...]:
    """Return for each hand every word that finds it: what the card shows of it, and the trade's words for it."""
    return tuple(_words(told) for told in tell(card))


def _words(told: ToldHand) -> str:
    blocks = [block for row in told.rows for block in row.picture.blocks]
    alike = [block for block in blocks if len({cell.sign for cell in block.cells}) == 1]
    words = [_GROUP_WORDS.get(len(block.cells), "") for block in alike]
    words += [_HONOUR_WORDS.get(block.cells[0].tile, "") for block in alike]
    words += ["year"] if any("0" in block.text() for block in blocks) else []
    concealed = "concealed" if told.hand.concealed else "exposed"
    return f"{told.hand.section} {told.name} {told.tiles} {told.ear} {concealed} {' '.join(words)}".lower()
