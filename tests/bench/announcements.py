"""Strangers who announce tables that are none, to somebody who looks around: python -m tests.bench.hostile --nearby.

All speak multicast DNS on this machine's loopback interface only. A real table is announced in the middle of each
attack and must be listed all the same (but not among tables of forty invented machines: they fill the list, and the
address is typed); the list stays short, the program that looks goes on answering its keys, and what the attack cost it
in memory comes back.
"""

import asyncio
import contextlib
import json
import random
import socket
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path

from client.connection.discovery import Nearby, look_around
from server.net.beacon import announce
from shared.wire.announce import SERVICE, Announcement, txt_of

ROOT = Path(__file__).parents[2]
HOME, GROUP = "127.0.0.1", ("224.0.0.251", 5353)
REAL = "Boathouse"
HOUR_S = 3_600
FOUND_S, NEVER_S, BACK_S, BEAT_S = 10.0, 999.0, 10.0, 0.005
ALLOWED_MS, MEMORY_MORE, MOST = 50.0, 1.1, 40
_NAMES = "Regatta", "\x1b[31mRed", "\u202eelbat", "a" * 40


def _packet(name: str, address: str, ttl_s: int = HOUR_S, whole: bool = True) -> bytes:
    """Return an answer that nobody asked for: here is a table. Only its name, if it is not to be whole."""
    from zeroconf import DNSAddress, DNSOutgoing, DNSPointer, DNSService, DNSText
    from zeroconf.const import _CLASS_IN, _FLAGS_QR_RESPONSE, _TYPE_A, _TYPE_PTR, _TYPE_SRV, _TYPE_TXT

    out, instance, server = DNSOutgoing(_FLAGS_QR_RESPONSE), f"{name}.{SERVICE}", f"{name}.local."
    out.add_answer_at_time(DNSPointer(SERVICE, _TYPE_PTR, _CLASS_IN, ttl_s, instance), 0)
    if whole:
        told = b"".join(bytes([len(one)]) + one for one in _words())
        out.add_answer_at_time(DNSService(instance, _TYPE_SRV, _CLASS_IN, ttl_s, 0, 0, 15214, server), 0)
        out.add_answer_at_time(DNSText(instance, _TYPE_TXT, _CLASS_IN, ttl_s, told), 0)
        out.add_answer_at_time(DNSAddress(server, _TYPE_A, _CLASS_IN, ttl_s, socket.inet_aton(address)), 0)
    return bytes(out.packets()[0])


def _words() -> list[bytes]:
    return [f"{key}={value}".encode() for key, value in txt_of(Announcement("x", 15214)).items()]


def _somewhere() -> str:
    return f"10.{random.randrange(256)}.{random.randrange(256)}.{random.randrange(1, 255)}"


def _name() -> str:
    return f"{random.choice(_NAMES)} {random.getrandbits(40):x}"


def many_tables() -> Iterator[bytes]:
    """New tables, each somewhere else."""
    while True:
        yield _packet(_name(), _somewhere())


def one_machine() -> Iterator[bytes]:
    """New tables of one machine."""
    while True:
        yield _packet(_name(), "192.0.2.7")


def names_that_never_answer() -> Iterator[bytes]:
    """Names of tables that say no more when they are asked."""
    while True:
        yield _packet(_name(), "", whole=False)


def tables_that_come_and_go() -> Iterator[bytes]:
    """Twenty tables, taken back and announced anew all the time."""
    names = [_name() for _ in range(20)]
    while True:
        for name in names:
            yield _packet(name, _somewhere())
            yield _packet(name, _somewhere(), ttl_s=0)


def noise() -> Iterator[bytes]:
    """Bytes that are nothing, halves of announcements, and names that point at themselves (RFC 1035 section 4.1.4)."""
    loop = b"\0\0\x84\0\0\0\0\1\0\0\0\0" + b"\xc0\x0c" + b"\0\x0c\0\1\0\0\0\x78\0\2\xc0\x0c"
    while True:
        whole = _packet(_name(), _somewhere())
        yield random.choice((random.randbytes(random.randrange(1, 1_400)), whole[: random.randrange(len(whole))], loop))


KINDS: dict[str, Callable[[], Iterator[bytes]]] = {
    one.__name__.replace("_", " "): one
    for one in (many_tables, one_machine, names_that_never_answer, tables_that_come_and_go, noise)
}


