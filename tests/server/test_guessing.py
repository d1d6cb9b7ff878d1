"""How guessing codes is slowed, and who never waits for it."""

import asyncio

from server.admission import Admission
from server.clock import now_ms
from server.net.codes import Guesses
from server.net.listener import Limits, open_listener
from server.store import Store
from shared.rules.intents import Ready
from shared.visitors import visitor_proof
from shared.wire.messages import (
    PROTOCOL,
    TO_SERVER,
    Close,
    Command,
    Hello,
    PageVisitor,
)
from tests.server.players import CODE, Player, guess, make_table, open_house
from tests.server.wires import MemoryWire


async def test_a_wrong_code_is_refused_and_every_further_guess_waits_longer() -> None:
    async with open_house() as house:
        took_ms = []
        for _ in range(8):
            began_ms = now_ms()
            guess = Player(house.listener.port, code="maple-otter-lemon-08")
            await guess.say_hello()
            code, _ = await guess.end()
            assert code == Close.WRONG_CODE
            took_ms.append(now_ms() - began_ms)
        assert took_ms == [0, 250, 500, 1_000, 2_000, 4_000, 5_000, 5_000]
        assert house.admission.guesses.total == 8
        began_ms = now_ms()
        await Player(house.listener.port).come()
        assert now_ms() - began_ms == 5_000
        await asyncio.sleep(601)
        began_ms = now_ms()
        await Player(house.listener.port).come()
        assert now_ms() == began_ms


async def test_a_guess_is_checked_against_the_code_of_the_table_that_it_names_alone() -> None:
    async with Admission.open(Store.open(None)) as admission, open_listener(admission, "127.0.0.1", 0) as listener:
        codes = "maple-otter-lemon-07", "bronze-piano-atlas-11"
        for code in codes:
            admission.add(make_table(code=code))
        for code, table in ((codes[0], codes[1]), (codes[1], codes[0]), (codes[0], ""), (codes[0], "elsewhere")):
            stranger = Player(listener.port, code=code)
            stranger.table = f"t {table}" if table else ""
            await stranger.say_hello()
            assert (await stranger.end())[0] == Close.WRONG_CODE
        assert all(keeper.table.record.chairs[0].sitter == "nobody" for keeper in admission.keepers)


async def test_a_guess_whose_line_has_gone_is_dropped_and_seats_nobody() -> None:
    async with open_house() as house:
        for _ in range(3):
            await (await guess(house.listener.port)).end()
        sneaks = [await guess(house.listener.port, code=code) for code in (CODE, "maple-otter-lemon-09")]
        await asyncio.sleep(0.1)
        for sneak in sneaks:
            await sneak.cut()
        await asyncio.sleep(60)
        assert house.table.record.chairs[0].sitter == "nobody"
        assert house.admission.guesses.total == 3


async def test_lines_of_an_address_that_guesses_take_turns_and_others_do_not_wait() -> None:
    async with open_house() as house:
        for _ in range(7):
            await (await guess(house.listener.port, "127.0.0.2")).end()
        began_ms = now_ms()
        waiting = [await guess(house.listener.port, "127.0.0.2") for _ in range(4)]
        ended_ms = []
        for one in waiting:
            assert (await one.end())[0] == Close.WRONG_CODE
            ended_ms.append(now_ms() - began_ms)
        assert [round(ms / 1_000) for ms in ended_ms] == [5, 10, 15, 20]
        began_ms = now_ms()
        ann = Player(house.listener.port)
        ann.host = "127.0.0.3"
        await ann.come()
        assert now_ms() == began_ms


async def test_many_lines_that_guess_at_once_try_no_more_codes_than_one_would() -> None:
    async with open_house(limits=Limits(connections_each=100)) as house:
        crowd = [await guess(house.listener.port) for _ in range(60)]
        await asyncio.sleep(28)
        # 0, 250, 750, 1,750, 3,750, 7,750, and from then on one in five seconds
        assert house.admission.guesses.total == 10
        refused = [one for one in crowd if one.closed and one.closed[0] == Close.TOO_MANY]
        assert len(refused) == 60 - 1 - Guesses.MOST_WAITING
        for one in crowd:
            await one.cut()


