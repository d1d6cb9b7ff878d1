"""The WebSocket protocol as RFC 6455 has it, spoken to a real listener by hand, byte by byte."""

import asyncio

from server.admission import Admission
from server.net.listener import open_listener
from server.store import Store


async def _handshake_and(sent: bytes, until: bytes | None = None) -> tuple[bytes, bytes]:
    """Open a fresh connection, shake hands, send bytes, and return the handshake's answer and what follows it:
    up to some expected bytes, or until the other end closes."""
    async with Admission.open(Store.open(None)) as admission, open_listener(admission, "127.0.0.1", 0) as listener:
        reader, writer = await asyncio.open_connection("127.0.0.1", listener.port)
        writer.write(HANDSHAKE)
        answer = await reader.readuntil(b"\r\n\r\n")
        writer.write(sent)
        got = await (reader.read(-1) if until is None else reader.readexactly(len(until)))
        writer.close()
        await writer.wait_closed()
        return answer, got


HANDSHAKE = (
    b"GET /chat HTTP/1.1\r\nHost: localhost\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
    b"Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n\r\n"
)


async def test_the_handshake_answers_the_sample_key_of_section_1_3() -> None:
    """RFC 6455 section 1.3: the key dGhlIHNhbXBsZSBub25jZQ== is accepted with s3pPLMBiTxaQ9kYGzzhZRbK+xOo=."""
    reply, _ = await _handshake_and(b"", b"")
    assert reply.startswith(b"HTTP/1.1 101 ")
    assert b"\r\nsec-websocket-accept: s3pplmbitxaq9kygzzhzrbk+xoo=\r\n" in reply.lower()
    assert b"s3pPLMBiTxaQ9kYGzzhZRbK+xOo=" in reply
    assert b"permessage-deflate" not in reply.lower()


async def test_the_masked_text_hello_of_section_5_7_is_understood_and_refused_as_policy() -> None:
    """RFC 6455 section 5.7: 81 85 37fa213d 7f9f4d5158 is a masked text frame "Hello"; section 7.4.1: 1008 is policy."""
    _, frames = await _handshake_and(bytes.fromhex("81 85 37 fa 21 3d 7f 9f 4d 51 58"))
    assert frames[0] == 0x88
    assert int.from_bytes(frames[2:4], "big") == 1008


async def test_the_masked_ping_of_section_5_7_is_answered_with_a_pong_of_the_same_body() -> None:
    """RFC 6455 section 5.7: 8a 85 ... is a masked pong "Hello"; a ping of that body gets the unmasked pong 8a 05."""
    ping = bytes.fromhex("89 85 37 fa 21 3d 7f 9f 4d 51 58")
    pong = bytes.fromhex("8a 05 48 65 6c 6c 6f")
    assert (await _handshake_and(ping, pong))[1] == pong


async def test_a_frame_that_is_not_masked_is_a_protocol_error() -> None:
    """RFC 6455 section 5.1: a server must close on an unmasked frame, and may use 1002."""
    _, frames = await _handshake_and(bytes.fromhex("81 05 48 65 6c 6c 6f"))
    assert frames[0] == 0x88
    assert int.from_bytes(frames[2:4], "big") == 1002


async def test_a_frame_announced_as_too_long_is_closed_before_it_arrives() -> None:
    """RFC 6455 section 5.2: 127 announces a length of 64 bits; section 7.4.1: 1009 is too big."""
    head = bytes.fromhex("82 ff 00 00 00 00 40 00 00 00 37 fa 21 3d")
    _, frames = await _handshake_and(head)
    assert frames[0] == 0x88
    assert int.from_bytes(frames[2:4], "big") == 1009
