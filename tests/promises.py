"""Every promise of the table, its test, and its cause: python -m tests.promises [--only WORDS].

For each the project is copied aside and the test is run in the copy twice: as it is, where it must pass, and without
the one place that keeps the promise, where it must fail. A test that does anything else proves nothing, and ends this
with exit code 1. Nothing is changed here.
"""

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[1]
SECONDS = 100


@dataclass(frozen=True)
class Promise:
    """What is promised, the test that shows it, and the text of a file whose replacement takes the cause away."""

    what: str
    test: str
    file: str
    cause: str
    instead: str


PROMISES = (
    Promise(
        "a hidden tile reaches no other seat",
        "tests/server/test_secrecy.py",
        "shared/wire/views.py",
        "fresh=() if covered else state.fresh[seat],",
        "fresh=() if covered else state.racks[(seat + 2) % 4][:3],",
    ),
    Promise(
        "nor a frame, a moment or a line of the log that depends on one",
        "tests/server/test_secrecy_wire.py",
        "server/table/keeper.py",
        "            changed |= set(output.changed)\n",
        "            changed |= set(output.changed)\n"
        "            if self.table._heat:\n"
        "                log.debug('%s', len(set(self.table._heat.state.racks[2])))\n",
    ),
    Promise(
        "a card that is not shared is neither told nor kept",
        "tests/server/test_owned_cards.py",
        "shared/cards/owned.py",
        'text if card.share else ""',
        "text",
    ),
    Promise(
        "nor is a hand of it that a plan names",
        "tests/server/test_owned_cards.py",
        "server/table/table.py",
        'intent.model_copy(update={"hand": ""}) if self._keeps_card and isinstance(intent, Plan) else intent',
        "intent",
    ),
    Promise(
        "copies of a card in other words make the same coach",
        "tests/server/test_owned_cards.py",
        "shared/coach/coach.py",
        "    if card.share:\n",
        "    if True:\n",
    ),
    Promise(
        "anyone can verify the wall afterwards",
        "tests/shared/rules/test_heat.py",
        "shared/rules/heat.py",
        "if commitment(heat.secret) != heat.commitment:",
        "if False:",
    ),
    Promise(
        "a client opens nothing once the table has changed its promise",
        "tests/client/models/test_wall.py",
        "client/models/wall.py",
        "if ours.commitment != theirs.commitment:",
        "if False:",
    ),
    Promise(
        "no value for a wall is taken before all are promised",
        "tests/shared/rules/test_wall_round.py",
        "shared/rules/wall_round.py",
        "if not self.now.has_all_hashes:",
        "if False:",
    ),
    Promise(
        "the shuffle is unbiased",
        "tests/shared/rules/test_wall.py",
        "shared/rules/wall.py",
        "other = self.below(last + 1)",
        "other = self.below(last)",
    ),
    Promise(
        "each pass counts exactly once",
        "tests/server/table/test_table_restored.py",
        "server/table/seating.py",
        "known or command.id <= self._record.chairs[chair].last_id",
        "known",
    ),
    Promise(
        "a lost connection keeps the seat",
        "tests/server/table/test_rejoin.py",
        "server/table/seating.py",
        "chair = chair_of_token(self._record, token) if token else None",
        "chair = None",
    ),
    Promise(
        "the newest connection wins",
        "tests/server/test_admission.py",
        "server/table/keeper.py",
        'older.end(Close.SEAT_TAKEN_OVER, "Your seat is now played elsewhere.")',
        "pass",
    ),
    Promise(
        "nothing is acknowledged before it is on the disk",
        "tests/server/table/test_keeper.py",
        "server/table/keeper.py",
        "        if appends:\n            await self._store.append(appends)\n        self.deliver(outputs)\n",
        "        self.deliver(outputs)\n        if appends:\n            await self._store.append(appends)\n",
    ),
    Promise(
        "the disk has it even if the power goes",
        "tests/server/test_store.py",
        "server/store.py",
        "PRAGMA synchronous = FULL",
        "PRAGMA synchronous = OFF",
    ),
    Promise(
        "a restarted table goes on where it was, paused",
        "tests/server/test_host.py",
        "server/table/running.py",
        "return heat if heat.state.paused else heat.plus((ClocksStopped(at_ms=last_ms),))",
        "return heat",
    ),
    Promise(
        "152 tiles, always",
        "tests/simulation/test_simulation.py",
        "shared/rules/exchange.py",
        "return sent, PerSeat.of(lambda seat: by_suit(came[seat]))",
        "return sent, PerSeat.of(lambda seat: by_suit(came[seat])[:2])",
    ),
    Promise(
        "an answer counts if it was read within 250 ms of the deadline",
        "tests/server/table/test_deadlines.py",
        "shared/rules/pace.py",
        "GRACE_MS = 250",
        "GRACE_MS = 200",
    ),
    Promise(
        "a stall of the machine costs nobody time",
        "tests/server/table/test_deadlines.py",
        "server/table/running.py",
        'return (DeadlinesMoved(by_ms=by_ms, why="stall"),) if running else ()',
        "return ()",
    ),
    Promise(
        "no client holds other tables up: floods",
        "tests/server/test_admission.py",
        "server/net/listener.py",
        "if not self._bucket.take(now_ms()):",
        "if False:",
    ),
    Promise(
        "no client holds other tables up: readers that do not read",
        "tests/server/table/test_outbox.py",
        "server/table/outbox.py",
        "async with asyncio.timeout(SLOW_S):",
        "async with asyncio.timeout(None):",
    ),
    Promise(
        "no client holds other tables up: answers that nobody reads",
        "tests/server/table/test_outbox.py",
        "server/net/listener.py",
        "if max(self._ignored, self.transport.get_write_buffer_size()) > UNREAD_LIMIT:",
        "if False:",
    ),
    Promise(
        "no client holds other tables up: requests without end",
        "tests/server/net/test_long_requests.py",
        "server/net/door.py",
        "if self._unread < 0:",
        "if False:",
    ),
    Promise(
        "no crowd without a code fills the port",
        "tests/server/net/test_door.py",
        "server/net/door.py",
        "elif len(self._strangers) >= self.limits.most:",
        "elif False:",
    ),
    Promise(
        "nor the memory, with TLS that is never begun",
        "tests/server/net/test_door.py",
        "server/net/door.py",
        "sslproto.SSLProtocol.max_size = TLS_BUFFER",
        "pass",
    ),
    Promise(
        "nor the log",
        "tests/server/net/test_door.py",
        "server/net/door.py",
        "if told_ms is None or now_ms() - told_ms >= MINUTE_MS:",
        "if True:",
    ),
    Promise(
        "what is kept of one heat or table is worth nothing in another",
        "tests/server/test_replays.py",
        "server/table/table.py",
        "if heat and heat.head.number == command.heat), None)",
        "if heat), None)",
    ),
    Promise(
        "the page starts nothing for a visitor without the code",
        "tests/client/browser/test_entry.py",
        "client/browser/server.py",
        '        if not visitor:\n            return _refused("Say',
        '        if False:\n            return _refused("Say',
    ),
    Promise(
        "nothing of the host's environment reaches a visitor's process",
        "tests/client/browser/test_entry.py",
        "client/browser/process.py",
        "env=clean_environment(self._folder, width, height),",
        "env={**os.environ, **clean_environment(self._folder, width, height)},",
    ),
    Promise(
        "no cookie from elsewhere becomes a seat",
        "tests/client/browser/test_entry.py",
        "client/browser/entry.py",
        "fresh = secrets.token_hex(16)",
        "fresh = cookie or secrets.token_hex(16)",
    ),
    Promise(
        "no host sends a client on to another address",
        "tests/client/connection/test_hostile_hosts.py",
        "client/connection/link.py",
        "        return exc\n",
        "        return super().process_redirect(exc)  # type: ignore[return-value]\n",
    ),
    Promise(
        "every heat that can be kept can be sent",
        "tests/shared/wire/test_messages.py",
        "shared/rules/heat.py",
        "Codec(SavedHeat, 1_000_000,",
        "Codec(SavedHeat, 4_000_000,",
    ),
    Promise(
        "no bytes are more than refused",
        "tests/shared/test_codec.py",
        "shared/codec.py",
        "except (ValueError, msgpack.UnpackException, RecursionError, UnicodeDecodeError) as error:",
        "except RecursionError as error:",
    ),
    Promise(
        "guessing a code is slow",
        "tests/server/test_admission.py",
        "server/net/codes.py",
        "gap_ms = min(self.FIRST_MS << min(count - 1, 16), self.LONGEST_MS)",
        "gap_ms = 0",
    ),
    Promise(
        "so is guessing the code of a desk or a teacher",
        "tests/server/club/test_evening.py",
        "server/admission.py",
        "while wait_ms := self.guesses.wait_ms(one, now_ms()):",
        "while hello.role in ('player', 'watcher') and (wait_ms := self.guesses.wait_ms(one, now_ms())):",
    ),
    Promise(
        "a guess whose line has gone is dropped",
        "tests/server/test_admission.py::test_a_guess_whose_line_has_gone_is_dropped_and_seats_nobody",
        "server/admission.py",
        "                        await wire.read()\n                        raise BadFrame",
        "                        await asyncio.sleep(60)\n                        raise BadFrame",
    ),
    Promise(
        "one table's code opens one table",
        "tests/server/test_admission.py",
        "server/admission.py",
        "if keeper and not self.club and same_code(hello.code, keeper.table.record.code):",
        "keeper = next((one for one in self.keepers if same_code(hello.code, one.table.record.code)), None)\n"
        "            if keeper and not self.club:",
    ),
    Promise(
        "and no table of an evening has one",
        "tests/server/club/test_evening.py",
        "server/admission.py",
        "if keeper and not self.club and same_code(hello.code, keeper.table.record.code):",
        "if keeper and same_code(hello.code, keeper.table.record.code):",
    ),
    Promise(
        "a seat's token never waits",
        "tests/server/test_admission.py",
        "server/admission.py",
        "if not self._returns(hello, line):",
        "if await self._try_code(hello, wire, line) is None:",
    ),
    Promise(
        "a visitor of the browsers' page is counted by their own address, and nobody can claim one",
        "tests/server/test_admission.py",
        "shared/visitors.py",
        "return bool(key) and hmac.compare_digest(visitor_proof(key, address), proof)",
        "return bool(key)",
    ),
    Promise(
        "one address cannot take all chairs and waiting places of an evening",
        "tests/server/club/test_evening.py",
        "server/club/admission.py",
        "return seated < most, len(own) - seated < self._shares.waiting",
        "return True, True",
    ),
    Promise(
        "who comes back is not sent what they have",
        "tests/server/table/test_returning.py",
        "server/table/table.py",
        "if self._is_open(kept) and kept.number not in held.whole:",
        "if self._is_open(kept):",
    ),
    Promise(
        "nor anything faster than is allowed",
        "tests/server/table/test_returning.py",
        "server/table/retelling.py",
        "if not self.owed[chair] or not self._paces[chair].take(now_ms):",
        "if not self.owed[chair]:",
    ),
    Promise(
        "a name cannot act",
        "tests/shared/test_names.py",
        "shared/names.py",
        'return unicodedata.category(char).startswith("C") or char in _BLANKS or selector',
        "return False",
    ),
    Promise(
        "no text of a host acts in a terminal",
        "tests/client/test_hostile_host.py",
        "client/console.py",
        'return unicodedata.category(char) in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")',
        "return False",
    ),
    Promise(
        "nor does any text of a file, or what it is called",
        "tests/client/test_hostile_files.py",
        "client/console.py",
        'return unicodedata.category(char) in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")',
        "return False",
    ),
    Promise(
        "what the system refuses is one sentence",
        "tests/client/commands/test_system_faults.py",
        "shared/troubles.py",
        "return _OF_THE_SYSTEM.get(error.errno or 0) or error.strerror or",
        "return str(error) or",
    ),
    Promise(
        "two at a table cannot look alike",
        "tests/server/table/test_chairs.py",
        "server/table/chairs.py",
        "next(other for other in names if skeleton(other) not in taken)",
        "next(names)",
    ),
    Promise(
        "a web page cannot join",
        "tests/server/test_admission.py",
        "server/net/listener.py",
        'if any(origin not in origins for origin in request.headers.get_all("Origin")):',
        "if False:",
    ),
    Promise(
        "nor one that hides where it is from",
        "tests/server/test_admission.py",
        "server/net/listener.py",
        'if any(origin not in origins for origin in request.headers.get_all("Origin")):',
        'if any(origin not in (*origins, "null") for origin in request.headers.get_all("Origin")):',
    ),
    Promise(
        "nor a request that was meant for another host",
        "tests/server/test_admission.py",
        "server/net/addresses.py",
        "return name in names or is_own_name(name)",
        "return True",
    ),
    Promise(
        "a running heat lies on the disk for its owner alone",
        "tests/server/test_nothing_served.py",
        "shared/private_files.py",
        "path.chmod(0o600)",
        "path.chmod(0o644)",
    ),
    Promise(
        "a private line goes to the certificate that was named",
        "tests/server/net/test_tls.py",
        "client/connection/link.py",
        "if self._address.fingerprint and not _certificate(line).startswith(self._address.fingerprint):",
        "if False:",
    ),
    Promise(
        "every digit that was named counts",
        "tests/server/net/test_tls.py",
        "client/connection/link.py",
        "if self._address.fingerprint and not _certificate(line).startswith(self._address.fingerprint):",
        "if self._address.fingerprint and not _certificate(line).startswith(self._address.fingerprint[:2]):",
    ),
)