def attack(kind: str, seconds: float) -> None:
    """Announce as fast as it goes; only this machine hears it. Print when that begins, and how many packets it was."""
    sent = 0
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as line:
        line.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton(HOME))
        line.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_TTL, 0)
        line.bind((HOME, 0))
        print("begun", flush=True)
        until_s = time.monotonic() + seconds
        for packet in KINDS[kind]():
            with contextlib.suppress(OSError):
                line.sendto(packet, GROUP)
                sent += 1
            if time.monotonic() > until_s:
                break
    print(sent, flush=True)


@dataclass
class Looked:
    """What somebody met who looked around during an attack."""

    kind: str
    found_s: float = NEVER_S
    """How long after its announcement the real table was listed."""
    packets: int = 0
    longest: int = 0
    shown: int = 0
    """How long the list was at most, and how often it changed."""
    quiet_ms: list[float] = field(default_factory=list)
    under_ms: list[float] = field(default_factory=list)
    """By how much the program's beats were late."""
    memory_mb: list[float] = field(default_factory=list)
    """Before, at the end, and BACK_S later."""


async def look(kind: str, seconds: float) -> Looked:
    """Look around in this process while another one attacks, and announce the real table in its middle."""
    looked, announced_s = Looked(kind), 0.0

    def show(nearby: Nearby) -> None:
        looked.shown += 1
        looked.longest = max(looked.longest, len(nearby.tables))
        if announced_s and any(found.name == REAL for found in nearby.tables):
            looked.found_s = min(looked.found_s, time.monotonic() - announced_s)

    looking = asyncio.create_task(look_around(show, [HOME]))
    await _beat(1, looked.quiet_ms)
    first = asyncio.create_task(announce(Announcement("First", 15213), [HOME], lambda text: None))
    await _beat(3, looked.quiet_ms)
    first.cancel()
    with contextlib.suppress(asyncio.CancelledError):
        await first
    await _beat(1, looked.quiet_ms)
    looked.memory_mb.append(_memory_mb())
    command = "nice", "-n", "19", sys.executable, "-m", "tests.bench.announcements", "attack", kind, str(seconds)
    attackers = await asyncio.create_subprocess_exec(*command, cwd=ROOT, stdout=asyncio.subprocess.PIPE)
    assert attackers.stdout
    await attackers.stdout.readline()
    await _beat(seconds / 2, looked.under_ms)
    announced_s = time.monotonic()
    table = asyncio.create_task(announce(Announcement(REAL, 15214), [HOME], lambda text: None))
    await _beat(seconds / 2, looked.under_ms)
    looked.memory_mb.append(_memory_mb())
    looked.packets = int((await attackers.stdout.readline()).split()[0])
    await attackers.wait()
    await asyncio.sleep(BACK_S)
    looked.memory_mb.append(_memory_mb())
    for task in (table, looking):
        task.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await task
    return looked


async def _beat(seconds: float, late_ms: list[float]) -> None:
    until_s = time.monotonic() + seconds
    while (began_s := time.monotonic()) < until_s:
        await asyncio.sleep(BEAT_S)
        late_ms.append((time.monotonic() - began_s - BEAT_S) * 1_000)


def _memory_mb() -> float:
    return int(Path("/proc/self/status").read_text().partition("VmRSS:")[2].split()[0]) / 1_024


def _percentile(values: list[float]) -> float:
    return sorted(values)[int(len(values) * 0.99)]


async def looked_around(seconds: float, words: str = "") -> dict[str, object]:
    """Look around under every kind of attack that has these words, each in a process of its own."""
    attacks, within = {}, True
    for kind in (kind for kind in KINDS if words in kind):
        command = sys.executable, "-m", "tests.bench.announcements", "look", kind, str(seconds)
        process = await asyncio.create_subprocess_exec(*command, cwd=ROOT, stdout=asyncio.subprocess.PIPE)
        told, _ = await process.communicate()
        found = Looked(**json.loads(told))
        more_ms = _percentile(found.under_ms) - _percentile(found.quiet_ms)
        before_mb, _, after_mb = found.memory_mb
        attacks[kind] = {
            "packets": found.packets,
            "found_s": round(found.found_s, 2),
            "longest list": found.longest,
            "lists shown": found.shown,
            "more_ms": round(more_ms, 1),
            "memory_mb": [round(mb, 1) for mb in found.memory_mb],
        }
        within &= found.packets > 0 and found.longest <= MOST
        within &= found.found_s <= FOUND_S or KINDS[kind] is many_tables
        within &= more_ms <= ALLOWED_MS and after_mb <= MEMORY_MORE * before_mb
    return {"attacks": attacks, "within": within}


if __name__ == "__main__":
    _, _does, _kind, _seconds = sys.argv
    if _does == "look":
        print(json.dumps(asdict(asyncio.run(look(_kind, float(_seconds))))))
    else:
        attack(_kind, float(_seconds))
