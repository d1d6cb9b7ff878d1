"""Who may come in, what the others are told, and how an attacker is slowed."""

import asyncio

import pytest
from websockets.asyncio.client import connect
from websockets.exceptions import InvalidStatus

from server.admission import Admission
from server.clock import now_ms
from server.net.codes import Guesses
from server.net.listener import CannotOpen, Limits, open_listener
from server.store import Store
from server.table.output import Output
from server.table.table import Table
from shared.codec import Codec
from shared.rules.intents import FreeChair, Leave, Lift, NotReady, Ready
from shared.visitors import visitor_proof
from shared.wire.messages import (
    FRAME_LIMIT,
    PROTOCOL,
    TO_CLIENT,
    TO_SERVER,
    TRY_AGAIN,
    Close,
    Command,
    Hello,
    PageVisitor,
    Welcome,
)
from shared.wire.views import View
from tests.server.players import CODE, House, Player, Role, four_players, make_table, open_house
from tests.server.wires import MemoryWire

ANYTHING: Codec[object] = Codec(object, 2 * FRAME_LIMIT)


async def first_words(house: House, frame: bytes | str, **headers: str) -> tuple[int, str]:
    """Send one frame to a table and return how it closes the line."""
    address = f"ws://127.0.0.1:{house.listener.port}"
    async with connect(address, compression=None, additional_headers=headers) as line:
        await line.send(frame)
        await line.wait_closed()
        return line.close_code or 1006, line.close_reason or ""


async def test_another_version_is_told_both_numbers_whatever_else_its_hello_holds() -> None:
    hello = ANYTHING.pack({"kind": "hello", "protocol": PROTOCOL + 1, "something": "new", "code": 5})
    async with open_house() as house:
        code, text = await first_words(house, hello)
    assert code == Close.OTHER_VERSION
    assert str(PROTOCOL) in text
    assert str(PROTOCOL + 1) in text


async def test_a_fifth_person_is_told_that_the_table_is_full() -> None:
    async with open_house() as house, four_players(house.listener.port):
        fifth = Player(house.listener.port, "Eve")
        await fifth.say_hello()
        code, text = await fifth.end()
    assert code == Close.TABLE_FULL
    assert "taken" in text


@pytest.mark.parametrize("code", [c for c in Close if c not in (Close.TOO_SLOW, Close.TOO_MANY, Close.ASKED_HOST)])
def test_a_client_never_blindly_retries_after_a_refusal(code: Close) -> None:
    assert code not in TRY_AGAIN


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


async def guess(port: int, host: str = "", code: str = "maple-otter-lemon-08", role: Role = "player") -> Player:
    stranger = Player(port, "Mallory", code, role)
    stranger.host = host
    await stranger.say_hello()
    return stranger


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


async def test_a_seat_is_not_taken_up_again_faster_than_is_allowed_and_never_lost_by_it() -> None:
    async with open_house() as house:
        ann = Player(house.listener.port)
        await ann.come()
        ends = []
        for _ in range(40):
            await ann.cut()
            await ann.say_hello()
            async with ann._news:
                await ann._news.wait_for(lambda: ann.closed or ann.view)
            ends.append(ann.closed and ann.closed[0])
        assert ends == [None] * 32 + [Close.TOO_MANY] * 8
        await asyncio.sleep(1)
        assert (await ann.come()).chair == 0


async def test_the_newest_connection_plays_the_seat() -> None:
    async with open_house() as house:
        old = Player(house.listener.port)
        await old.come()
        new = Player(house.listener.port)
        new.token = old.token
        welcome = await new.come()
        code, _ = await old.end()
        assert code == Close.SEAT_TAKEN_OVER
        assert welcome.chair == 0
        assert (await new.until(lambda view: True)).chairs[0].connected
        assert (await new.ask(Ready())).kind == "done"


class LingeringWire(MemoryWire):
    """A wire that takes a second to close, and can be read until then."""

    async def hang_up(self, code: int, text: str) -> None:
        await asyncio.sleep(1)
        await super().hang_up(code, text)


async def test_what_the_older_connection_still_sends_is_not_heard() -> None:
    async with Admission.open(Store.open(None)) as admission:
        table = make_table()
        admission.add(table)
        old, new = LingeringWire(), MemoryWire()
        serving = [asyncio.create_task(admission.serve(old))]
        old.say(TO_SERVER.pack(Hello(protocol=PROTOCOL, name="Ann", code=CODE)))
        await asyncio.sleep(0.1)
        welcome = TO_CLIENT.unpack(old.written[0])
        assert isinstance(welcome, Welcome)
        serving.append(asyncio.create_task(admission.serve(new)))
        new.say(TO_SERVER.pack(Hello(protocol=PROTOCOL, name="Ann", code=CODE, token=welcome.token)))
        await asyncio.sleep(0.1)
        old.say(TO_SERVER.pack(Command(id=1, heat=0, intent=Ready())))
        await asyncio.sleep(0.1)
        assert table.record.phase == "seating"
        new.say(TO_SERVER.pack(Command(id=1, heat=0, intent=Ready())))
        await asyncio.sleep(0.1)
        assert table.record.phase == "heat"
        new.drop()
        await asyncio.gather(*serving)