def outcome(promise: Promise, root: Path = ROOT) -> str:
    """Return how the promise's test ended without its cause, or why that shows nothing; "failed" is as it should be."""
    if not (root / promise.test.partition("::")[0]).is_file():
        return f"THERE IS NO {promise.test}"
    text = (root / promise.file).read_text()
    if text.count(promise.cause) != 1:
        return f"THE CAUSE STANDS {text.count(promise.cause)} TIMES in {promise.file}"
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "copy"
        shutil.copytree(root, copy, ignore=shutil.ignore_patterns(".git", ".*_cache", "__pycache__", ".hypothesis"))
        whole = _run(copy, promise.test, 3 * SECONDS)
        if whole != "passed":
            return f"WITH ITS CAUSE: {whole}"
        (copy / promise.file).write_text(text.replace(promise.cause, promise.instead))
        ended = _run(copy, promise.test, SECONDS)
    return "PASSED ALL THE SAME" if ended == "passed" else ended


def _run(copy: Path, test: str, seconds: int) -> str:
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-n0", "-p", "no:cacheprovider", test]
    try:
        ended = subprocess.run(
            command, cwd=copy, capture_output=True, timeout=seconds, env={**os.environ, "PYTHONPATH": str(copy)}
        )
    except subprocess.TimeoutExpired:
        return "failed (it waits for ever)"
    return {0: "passed", 1: "failed"}.get(ended.returncode, f"did not run: {ended.stdout[-200:]!r}")


def main() -> int:
    """Take every cause away in turn; exit 1 unless every test fails without its cause."""
    parser = argparse.ArgumentParser(prog="python -m tests.promises", description=__doc__)
    parser.add_argument("--only", default="", help="promises that have these words")
    options = parser.parse_args()
    wrong = 0
    for promise in PROMISES:
        if options.only in promise.what:
            ended = outcome(promise)
            wrong += not ended.startswith("failed")
            print(f"{ended:<22} {promise.what}: {promise.test} without its cause in {promise.file}", flush=True)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
