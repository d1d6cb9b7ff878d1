"""What seats give away in a play-out, and what a rack is worth at its end: the first release's way, compiled."""

from tests.bench.game.compiled import compiled
from tests.bench.regret.deck import KIND_COUNT, MOST_SHORT, OUTLOOK, POINTS, STEPS, Deck, Floats, Ints, Paper

_JOKER = KIND_COUNT - 1
_PASS = 3
_NEAR, _CLOSE, _AT_THE_END = 24, 12, 50
"""Nearest variants whose chance is worked out, the likeliest of them that choose, and those that are looked at last."""
_UNKNOWN = 2.0
"""No loss of a chance is as great."""


@compiled
def measure(deck: Deck, paper: Paper, rack: Ints) -> None:
    """Work out how far the rack is from every variant."""
    both, pairs, far = paper.both, paper.pairs, paper.far
    jokers = rack[_JOKER]
    for variant in range(len(both)):
        both[variant] = deck.both[variant] - jokers
        pairs[variant] = deck.pairs[variant]
    for kind in range(_JOKER):
        held = rack[kind]
        if held:
            from_both, from_pairs = deck.takes_both[kind, held], deck.takes_pairs[kind, held]
            for variant in range(len(both)):
                both[variant] -= from_both[variant]
                pairs[variant] -= from_pairs[variant]
    for variant in range(len(both)):
        far[variant] = max(both[variant], pairs[variant])


@compiled
def softened(deck: Deck, paper: Paper, rack: Ints, lots: Ints, given: Ints) -> None:
    """Write down what a softened greedy seat gives: the three tiles it misses least, each alone, ties by lot."""
    measure(deck, paper, rack)
    far, weights, in_groups = paper.far, paper.weight, paper.weight_in_groups
    least = far[0]
    for variant in range(len(far)):
        least = min(least, far[variant])
    for variant in range(len(far)):
        weight = deck.weight[far[variant] - least]
        weights[variant] = weight
        in_groups[variant] = weight if paper.both[variant] == far[variant] else 0  # else it has jokers to spare
    for kind in range(_JOKER):
        missed = 0
        if rack[kind]:
            start, middle, end = deck.spans[kind, rack[kind]]
            for place in range(start, middle):
                missed += weights[deck.wanting[place]]
            for place in range(middle, end):
                missed += in_groups[deck.wanting[place]]
        paper.missed[kind] = missed
        given[kind] = 0
    given[_JOKER] = 0
    left = _PASS
    while left:
        best = -1
        for kind in range(_JOKER):
            if rack[kind] > given[kind] and (
                best < 0
                or paper.missed[kind] < paper.missed[best]
                or (paper.missed[kind] == paper.missed[best] and lots[kind] < lots[best])
            ):
                best = kind
        given[best] = min(left, rack[best])
        left -= given[best]


@compiled
def look(deck: Deck, paper: Paper, rack: Ints, passed: Ints, later: int) -> int:
    """Count what a seat has not seen, and return its outlook with so many passes to come."""
    seen = 0
    for kind in range(KIND_COUNT):
        known = min(rack[kind] + passed[kind], deck.full[kind])
        paper.unseen[kind] = deck.full[kind] - known
        seen += known
    jokers = rack[_JOKER]
    most = 14 + _PASS * (STEPS - later)
    return int(deck.outlook[later, jokers, most - seen])


@compiled
def chance(deck: Deck, paper: Paper, outlook: int, variant: int, rack: Ints, gone: int) -> float:
    """Return the chance that a rack completes a variant, with one tile of the kind `gone` (-1 for none) away.

    As in the first release: see its chance.py. Kinds that are short in groups come last.
    """
    return _chance(
        deck.kinds[variant],
        deck.in_pairs[variant],
        deck.in_groups[variant],
        deck.table,
        deck.tail,
        paper.unseen,
        paper.state,
        paper.short,
        deck.slots[variant],
        deck.centre[outlook] * deck.sorts,
        outlook * OUTLOOK,
        deck.most_groups + 1,
        rack,
        gone,
    )


@compiled
def _chance(
    kinds: Ints,
    in_pairs: Ints,
    in_groups: Ints,
    table: Floats,
    tail: Floats,
    unseen: Ints,
    state: Floats,
    short: Ints,
    slots: int,
    sorts: int,
    outlook: int,
    sizes: int,
    rack: Ints,
    gone: int,
) -> float:
    jokers, groups = rack[_JOKER], 0
    for point in range(POINTS):
        state[point] = 1.0
    for slot in range(slots):
        kind = kinds[slot]
        held = rack[kind] - (1 if kind == gone else 0)
        pair_short = max(in_pairs[slot] - held, 0)
        if in_groups[slot] > max(held - in_pairs[slot], 0):
            short[groups] = slot
            groups += 1
        elif pair_short:
            if unseen[kind] < pair_short:
                return 0.0
            factor = (sorts + pair_short * sizes * 9 + unseen[kind]) * sizes * POINTS
            for point in range(POINTS):
                state[point] *= table[factor + point]
    height = 1
    for place in range(groups):
        slot = short[place]
        kind = kinds[slot]
        held = rack[kind] - (1 if kind == gone else 0)
        group_short = in_groups[slot] - max(held - in_pairs[slot], 0)
        pair_short = max(in_pairs[slot] - held, 0)
        factor = (sorts + (pair_short * sizes + group_short) * 9 + unseen[kind]) * sizes * POINTS
        grown = min(height + group_short, MOST_SHORT + 1)
        for left in range(grown - 1, -1, -1):
            a = b = c = d = e = f = g = h = 0.0  # one for each point: numba does these together, a loop it does not
            for more in range(max(left - height + 1, 0), min(left, group_short) + 1):
                i, j = (left - more) * POINTS, factor + more * POINTS
                a += state[i] * table[j]
                b += state[i + 1] * table[j + 1]
                c += state[i + 2] * table[j + 2]
                d += state[i + 3] * table[j + 3]
                e += state[i + 4] * table[j + 4]
                f += state[i + 5] * table[j + 5]
                g += state[i + 6] * table[j + 6]
                h += state[i + 7] * table[j + 7]
            i = left * POINTS
            state[i], state[i + 1], state[i + 2], state[i + 3] = a, b, c, d
            state[i + 4], state[i + 5], state[i + 6], state[i + 7] = e, f, g, h
        height = grown
    total = 0.0
    for left in range(height):
        needed = outlook + max(left - jokers, 0) * POINTS
        for point in range(POINTS):
            total += state[left * POINTS + point] * tail[needed + point]
    return min(max(total, 0.0), 1.0)