async def test_someone_sent_away_is_told_and_the_old_token_opens_nothing() -> None:
    async with open_house() as house, four_players(house.listener.port) as players:
        ann, bo = players[0], players[1]
        assert (await ann.ask(FreeChair(chair=1))).kind == "done"
        assert (await bo.end())[0] == Close.SENT_AWAY
        view = await ann.until(lambda view: view.chairs[1].sitter == "nobody")
        assert not view.chairs[1].connected
        bo.code = "another-code-00"
        await bo.say_hello()
        assert (await bo.end())[0] == Close.WRONG_CODE


async def test_whoever_leaves_is_let_go() -> None:
    async with open_house() as house:
        ann = Player(house.listener.port)
        await ann.come()
        await ann.send(Leave())
        assert (await ann.end())[0] == Close.TABLE_CLOSED


async def test_only_the_host_can_send_people_away() -> None:
    async with open_house() as house, four_players(house.listener.port) as players:
        answer = await players[2].ask(FreeChair(chair=0))
        assert answer.kind == "refused"
        assert answer.code == "host only"


async def test_a_command_sent_again_counts_once_also_after_a_new_connection() -> None:
    async with open_house() as house:
        ann = Player(house.listener.port)
        await ann.come()
        assert (await ann.ask(Ready(), number=5)).kind == "done"
        heat = (await ann.until(lambda view: view.phase == "heat")).heat_number
        assert (await ann.ask(Ready(), number=5)).kind == "done"
        await ann.cut()
        assert (await ann.come()).last_id == 5
        assert (await ann.ask(Ready(), number=5)).kind == "done"
        assert house.table.record.number == heat == 1


@pytest.mark.parametrize(
    "origin",
    ["https://example.org", "http://127.0.0.1:{port}", "http://localhost", "null", "NULL", "file://", "", " ", "*"],
)
async def test_a_web_page_cannot_join(origin: str) -> None:
    """Also none of this machine, and none that hides where it is from: a sandboxed frame and a file say "null"."""
    async with open_house() as house:
        with pytest.raises(InvalidStatus) as refusal:
            await first_words(house, b"", Origin=origin.format(port=house.listener.port))
        assert refusal.value.response.status_code == 403


@pytest.mark.parametrize("second", ["null", "https://elsewhere.example"])
async def test_a_page_that_may_join_lets_no_other_origin_in_beside_it(second: str) -> None:
    allowed = "https://boathouse.example"
    async with (
        Admission.open(Store.open(None)) as admission,
        open_listener(admission, "127.0.0.1", 0, origins=[allowed]) as listener,
    ):
        headers = "Host: localhost\r\nOrigin: {}\r\n"
        assert await _status(listener.port, headers.format(allowed)) == 101
        assert await _status(listener.port, headers.format(second)) == 403
        assert await _status(listener.port, headers.format(allowed) + f"Origin: {second}\r\n") == 403


@pytest.mark.parametrize(
    ("host", "is_let_in"),
    [
        ("127.0.0.1:{port}", True),
        ("localhost:{port}", True),
        ("LOCALHOST", True),
        ("[::1]:{port}", True),
        ("192.168.7.7", True),
        ("boathouse.example:{port}", True),
        ("elsewhere.example", False),
        ("127.0.0.1.elsewhere.example", False),
        ("", False),
        ("[::1", False),
        ("localhost\tx", False),
    ],
)
async def test_a_request_meant_for_another_host_is_turned_away(host: str, is_let_in: bool) -> None:
    async with (
        Admission.open(Store.open(None)) as admission,
        open_listener(admission, "127.0.0.1", 0, names=["boathouse.example"]) as listener,
    ):
        status = await _status(listener.port, f"Host: {host.format(port=listener.port)}\r\n")
        assert status == (101 if is_let_in else 403)


async def test_a_request_that_names_no_host_or_two_is_turned_away() -> None:
    async with open_house() as house:
        assert await _status(house.listener.port, "") == 403
        assert await _status(house.listener.port, "Host: localhost\r\nHost: localhost\r\n") == 403


async def _status(port: int, headers: str) -> int:
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    writer.write(
        f"GET / HTTP/1.1\r\n{headers}Upgrade: websocket\r\nConnection: Upgrade\r\n"
        "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n\r\n".encode()
    )
    line = await reader.readline()
    writer.close()
    await writer.wait_closed()
    return int(line.split()[1])


async def test_who_says_nothing_is_closed_after_five_seconds() -> None:
    async with open_house() as house, connect(f"ws://127.0.0.1:{house.listener.port}") as line:
        began_ms = now_ms()
        await line.wait_closed()
        assert line.close_code == Close.BAD_FRAME
        assert now_ms() - began_ms == 5_000