async def test_while_a_table_is_guessed_at_from_everywhere_an_honest_guest_waits_five_seconds_and_no_more() -> None:
    async with open_house() as house:
        for number in range(Guesses.ALARM_AFTER):
            await (await guess(house.listener.port, f"127.0.1.{number + 1}")).end()
        spies = [await guess(house.listener.port, f"127.0.2.{number + 1}") for number in range(9)]
        began_ms = now_ms()
        family = [Player(house.listener.port, name) for name in ("Ann", "Bo", "Cy", "Di")]
        await asyncio.gather(*(one.come() for one in family))
        assert now_ms() - began_ms == Guesses.LONGEST_MS
        await family[0].cut()
        began_ms = now_ms()
        await family[0].come()
        assert now_ms() == began_ms
        for one in spies:
            await one.end()


async def test_nothing_may_be_sent_before_the_welcome() -> None:
    async with open_house() as house:
        for _ in range(3):
            await (await guess(house.listener.port)).end()
        hasty = await guess(house.listener.port, code=CODE)
        await hasty.line.send(TO_SERVER.pack(Command(id=1, heat=0, intent=Ready())))
        assert (await hasty.end())[0] == Close.BAD_FRAME
        await asyncio.sleep(60)
        assert house.table.record.chairs[0].sitter == "nobody"


async def test_a_full_house_still_lets_in_who_holds_a_seat() -> None:
    async with open_house(limits=Limits(connections=2, connections_each=2)) as house:
        ann = Player(house.listener.port)
        await ann.come()
        await ann.cut()
        for _ in range(5):
            await (await guess(house.listener.port)).end()
        waiting = [await guess(house.listener.port) for _ in range(2)]
        await asyncio.sleep(0.1)
        stranger = await guess(house.listener.port, code=CODE)
        assert (await stranger.end())[0] == Close.TOO_MANY
        assert (await ann.come()).chair == 0
        # Ann has a place of her own now, so the next who comes back finds one as well.
        again = Player(house.listener.port)
        again.token = ann.token
        assert (await again.come()).chair == 0
        for one in waiting:
            await one.cut()


async def test_a_visitor_of_our_page_is_counted_by_their_own_address_and_nobody_can_claim_one() -> None:
    key = b"k" * 32

    def hello(address: str, proof: bytes, code: str) -> bytes:
        visitor = PageVisitor(address=address, proof=proof)
        return TO_SERVER.pack(Hello(protocol=PROTOCOL, name="V", code=code, visitor=visitor))

    async with Admission.open(Store.open(None), page_key=key) as admission:
        admission.add(make_table())

        async def tries(address: str, proof: bytes, code: str = "wrong") -> int:
            wire, began_ms = MemoryWire("127.0.0.1"), now_ms()
            wire.say(hello(address, proof, code))
            await admission.serve(wire)
            return now_ms() - began_ms

        for _ in range(4):
            await tries("192.0.2.1", visitor_proof(key, "192.0.2.1"))
        assert await tries("192.0.2.2", visitor_proof(key, "192.0.2.2")) < 100
        assert await tries("192.0.2.1", visitor_proof(key, "192.0.2.1")) >= 2_000
        # Without the key, or with the proof of another address, it is the line that counts.
        for forged in (bytes(32), visitor_proof(key, "192.0.2.9"), visitor_proof(b"", "192.0.2.3")):
            await tries("192.0.2.3", forged)
        assert await tries("192.0.2.4", bytes(32)) >= 1_000


async def test_who_holds_a_seat_comes_back_at_once_even_while_somebody_guesses() -> None:
    async with open_house() as house:
        ann = Player(house.listener.port)
        chair = (await ann.come()).chair
        await ann.cut()
        for _ in range(4):
            guess = Player(house.listener.port, code="wrong")
            await guess.say_hello()
            await guess.end()
        began_ms = now_ms()
        assert (await ann.come()).chair == chair
        assert now_ms() == began_ms


async def test_one_address_cannot_take_all_connections() -> None:
    async with open_house(limits=Limits(connections_each=3)) as house:
        for _ in range(5):
            await (await guess(house.listener.port)).end()
        waiting = [await guess(house.listener.port) for _ in range(3)]
        await asyncio.sleep(0.1)
        fourth = Player(house.listener.port)
        await fourth.say_hello()
        assert (await fourth.end())[0] == Close.TOO_MANY
        for one in waiting:
            await one.cut()
        await fourth.come()
