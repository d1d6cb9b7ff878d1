"""A private line: a certificate that the machine knows, or one that is known by its fingerprint, and no other."""

import asyncio
import datetime
import hashlib
import ssl
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
import trustme

from client.connection.address import Address, read_address
from client.connection.link import Connected, Ended, Heard, Link, Lost
from server.admission import Admission
from server.host import READABLE, privacy, tls_context
from server.net.listener import open_listener
from server.store import Store
from tests.server.players import CODE, make_table


@pytest.fixture(scope="module")
def authority() -> trustme.CA:
    return trustme.CA()


@pytest.fixture
def files(authority: trustme.CA, tmp_path: Path) -> tuple[Path, Path]:
    """A certificate and its key, as a host would name them."""
    made = authority.issue_cert("127.0.0.1")
    certificate, key = tmp_path / "cert.pem", tmp_path / "key.pem"
    made.cert_chain_pems[0].write_to_path(certificate)
    made.private_key_pem.write_to_path(key)
    return certificate, key


@asynccontextmanager
async def private_house(files: tuple[Path, Path], port: int = 0) -> AsyncIterator[tuple[int, Admission]]:
    async with Admission.open(Store.open(None)) as admission:
        admission.add(make_table())
        async with open_listener(admission, "127.0.0.1", port, tls=tls_context(*files)) as listener:
            yield listener.port, admission


async def knock(address: Address) -> Heard:
    """Return the first that a client of ours hears from there, but for tries that broke off."""
    link, heard = Link(address, "Ann", CODE, bytes(16)), asyncio.Queue[Heard]()
    async with asyncio.TaskGroup() as group:
        group.create_task(link.run(heard.put_nowait))
        while isinstance(first := await heard.get(), Lost):
            pass
        link.close()
    return first


def fingerprint(files: tuple[Path, Path]) -> str:
    return privacy(files[0]).partition("#")[2].split()[0]


async def test_who_names_the_fingerprint_comes_in(files: tuple[Path, Path]) -> None:
    async with private_house(files) as (port, _):
        address = read_address(f"wss://127.0.0.1:{port}#{fingerprint(files)}")
        assert isinstance(await knock(address), Connected)


async def test_another_certificate_than_the_one_named_is_told_no_code_and_no_token(files: tuple[Path, Path]) -> None:
    async with private_house(files) as (port, admission):
        wrong = "0123456789abcdef0123"
        end = await knock(read_address(f"wss://127.0.0.1:{port}#{wrong}"))
        assert isinstance(end, Ended)
        assert "another certificate" in end.text
        assert admission.keepers[0].table.record.chairs[0].sitter == "nobody"


@pytest.mark.parametrize("at", [0, 1, 2, 7, 15, 19])
async def test_every_digit_of_the_fingerprint_counts(files: tuple[Path, Path], at: int) -> None:
    async with private_house(files) as (port, admission):
        right = fingerprint(files)
        wrong = right[:at] + f"{int(right[at], 16) ^ 1:x}" + right[at + 1 :]
        end = await knock(read_address(f"wss://127.0.0.1:{port}#{wrong}"))
        assert isinstance(end, Ended)
        assert "another certificate" in end.text
        assert admission.keepers[0].table.record.chairs[0].sitter == "nobody"


async def test_a_fingerprint_may_be_named_in_full_and_then_counts_in_full(files: tuple[Path, Path]) -> None:
    whole = hashlib.sha256(ssl.PEM_cert_to_DER_cert(files[0].read_text())).hexdigest()
    async with private_house(files) as (port, _):
        assert isinstance(await knock(read_address(f"wss://127.0.0.1:{port}#{whole}")), Connected)
        wrong = whole[:-1] + f"{int(whole[-1], 16) ^ 1:x}"
        assert isinstance(await knock(read_address(f"wss://127.0.0.1:{port}#{wrong}")), Ended)


async def test_a_certificate_that_nobody_vouches_for_is_refused_with_a_way_out(files: tuple[Path, Path]) -> None:
    async with private_house(files) as (port, _):
        end = await knock(read_address(f"wss://127.0.0.1:{port}"))
        assert isinstance(end, Ended)
        assert "cannot be encrypted" in end.text
        assert "#" in end.text


