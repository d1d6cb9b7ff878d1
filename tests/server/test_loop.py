"""The loops that other tests rely on: exact, without waiting, and fair to real sockets and threads."""

import asyncio
import time

from tests.loop import QuietLoop, VirtualLoop


def virtual() -> VirtualLoop:
    loop = asyncio.get_running_loop()
    assert isinstance(loop, VirtualLoop)
    return loop


async def test_an_hour_takes_no_time_and_ends_on_the_dot() -> None:
    began_s, really_s = virtual().time(), time.process_time()
    await asyncio.sleep(3_600)
    assert virtual().time() == began_s + 3_600
    assert time.process_time() - really_s < 1


async def test_time_stands_still_while_a_thread_works() -> None:
    began_s = virtual().time()
    timer = asyncio.create_task(asyncio.sleep(0.001))
    await asyncio.to_thread(time.sleep, 0.05)
    assert virtual().time() == began_s
    await timer
    assert virtual().time() > began_s


async def test_bytes_on_a_socket_arrive_before_any_timer() -> None:
    heard: list[float] = []

    async def echo(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        while data := await reader.read(100):
            writer.write(data)
        writer.close()
        await writer.wait_closed()
        ended.set()

    ended = asyncio.Event()
    server = await asyncio.start_server(echo, "127.0.0.1", 0)
    reader, writer = await asyncio.open_connection(*server.sockets[0].getsockname())
    for _ in range(500):
        began_s = virtual().time()
        alarm = virtual().call_later(0.001, heard.append, began_s)
        writer.write(b"x")
        assert await reader.read(100) == b"x"
        assert virtual().time() == began_s
        alarm.cancel()
    assert heard == []
    writer.close()
    await writer.wait_closed()
    await ended.wait()
    server.close()
    await server.wait_closed()


def test_a_loop_is_quiet_once_tasks_and_threads_have_done_what_they_can() -> None:
    async def scene() -> list[str]:
        loop = asyncio.get_running_loop()
        assert isinstance(loop, QuietLoop)
        done: list[str] = []

        async def work() -> None:
            for _ in range(50):
                await asyncio.sleep(0)
            done.append("task")
            await asyncio.to_thread(time.sleep, 0.02)
            done.append("thread")
            await asyncio.sleep(3_600)
            done.append("timer")

        task = asyncio.create_task(work())
        await loop.quiet()
        task.cancel()
        return done

    with asyncio.Runner(loop_factory=QuietLoop) as runner:
        assert runner.run(scene()) == ["task", "thread"]
