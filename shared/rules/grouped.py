"""A number as groups of letters and digits that people can copy by hand, each with its own check.

A group has six signs; the last one checks the five before it. A wrong sign, or two that changed places, makes its own
group wrong and no other, so that one group has to be copied again and not the line. Pure.
"""

import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass

ALPHABET = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
"""31 signs, a prime number. 0, 1, I, L and O are left out, since they look like each other."""
GROUP = 6
_BASE = len(ALPHABET)
_PLACES = 15
"""Groups so far apart have the same check; the sum over the line finds if they changed places."""
ALL_AGAIN = "Every group fits by itself, but not the line as a whole: copy all of it again."


def groups_of(text: str) -> tuple[str, ...]:
    """Return the groups that somebody typed or pasted; without dashes or spaces, every six characters are one.

    >>> groups_of(" 4kx7q2-m9c3tb "), groups_of("4KX7Q2M9C3TB")
    (('4KX7Q2', 'M9C3TB'), ('4KX7Q2', 'M9C3TB'))
    """
    groups = tuple(re.findall(r"[^\W_]+", text.upper()))
    if len(groups) == 1:
        return tuple(groups[0][at : at + GROUP] for at in range(0, len(groups[0]), GROUP))
    return groups


@dataclass(frozen=True, slots=True)
class Grouped:
    """One kind of line. label and first make its checks differ from those of other kinds; sums is how many sums there
    are over a line, most how many groups it may have, and none what is said of anything else."""

    label: bytes
    first: int
    sums: int
    most: int
    none: str

    def write(self, number: int) -> str:
        """Return a number as groups with dashes between them."""
        number = number * self.sums + self._sum_of(number)
        signs = list[int]()
        while number or len(signs) % (GROUP - 1):
            number, sign = divmod(number, _BASE)
            signs.append(sign)
        parts = [signs[at : at + GROUP - 1] for at in range(0, len(signs), GROUP - 1)]
        groups = [self._checked(part, at, at + 1 == len(parts)) for at, part in enumerate(parts)]
        return "-".join("".join(ALPHABET[sign] for sign in group) for group in groups)

    def wrong(self, text: str) -> tuple[int, ...]:
        """Return the places of the groups, from 0, that cannot be right."""
        groups = groups_of(text)
        return tuple(at for at, group in enumerate(groups) if not self._fits(group, at, at + 1 == len(groups)))

    def read(self, text: str) -> int | str:
        """Return the number of a line, or one sentence that says what to do."""
        text = text[: 10 * self.most * GROUP]
        groups, wrong = groups_of(text), self.wrong(text)
        if not 1 < len(groups) <= self.most or 2 * len(wrong) > len(groups):
            return self.none
        if wrong == (len(groups) - 1,) and self._fits(groups[-1], wrong[0], False):
            last = f"Group {len(groups)} ({groups[-1]})"
            return f"{last} cannot be right, or groups are missing after it: copy the end again."
        if wrong:
            named = " and ".join(f"{at + 1} ({groups[at]})" for at in wrong)
            one = len(wrong) == 1
            return f"Group{'' if one else 's'} {named} cannot be right: copy {'it' if one else 'them'} again."
        number = 0
        for sign in reversed([ALPHABET.index(sign) for group in groups for sign in group[:-1]]):
            number = number * _BASE + sign
        number, total = divmod(number, self.sums)
        return number if total == self._sum_of(number) else ALL_AGAIN

    def _sum_of(self, number: int) -> int:
        return int.from_bytes(hashlib.sha256(self.label + f"{number}".encode()).digest()) % self.sums

    def _rest(self, group: Sequence[int], at: int, is_last: bool) -> int:
        """Return what is missing from a group's weighted sum; each place has a sum of its own, and so has the last."""
        weighed = sum(weight * sign for weight, sign in enumerate(group, 1))
        place = (self.first + at) % _PLACES
        return ((2 * _PLACES - place if is_last else place) - weighed) % _BASE

    def _checked(self, part: Sequence[int], at: int, is_last: bool) -> Sequence[int]:
        return (*part, self._rest(part, at, is_last) * pow(GROUP, -1, _BASE) % _BASE)

    def _fits(self, group: str, at: int, is_last: bool) -> bool:
        is_whole = len(group) == GROUP and all(sign in ALPHABET for sign in group)
        return is_whole and self._rest([ALPHABET.index(sign) for sign in group], at, is_last) == 0
