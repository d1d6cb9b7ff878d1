"""The rules of the simulator, one by one, in games that are laid out so that the rule decides.

Three seats go for a ladder in a suit of their own, one tile short of it, and the tile they lack lies at the end of the
wall; so they throw away whatever else comes.
"""

import numpy as np
import pytest

from shared.rules.tiles import INDEX
from tests.bench.first_release import charlestons, distance
from tests.bench.first_release.release import card, engine
from tests.bench.game.hands import JOKER_KIND, hands_of
from tests.bench.game.laid import card_of, ladder, lay, told, watched
from tests.bench.game.play import How
from tests.bench.game.table import SEATS, away, change, count_short, finished, finished_with, may_show, new_table, show

WINDS = "N^3 E^3 W^4 S^4"
PAIRS = "N^2 E^2 W^2 S^2 R^2 G^2 O^2"


def test_the_dealer_discards_first_and_then_each_seat_draws_and_discards_in_turn() -> None:
    racks, wall = lay((f"{ladder('b')} N", ladder("c"), "R R G G", ladder("d")), "E W S")
    _, record = watched(card_of(WINDS), racks, wall)
    assert told(record, 4) == ["0 discards N", "1 draws E", "1 discards E", "2 draws W"]


def test_a_discard_is_called_for_a_group_which_is_shown_and_the_turn_goes_on_from_there() -> None:
    racks, wall = lay((f"{ladder('b')} N", ladder("c"), "N N E E W W W S S S 9d", ladder("d")), "R")
    _, record = watched(card_of(WINDS), racks, wall)
    moves = told(record, 4)
    assert moves[:2] == ["0 discards N", "2 shows N 3 with 0"]
    assert moves[2].startswith("2 discards")
    assert moves[3] == "3 draws R"


def test_a_called_group_may_hold_jokers() -> None:
    racks, wall = lay((f"{ladder('b')} N", ladder("c"), "N J E E W W W S S S 9d", ladder("d")))
    _, record = watched(card_of(WINDS), racks, wall)
    assert told(record, 2) == ["0 discards N", "2 shows N 3 with 1"]


def test_naturals_and_jokers_must_make_the_whole_group() -> None:
    racks, wall = lay((f"{ladder('b')} N", ladder("c"), "N E E E W W W S S S 9d", ladder("d")), "R")
    _, record = watched(card_of(WINDS), racks, wall)
    assert told(record, 2) == ["0 discards N", "1 draws R"]


@pytest.mark.parametrize("hand", ["N^2 E^4 W^4 S^4", "N^1 E^4 W^4 S^3 F^2"])
def test_nothing_is_called_for_a_single_or_a_pair_before_it_is_the_last_tile(hand: str) -> None:
    racks, wall = lay((f"{ladder('b')} N", ladder("c"), "E E E E W W W S S S J 9d 9d", ladder("d")), "R")
    _, record = watched(card_of(hand), racks, wall)
    assert told(record, 2) == ["0 discards N", "1 draws R"]


def test_the_last_tile_of_a_hand_may_be_called_for_a_pair() -> None:
    racks, wall = lay((f"{ladder('b')} N", ladder("c"), "N E E E E W W W W S S S S", ladder("d")))
    game, record = watched(card_of("N^2 E^4 W^4 S^4"), racks, wall)
    assert told(record) == ["0 discards N", "2 wins by a call"]
    assert game.winner[0] == 2


def test_nothing_is_shown_of_a_concealed_hand() -> None:
    racks, wall = lay((f"{ladder('b')} N", ladder("c"), "N N E E W W W S S S 9d", ladder("d")), "R")
    _, record = watched(card_of(f"{WINDS} C"), racks, wall)
    assert told(record, 2) == ["0 discards N", "1 draws R"]


def test_the_last_tile_of_a_concealed_hand_may_be_called() -> None:
    racks, wall = lay((f"{ladder('b')} N", ladder("c"), "N N E E E W W W W S S S S", ladder("d")))
    _, record = watched(card_of(f"{WINDS} C"), racks, wall)
    assert told(record) == ["0 discards N", "2 wins by a call"]


def test_a_discarded_joker_is_dead() -> None:
    pairs = "1.p^2 2.p^2 3.p^2 4.p^2 5.p^2 6.p^2 7.p^2"
    racks, wall = lay(("1b 1b 2b 2b 3b 3b 4b 4b 5b 5b 6b 6b 7b J", "", "N N E E E W W W W S S S S", ladder("d")), "R")
    _, record = watched(card_of(WINDS, pairs), racks, wall)
    assert told(record, 2) == ["0 discards J", "1 draws R"]


