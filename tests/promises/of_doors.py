"""Promises about doors: who may stand there, what the log says, the page for browsers, files on the disk."""

from tests.promises.promise import Mutant, Promise

DOOR, LISTENER, PAGE = "server/net/door.py", "server/net/listener.py", "client/browser/server.py"
ENTRY, PROCESS, PRIVATE = "client/browser/entry.py", "client/browser/process.py", "shared/private_files.py"
DOOR_TESTS, ENTRY_TESTS = "tests/server/net/test_door.py", "tests/client/browser/test_entry.py"
PAGE_TESTS = "tests/client/browser/test_server.py"

OF_DOORS = (
    Promise(
        "no client slows other tables down: endless requests",
        ("tests/server/net/test_long_requests.py", DOOR_TESTS),
        (
            Mutant(DOOR, "if self._unread < 0:", "if False:"),
            Mutant(DOOR, "self._unread -= len(data)", "self._unread -= 1"),
            Mutant(DOOR, "    bytes: int = 32 * 1024\n", "    bytes: int = 32 * 1024 * 1024\n"),
        ),
    ),
    Promise(
        "no crowd without a code fills the table's port",
        (DOOR_TESTS, "tests/server/net/test_listener.py::test_forty_frames_a_second_are_nobodys_flood"),
        (
            Mutant(DOOR, "elif len(self._strangers) >= self.limits.most:", "elif False:"),
            Mutant(DOOR, "if self._by_network[network] >= self.limits.each:", "if False:"),
            Mutant(
                DOOR,
                'door.limits.seconds, self.turn_out, "Connections that did not say in time what they want"',
                '600, self.turn_out, "Connections that did not say in time what they want"',
            ),
            Mutant(DOOR, "fullest = max(self._by_network, key=", "fullest = min(self._by_network, key="),
            Mutant(DOOR, "peer, network_of(peer), now_ms()", "peer, peer, now_ms()"),
            Mutant(LISTENER, "        let_in(self.transport)\n", ""),
        ),
    ),
    Promise(
        "nor its memory, with TLS that is never begun",
        (DOOR_TESTS,),
        (
            Mutant(DOOR, "sslproto.SSLProtocol.max_size = TLS_BUFFER", "pass"),
            Mutant(DOOR, "            traceback.clear_frames(error.__traceback__)\n", "            pass\n"),
            Mutant(DOOR, "                self._line.shutdown(socket.SHUT_RDWR)\n", "                pass\n"),
        ),
    ),
    Promise(
        "nor its descriptors",
        (DOOR_TESTS,),
        (
            Mutant(DOOR, "while self.open_lines >= self.limits.descriptors:", "while False:"),
            Mutant(DOOR, "                await asyncio.sleep(PAUSE_S)\n", ""),
            Mutant(
                LISTENER,
                "inside = min(limits.connections, (descriptors - at_door) // 2)",
                "inside = limits.connections",
            ),
            Mutant(DOOR, "        self.open_lines -= 1\n", ""),
        ),
    ),
    Promise(
        "nor its log",
        (DOOR_TESTS,),
        (
            Mutant(DOOR, "if told_ms is None or now_ms() - told_ms >= MINUTE_MS:", "if True:"),
            Mutant(DOOR, "now_ms() - told_ms >= MINUTE_MS", "now_ms() - told_ms >= 600"),
            Mutant(
                DOOR,
                "            except OSError as error:\n",
                "            except OSError as error:\n                log.warning('%s', error)\n",
            ),
        ),
    ),
    Promise(
        "the page starts nothing for a visitor without the code",
        (ENTRY_TESTS,),
        (
            Mutant(
                PAGE,
                '        if not visitor:\n            return _refused("Say',
                '        if False:\n            return _refused("Say',
            ),
            Mutant(ENTRY, "        if isinstance(answer, Ended | Lost):\n", "        if isinstance(answer, Lost):\n"),
            Mutant(
                PAGE,
                '        return self.entry.visitor(request.cookies.get(_cookie(request), ""))',
                "        return next(iter(self.entry._known.values()), None)",
            ),
        ),
    ),
    Promise(
        "the page answers while crowds stand at its door, and no address takes all its places",
        (ENTRY_TESTS, PAGE_TESTS),
        (
            Mutant(PAGE, "if self.here[peer] >= self.each:", "if False:"),
            Mutant(PAGE, "if self.here.total() >= self.most:", "if False:"),
            Mutant(
                ENTRY, "return self._asking.total() < ASKING_MOST and self._asking[peer] < ASKING_EACH", "return True"
            ),
            Mutant(PAGE, "client_max_size=FORM_BYTES", "client_max_size=1_000_000_000"),
        ),
    ),
    Promise(
        "a visitor's process ends with its line",
        (ENTRY_TESTS, PAGE_TESTS),
        (
            Mutant(PAGE, "            process.kill()\n", "            pass\n"),
            Mutant(PAGE, "END_S = 0.3", "END_S = 30.0"),
            Mutant(PAGE, "return_when=asyncio.FIRST_COMPLETED", "return_when=asyncio.ALL_COMPLETED"),
        ),
    ),
    Promise(
        "nothing of the host's environment reaches a visitor's process",
        (ENTRY_TESTS,),
        (
            Mutant(
                PROCESS,
                "env=clean_environment(self._folder, width, height),",
                "env={**os.environ, **clean_environment(self._folder, width, height)},",
            ),
            Mutant(
                PROCESS,
                "kept = {name: os.environ[name] for name in _KEPT if name in os.environ}",
                "kept = dict(os.environ)",
            ),
            Mutant(PROCESS, "dict.fromkeys(_HOMES, str(folder))", "{}"),
        ),
    ),
    Promise(
        "no cookie from elsewhere becomes a seat",
        (ENTRY_TESTS,),
        (
            Mutant(ENTRY, "fresh = secrets.token_hex(16)", "fresh = cookie or secrets.token_hex(16)"),
            Mutant(ENTRY, "before is not None and (before.name, before.code) == (name, code)", "before is not None"),
            Mutant(ENTRY, "            self._known.pop(cookie, None)\n", "            pass\n"),
        ),
    ),
    Promise(
        "visitors of the page keep their seats when it is started anew",
        (ENTRY_TESTS,),
        (
            Mutant(ENTRY, "write_whole(self._kept, _KNOWN.pack(self._known))", "pass"),
            Mutant(ENTRY, "read_at_most(kept, _KNOWN.limit)", 'b""'),
            Mutant(PAGE, "self.entry = Entry(table, key, kept)", "self.entry = Entry(table, key)"),
            Mutant(ENTRY, "secret = before.secret if before and is_back else ", "secret = "),
            Mutant(ENTRY, '{read_address(table)} {port}"', '{read_address(table)}"'),
        ),
    ),
    Promise(
        "only the owner can read a running heat on the disk",
        ("tests/server/test_nothing_served.py", "tests/server/test_store.py"),
        (
            Mutant(PRIVATE, "path.chmod(0o600)", "path.chmod(0o644)"),
            Mutant(PRIVATE, "    path.chmod(0o600)\n", ""),
            Mutant(PRIVATE, "one.mkdir(mode=0o700, exist_ok=True)", "one.mkdir(exist_ok=True)"),
            Mutant("server/store.py", "                create_private(path)\n", "                path.touch()\n"),
        ),
    ),
)