async def test_a_certificate_that_the_machine_trusts_needs_no_fingerprint(
    files: tuple[Path, Path], authority: trustme.CA, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    authority.cert_pem.write_to_path(tmp_path / "authority.pem")
    monkeypatch.setenv("SSL_CERT_FILE", str(tmp_path / "authority.pem"))
    async with private_house(files) as (port, _):
        assert isinstance(await knock(read_address(f"wss://127.0.0.1:{port}")), Connected)


async def test_a_plain_client_gets_nowhere_on_a_private_port(files: tuple[Path, Path]) -> None:
    async with private_house(files) as (port, _):
        assert isinstance(await knock(read_address(f"127.0.0.1:{port}")), Ended)


async def test_what_goes_over_a_private_line_cannot_be_read_on_the_way(files: tuple[Path, Path]) -> None:
    """The same visit once in the open and once in private: the code is seen on the wire only in the open."""
    for is_private in (False, True):
        seen = bytearray()
        async with Admission.open(Store.open(None)) as admission:
            admission.add(make_table())
            tls = tls_context(*files) if is_private else None
            async with (
                open_listener(admission, "127.0.0.1", 0, tls=tls) as listener,
                _tapped(listener.port, seen) as port,
            ):
                scheme, pin = ("wss", f"#{fingerprint(files)}") if is_private else ("ws", "")
                assert isinstance(await knock(read_address(f"{scheme}://127.0.0.1:{port}{pin}")), Connected)
        assert (b"Boathouse" in seen) is not is_private


@asynccontextmanager
async def _tapped(port: int, seen: bytearray) -> AsyncIterator[int]:
    async def carry(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        far_reader, far_writer = await asyncio.open_connection("127.0.0.1", port)

        async def copy(source: asyncio.StreamReader, to: asyncio.StreamWriter) -> None:
            while data := await source.read(65_536):
                seen.extend(data)
                to.write(data)
            to.close()

        await asyncio.gather(copy(reader, far_writer), copy(far_reader, writer), return_exceptions=True)

    server = await asyncio.start_server(carry, "127.0.0.1", 0)
    async with server:
        yield server.sockets[0].getsockname()[1]


def test_the_host_is_told_who_can_read_along(files: tuple[Path, Path]) -> None:
    assert privacy(None) == READABLE
    said = privacy(files[0])
    assert said.startswith("Private")
    assert len(fingerprint(files)) == 20
    assert len(said) <= 76
    assert len(READABLE) <= 76


def test_a_certificate_file_that_holds_none_is_told_in_a_sentence(tmp_path: Path) -> None:
    path = tmp_path / "none.pem"
    for text in ("", f"{ssl.PEM_HEADER}\nrubbish!\n{ssl.PEM_FOOTER}\n"):
        path.write_text(text)
        with pytest.raises(ValueError, match="certificate"):
            privacy(path)


def _written(authority: trustme.CA, folder: Path, name: str, **how: datetime.datetime) -> tuple[Path, Path]:
    made = authority.issue_cert("127.0.0.1", **how)  # type: ignore[arg-type]
    certificate, key = folder / f"{name}.pem", folder / f"{name}.key"
    made.cert_chain_pems[0].write_to_path(certificate)
    made.private_key_pem.write_to_path(key)
    return certificate, key


def nobody_came(admission: Admission) -> bool:
    return admission.guesses.total == 0 and admission.keepers[0].table.record.chairs[0].sitter == "nobody"


async def test_an_expired_certificate_is_refused_also_from_an_authority_that_the_machine_trusts(
    authority: trustme.CA, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    authority.cert_pem.write_to_path(tmp_path / "authority.pem")
    monkeypatch.setenv("SSL_CERT_FILE", str(tmp_path / "authority.pem"))
    first, last = (datetime.datetime(2020, 1, day, tzinfo=datetime.UTC) for day in (1, 2))
    async with private_house(_written(authority, tmp_path, "old", not_before=first, not_after=last)) as (port, house):
        end = await knock(read_address(f"wss://127.0.0.1:{port}"))
        assert isinstance(end, Ended)
        assert "cannot be encrypted" in end.text
        assert nobody_came(house)


async def test_a_certificate_that_is_changed_in_mid_evening_gets_neither_code_nor_token(
    authority: trustme.CA, files: tuple[Path, Path], tmp_path: Path
) -> None:
    heard = asyncio.Queue[Heard]()
    async with private_house(files) as (port, _):
        link = Link(read_address(f"wss://127.0.0.1:{port}#{fingerprint(files)}"), "Ann", CODE, bytes(16))
        running = asyncio.create_task(link.run(heard.put_nowait))
        assert isinstance(await heard.get(), Connected)
    async with private_house(_written(authority, tmp_path, "other"), port) as (_, house):
        while not isinstance(end := await heard.get(), Ended):
            assert not isinstance(end, Connected)
        assert "another certificate" in end.text
        assert nobody_came(house)
    await running


@pytest.mark.parametrize("alike", [2, 8, 19])
async def test_a_fingerprint_that_only_begins_alike_is_another_one(files: tuple[Path, Path], alike: int) -> None:
    right = fingerprint(files)
    named = right[:alike] + "".join("0" if digit != "0" else "1" for digit in right[alike:])
    async with private_house(files) as (port, house):
        end = await knock(read_address(f"wss://127.0.0.1:{port}#{named}"))
        assert isinstance(end, Ended)
        assert "another certificate" in end.text
        assert nobody_came(house)
