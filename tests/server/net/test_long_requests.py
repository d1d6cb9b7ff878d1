"""Who asks at length, or for more than anybody can play, is cut off before it costs anybody else time."""

import asyncio

from server.net.door import DoorLimits
from tests.server.players import CODE, Player, open_house


async def test_a_request_whose_headers_never_end_is_cut_off() -> None:
    async with open_house() as house:
        reader, writer = await asyncio.open_connection("127.0.0.1", house.listener.port)
        writer.write(b"GET / HTTP/1.1\r\n")
        sent = 0
        try:
            while True:
                writer.write(b"X: " + b"x" * 997 + b"\r\n")
                sent += 1_002
                await writer.drain()
                await asyncio.sleep(0.01)
        except ConnectionError:
            pass
        assert sent < 2 * DoorLimits().bytes
        assert DoorLimits() == DoorLimits(most=64, each=8, seconds=6.0, bytes=32 * 1024), "as DEVELOPERS.md says"
        assert reader.at_eof() or reader.exception()


async def test_a_burst_of_tiny_frames_is_noticed_after_the_first_few() -> None:
    """The bytes arrive at once, and yet what comes behind the frame that was one too many is not parsed."""
    async with open_house() as house:
        ann, mallory = Player(house.listener.port), Player(house.listener.port, "Mallory", CODE)
        await ann.come()
        await mallory.come()
        before = house.table.record
        tiny = b"\x82\x80\x00\x00\x00\x00"
        mallory.line.transport.write(tiny * 40_000)
        assert (await mallory.end())[0] == 1008
        assert house.table.record == before
        await ann.go()