async def test_frames_that_cannot_be_are_refused_by_kind() -> None:
    async with open_house() as house:
        assert (await first_words(house, "text"))[0] == Close.BAD_FRAME
        assert (await first_words(house, b"\xc1"))[0] == Close.BAD_FRAME
        assert (await first_words(house, bytes(FRAME_LIMIT + 1)))[0] == Close.TOO_BIG
        command = {"kind": "command", "id": 1, "heat": 0, "intent": {"kind": "start"}}
        assert (await first_words(house, ANYTHING.pack(command)))[0] == Close.BAD_FRAME


async def test_a_flood_closes_the_one_who_floods_and_nobody_else() -> None:
    async with open_house() as house:
        ann, flooder = Player(house.listener.port), Player(house.listener.port, "Flo")
        await ann.come()
        await flooder.come()
        for _ in range(200):
            await flooder.send(NotReady())
        assert (await flooder.end())[0] == Close.BAD_FRAME
        assert (await ann.ask(Ready())).kind == "done"


async def test_forty_frames_a_second_are_nobodys_flood() -> None:
    async with open_house() as house:
        ann = Player(house.listener.port)
        await ann.come()
        for _ in range(400):
            await ann.ask(NotReady())
            await asyncio.sleep(1 / 40)
        assert ann.closed is None


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


async def test_two_tables_are_told_apart_by_their_codes() -> None:
    async with Admission.open(Store.open(None)) as admission, open_listener(admission, "127.0.0.1", 0) as listener:
        admission.add(make_table(code="maple-otter-lemon-07", name="Left"))
        admission.add(make_table(code="bronze-piano-atlas-11", name="Right"))
        left, right = Player(listener.port), Player(listener.port, code="Bronze Piano Atlas 11")
        left.table, right.table = "t maple-otter-lemon-07", "t bronze-piano-atlas-11"
        await left.come()
        await right.come()
        assert left.view
        assert right.view
        assert (left.view.table, right.view.table) == ("Left", "Right")
        await left.ask(Ready())
        assert (await left.until(lambda view: view.phase == "heat")).heat
        assert right.view.phase == "seating"


async def test_an_error_in_one_table_ends_neither_it_nor_its_neighbour(caplog: pytest.LogCaptureFixture) -> None:
    async with Admission.open(Store.open(None)) as admission, open_listener(admission, "127.0.0.1", 0) as listener:
        broken, sound = make_table(kind=BrokenTable), make_table(code="bronze-piano-atlas-11")
        admission.add(broken)
        admission.add(sound)
        ann, bo = Player(listener.port), Player(listener.port, code="bronze-piano-atlas-11")
        ann.table, bo.table = broken.record.id, sound.record.id
        for player in (ann, bo):
            await player.come()
            await player.ask(Ready())
            await player.until(lambda view: view.heat is not None)
        assert ann.view
        assert ann.view.heat
        tile = ann.view.heat.rack[0]
        await ann.send(Lift(step="first right", tiles=(tile,)))
        assert await ann.end() == (1011, "Internal error; nothing was changed.")
        await ann.come()
        assert ann.view.heat
        assert ann.view.heat.lifted == ()
        assert (await bo.ask(Lift(step="first right", tiles=()))).kind == "done"
        line = BrokenTable.command.__code__.co_firstlineno + 3
        assert f"ZeroDivisionError at {__name__}, BrokenTable.command, line {line}" in caplog.text
        assert f"'{tile}'" not in caplog.text


class BrokenTable(Table):
    """A table that meets an error whenever somebody lifts a tile, after it has changed something."""

    def command(self, chair: int, command: Command, now_ms: int) -> Output:
        output = super().command(chair, command, now_ms)
        if isinstance(command.intent, Lift):
            raise ZeroDivisionError(f"a tile: {command.intent.tiles}")
        return output


async def test_a_taken_port_is_named_with_the_next_free_one() -> None:
    async with open_house() as house:
        port = house.listener.port
        with pytest.raises(CannotOpen) as refusal:
            async with open_listener(house.admission, "127.0.0.1", port):
                pass
        assert str(port) in str(refusal.value)
        free = refusal.value.next_free
        assert free
        assert str(free) in str(refusal.value)
        async with open_listener(house.admission, "127.0.0.1", free) as listener:
            assert listener.addresses == (f"127.0.0.1:{free}",)


async def test_when_the_host_closes_everybody_is_told_to_try_again() -> None:
    async with open_house() as house:
        ann = Player(house.listener.port, code=CODE)
        await ann.come()
    code, _ = await ann.end()
    assert code == 1001
    assert code in TRY_AGAIN


async def test_a_name_full_of_escapes_and_markup_stays_plain_text() -> None:
    async with open_house() as house:
        ann = Player(house.listener.port, "\x1b]0;x\x07[bold]A\u202en\x00n\n" * 4)
        await ann.come()
        view: View | None = ann.view
        assert view
        assert view.chairs[0].name == "]0;x[bold]Ann ]0"