@compiled
def find_near(paper: Paper, most: int) -> int:
    """Write down the nearest variants, nearest first, those alike in the order of the card, and return how many."""
    keys, near, far = paper.keys, paper.near, paper.far
    keys[:] = 0
    for variant in range(len(far)):
        keys[4 * far[variant] + paper.pairs[variant]] += 1
    place, last = 0, 0
    for key in range(len(keys)):  # from how many there are to where the first of them goes
        number = keys[key]
        keys[key] = place
        place += number
        if place - number < most:
            last = key
    for variant in range(len(far)):
        key = 4 * far[variant] + paper.pairs[variant]
        if key <= last:
            if keys[key] < most:
                near[keys[key]] = variant
            keys[key] += 1
    return min(most, len(far))


@compiled
def least_missed(deck: Deck, paper: Paper, rack: Ints, passed: Ints, later: int, given: Ints) -> None:
    """Write down the three tiles that a rack misses least, one after the other, each with the others gone.

    The first release's quick policy: chances of the best variants count by their twelfth power.
    """
    outlook = look(deck, paper, rack, passed, later)
    measure(deck, paper, rack)
    near, chances, loss = paper.near, paper.chance, paper.loss
    count = find_near(paper, min(_NEAR, len(near)))
    for place in range(count):
        chances[place] = chance(deck, paper, outlook, near[place], rack, -1)
    close = min(_CLOSE, count)
    for place in range(close):
        best = place
        for other in range(place + 1, count):
            if chances[other] > chances[best]:
                best = other
        variant, found = near[best], chances[best]
        for other in range(best, place, -1):
            near[other], chances[other] = near[other - 1], chances[other - 1]
        near[place], chances[place] = variant, found
        loss[place] = _UNKNOWN
    given[:] = 0
    for _ in range(_PASS):
        best = _least(deck, paper, outlook, rack, close)
        for place in range(close):
            variant = near[place]
            for slot in range(deck.slots[variant]):
                wanted = deck.in_pairs[variant, slot] + deck.in_groups[variant, slot]
                if deck.kinds[variant, slot] == best and rack[best] <= wanted:
                    chances[place] = chance(deck, paper, outlook, variant, rack, best)
                    loss[place] = _UNKNOWN
        rack[best] -= 1
        given[best] += 1
    for kind in range(_JOKER):
        rack[kind] += given[kind]


@compiled
def _least(deck: Deck, paper: Paper, outlook: int, rack: Ints, close: int) -> int:
    """Return the kind of which the close variants miss a tile least.

    What is certainly missed more than another kind, whatever the variants left over say, is not looked at further.
    """
    near, chances, loss, lost = paper.near, paper.chance, paper.loss, paper.lost
    left = 0.0
    for place in range(close):
        left += _power(chances[place])
    lost[:] = 0.0
    limit, best = left, -1
    for place in range(close):
        variant, now = near[place], _power(chances[place])
        for slot in range(deck.slots[variant]):
            kind = deck.kinds[variant, slot]
            if 0 < rack[kind] <= deck.in_pairs[variant, slot] + deck.in_groups[variant, slot] and lost[kind] <= limit:
                if loss[place, slot] == _UNKNOWN:
                    loss[place, slot] = now - _power(chance(deck, paper, outlook, variant, rack, kind))
                lost[kind] += loss[place, slot]
        left -= now
        best = -1
        for kind in range(_JOKER):
            if rack[kind] and (best < 0 or lost[kind] < lost[best]):
                best = kind
        limit = lost[best] + left
    return best


@compiled
def _power(number: float) -> float:
    fourth = number * number * number * number
    return fourth * fourth * fourth


@compiled
def committed(deck: Deck, paper: Paper, rack: Ints, passed: Ints, later: int) -> float:
    """Return the greatest finish chance of a rack, one target held to the end, in points."""
    outlook = look(deck, paper, rack, passed, later)
    measure(deck, paper, rack)
    best = 0.0
    for place in range(find_near(paper, min(_AT_THE_END, len(paper.near)))):
        best = max(best, chance(deck, paper, outlook, paper.near[place], rack, -1))
    return 100 * best