def test_jokers_stand_in_groups_and_never_in_a_pair() -> None:
    racks, wall = lay(("N N E E E W W W J J S S S S", ladder("c"), "", ladder("d")))
    game, record = watched(card_of(WINDS), racks, wall)
    assert told(record) == ["0 wins on its turn"]
    assert game.jokers[0] == 2
    racks, wall = lay(("N J E E E E W W W W S S S S", ladder("c"), "", ladder("d")))
    assert told(watched(card_of("N^2 E^4 W^4 S^4"), racks, wall)[1], 1) != ["0 wins on its turn"]


def test_naturals_serve_the_pair_first() -> None:
    racks, wall = lay(("N N J J J E E E E F F F F F", "", "", ""))
    assert told(watched(card_of("N^2 N^3 E^4 F^5"), racks, wall)[1]) == ["0 wins on its turn"]
    racks, wall = lay(("N J J J J E E E E F F F F F", "", "", ""))
    assert told(watched(card_of("N^2 N^3 E^4 F^5"), racks, wall)[1], 1) != ["0 wins on its turn"]


def test_a_shown_group_is_final() -> None:
    hands = hands_of(card_of("N^3 E^3 W^4 S^4", "N^4 E^3 W^4 S^3"))
    racks, wall = lay(("", "", "N N N E E E W W W S S S", ""))
    table = new_table(hands, racks.astype(np.int32), wall)
    north, two = INDEX["N"], 2
    both = [variant for variant in range(len(hands.hand)) if hands.hand[variant] < two]
    assert [bool(table.alive[2, variant]) for variant in both] == [True, True]
    show(hands, table, 2, north, 3, 0)
    assert [bool(table.alive[2, variant]) for variant in both] == [True, False]
    assert table.alive[2].sum() == 1, "the ladder has no such group"
    assert (table.held[2, north], table.shown[2, north], table.out[north]) == (1, 3, 2)
    assert not may_show(hands, table, 2, both[0], north, 3), "the hand has one such group, and it is shown"
    assert away(table, 2, both[0]) == 2


def test_two_groups_of_one_kind_can_both_be_shown() -> None:
    hands = hands_of(card_of("F^4 F^4 E^3 W^3"))
    racks, wall = lay(("", "F F F F F F E E E W W W", "", ""))
    table = new_table(hands, racks.astype(np.int32), wall)
    flower = INDEX["F"]
    for left in (True, False):
        show(hands, table, 1, flower, 4, 0)
        assert may_show(hands, table, 1, 0, flower, 4) == left
    assert table.alive[1, 0]


def test_a_natural_is_exchanged_for_a_joker_in_anybodys_group_on_ones_own_turn() -> None:
    # Seat 2 shows three norths with a joker. Seat 3 has the fourth north and a ladder that lacks its last tile.
    racks, wall = lay((f"{ladder('b')} N", ladder("c"), "N J E E W W W S S S 9d", f"{ladder('d', 12)} N"), "R R R")
    game, record = watched(card_of(WINDS), racks, wall)
    moves = told(record, 8)
    assert moves[1] == "2 shows N 3 with 1"
    assert moves[3:6] == ["3 draws R", "3 gives N for a joker of 2", "3 discards R"]
    assert game.exchanges[0].tolist()[3] == 1


def test_a_seat_may_fetch_the_joker_of_its_own_group() -> None:
    racks, wall = lay((f"{ladder('b')} N", ladder("c"), "N J E E E W W W S S S S 9d", ladder("d")), "R R R N")
    _, record = watched(card_of(WINDS), racks, wall)
    moves = told(record, 14)
    assert "2 gives N for a joker of 2" in moves
    assert "2 wins on its turn" in moves


def test_the_last_tile_goes_before_a_group() -> None:
    racks, wall = lay((f"{ladder('b')} N", "N N E W W W S S R R G G 9d", ladder("d"), "N E E E W F F F F F F F F"))
    game, record = watched(card_of(WINDS, "N^2 E^3 W^1 F^8"), racks, wall)
    assert told(record) == ["0 discards N", "3 wins by a call"]
    assert game.winner[0] == 3


def test_of_two_seats_with_the_same_right_the_next_in_turn_has_it() -> None:
    third = "N^2 R^4 G^4 O^4"
    rack = "N R R R R G G G G O O O O"
    other = "N E E E E F F F F F F F F"
    for first, second in ((rack, other), (other, rack)):
        racks, wall = lay((f"{ladder('b')} N", ladder("c"), first, second))
        assert told(watched(card_of(third, "N^2 E^4 F^8"), racks, wall)[1]) == ["0 discards N", "2 wins by a call"]
    east = ("E^4 N^3 W^4 R^3", "E^4 N^3 S^4 G^3")
    holds = ("N N W W W R R 9d", "N J S S S G G 9c")
    for first, second in (holds, holds[::-1]):
        racks, wall = lay((f"{ladder('b')} N", ladder("c"), first, second))
        assert told(watched(card_of(*east), racks, wall)[1], 2)[1].startswith("2 shows N 3")


def test_the_empty_wall_ends_a_game_that_nobody_can_finish() -> None:
    honours = "N E W S R G O"  # one of each on every rack, and nobody lets one go
    racks, wall = lay((honours, honours, honours, honours))
    game, record = watched(card_of(PAIRS, with_ladder=False), racks, wall)
    assert (game.winner[0], game.how[0], game.draws.sum()) == (-1, How.WALL, 99)
    assert game.draws[0].tolist() == [24, 25, 25, 25]
    assert told(record, 999)[-1] == "the wall is empty"


def test_the_last_discard_may_still_be_called_when_the_wall_is_empty() -> None:
    lacks_a_north, lacks_a_soap = "N E E W W S S R R G G O O", "N N E E W W S S R R G G O"
    racks, wall = lay(("", lacks_a_north, "", lacks_a_soap), last="O N")
    game, record = watched(card_of(PAIRS, with_ladder=False), racks, wall)
    assert told(record, 999)[-3:] == ["3 draws N", "3 discards N", "1 wins by a call"]
    assert game.draws.sum() == 99


def test_shortages_kept_up_are_those_counted_anew() -> None:
    hands = hands_of(card())
    rng = np.random.Generator(np.random.PCG64(2))
    racks = charlestons.deal(rng, 1)[0].astype(np.int32)
    table = new_table(hands, racks, np.zeros(0, dtype=np.int32))
    kind = int(hands.group_kind[hands.group_size[:, 0] == 3][0, 0])
    table.held[1, JOKER_KIND] += 2
    show(hands, table, 1, kind, 3, 2)
    for _ in range(40):
        kind, more = int(rng.integers(36)), int(rng.choice([-1, 1]))
        if 0 <= table.held[1, kind] + more <= 4:
            change(hands, table, 1, kind, more)
    alive = table.alive[1]
    kept = table.single_short[1, alive].copy(), table.group_short[1, alive].copy()
    count_short(hands, table, 1)
    assert kept[0].tolist() == table.single_short[1, alive].tolist()
    assert kept[1].tolist() == table.group_short[1, alive].tolist()
    assert alive.sum() > 20


def test_tiles_away_agree_with_the_coachs_own_arithmetic() -> None:
    hands = hands_of(card())
    assert len(hands.hand) == len(engine().patterns)
    racks = charlestons.deal(np.random.Generator(np.random.PCG64(9)), 3)
    theirs = distance.away(engine().patterns, racks.reshape(-1, 36)).reshape(3, 4, -1)
    for deal in range(3):
        table = new_table(hands, racks[deal].astype(np.int32), np.zeros(0, dtype=np.int32))
        for seat in range(SEATS):
            ours = sorted((hands.hand[v], away(table, seat, v)) for v in range(len(hands.hand)))
            assert ours == sorted(zip(engine().patterns.hand, theirs[deal, seat], strict=True))


def test_a_call_for_the_last_tile_is_seen_exactly_when_the_tile_finishes_the_hand() -> None:
    hands = hands_of(card_of(WINDS, PAIRS, "F^2 n.p^1 n+1.q^4 n+2.p^3 n+3.q^4", "N^2 N^3 E^4 F^5"))
    racks, wall = lay(("", "", "", ""))
    seen = 0
    for variant in range(len(hands.hand)):
        table = new_table(hands, racks.astype(np.int32), wall)
        table.held[1] = 0
        for slot in range(hands.slots[variant]):
            table.held[1, hands.kinds[variant, slot]] = hands.singles[variant, slot] + hands.groups[variant, slot]
        lost = int(hands.kinds[variant, 0])
        table.held[1, lost] -= 1
        count_short(hands, table, 1)
        for kind in range(36):
            called = finished_with(hands, table, 1, kind) >= 0
            table.held[1, kind] += 1
            count_short(hands, table, 1)
            assert called == (finished(hands, table, 1) >= 0 and kind != JOKER_KIND)
            seen += called
            table.held[1, kind] -= 1
            count_short(hands, table, 1)
    assert seen >= len(hands.hand)
