"""Promises about what comes over a line: floods, frames, codes, roles, names, texts of strangers."""

from tests.promises.promise import Mutant, Promise

LISTENER, ADMISSION, CODES = "server/net/listener.py", "server/admission.py", "server/net/codes.py"
OUTBOX, CODEC, LINK = "server/table/outbox.py", "shared/codec.py", "client/connection/link.py"
HEARING = "client/connection/hearing.py"
CLUB_ADMISSION, CLUB_KEEPER = "server/club/admission.py", "server/club/keeper.py"
ADDRESSES, CONSOLE, NAMES = "server/net/addresses.py", "client/console.py", "shared/names.py"
GUESSING_TESTS, LISTENER_TESTS = "tests/server/test_guessing.py", "tests/server/net/test_listener.py"
CLUB_TESTS, OUTBOX_TESTS = "tests/server/club/test_admission.py", "tests/server/table/test_outbox.py"
ORIGINS = 'if any(origin not in origins for origin in request.headers.get_all("Origin")):'
SHOWN = "if self._address.fingerprint and not _certificate(line).startswith(self._address.fingerprint):"
ACTS = 'return unicodedata.category(char) in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")'
MUTE_CONSOLE = (
    Mutant(CONSOLE, ACTS, "return False"),
    Mutant(CONSOLE, '"Cc", "Cf",', '"Cc",'),
    Mutant(CONSOLE, ACTS, 'return char < " "'),
)

OF_LINES = (
    Promise(
        "no client slows other tables down: floods",
        (LISTENER_TESTS,),
        (
            Mutant(LISTENER, "if not self._bucket.take(now_ms()):", "if False:"),
            Mutant(LISTENER, "burst: int = 80", "burst: int = 800"),
            Mutant(
                LISTENER, "            self.protocol.fail(Close.BAD_FRAME, fault)\n            self.send_data()\n", ""
            ),
            Mutant("shared/bucket.py", "        self._left -= 1\n", ""),
        ),
    ),
    Promise(
        "no client slows other tables down: pings, pongs and pieces of frames",
        ("tests/server/net/test_control_frames.py",),
        (
            Mutant(
                LISTENER,
                "fault = self._fault(event) if isinstance(event, Frame) else None",
                "fault = self._fault(event) if isinstance(event, Frame) and event.opcode in DATA_OPCODES else None",
            ),
            Mutant(
                LISTENER,
                "fault = self._fault(event) if isinstance(event, Frame) else None",
                "fault = self._fault(event) if isinstance(event, Frame) and event.opcode is not Opcode.CONT else None",
            ),
            Mutant(
                LISTENER,
                "fault = self._fault(event) if isinstance(event, Frame) else None",
                "fault = self._fault(event) if isinstance(event, Frame) and event.opcode is not Opcode.PONG else None",
            ),
            Mutant(LISTENER, "_SLICE = 2_048", "_SLICE = 2_048_000"),
        ),
    ),
    Promise(
        "no client slows other tables down: slow readers",
        (OUTBOX_TESTS, "tests/server/club/test_telling.py"),
        (
            Mutant(OUTBOX, "async with asyncio.timeout(SLOW_S):", "async with asyncio.timeout(None):"),
            Mutant(OUTBOX, "        self._view = view\n", "        self._replies.append(view)\n"),
            Mutant(OUTBOX, "        if len(self._replies) > REPLIES:\n            self._cut()\n", ""),
            Mutant("server/club/telling.py", "line.show(frames[role])", "line.tell(frames[role])"),
        ),
    ),
    Promise(
        "no client slows other tables down: unread answers",
        (OUTBOX_TESTS,),
        (
            Mutant(
                LISTENER,
                "if max(self._ignored, self.transport.get_write_buffer_size()) > UNREAD_LIMIT:",
                "if False:",
            ),
            Mutant(LISTENER, "max(self._ignored, self.transport", "max(0, self.transport"),
            Mutant(LISTENER, "max(self._ignored, self.transport.get_write_buffer_size()) >", "self._ignored >"),
        ),
    ),
    Promise(
        "malformed bytes are refused and do nothing else",
        ("tests/shared/test_codec.py", "tests/server/net/test_frames.py"),
        (
            Mutant(
                CODEC,
                "except (ValueError, msgpack.UnpackException, RecursionError, UnicodeDecodeError) as error:",
                "except RecursionError as error:",
            ),
            Mutant(CODEC, "        if len(data) > self.limit:\n", "        if False:\n"),
            Mutant(CODEC, "if char.isprintable())", ")"),
            Mutant(
                ADMISSION,
                "        except BadFrame as error:\n            line.end(Close.BAD_FRAME, str(error))\n",
                "        except BadFrame as error:\n            line.end(Close.WRONG_CODE, str(error))\n",
            ),
        ),
    ),
    Promise(
        "guessing a code is slow (the sum stands below)",
        (GUESSING_TESTS, "tests/server/net/test_codes.py"),
        (
            Mutant(CODES, "gap_ms = min(self.FIRST_MS << min(count - 1, 16), self.LONGEST_MS)", "gap_ms = 0"),
            Mutant(CODES, "            at_ms += self.LONGEST_MS\n", "            pass\n"),
            Mutant(CODES, "+ ahead * self.LONGEST_MS)", ")"),
            Mutant(CODES, "len(known.waiting) >= self.MOST_WAITING:", "False:"),
            Mutant(CODES, "        group = network_of(address)\n", "        group = address\n"),
            Mutant(CODES, "stream.below(len(WORDS))", "stream.below(len(WORDS) // 2)"),
        ),
    ),
    Promise(
        "so is guessing the code of a desk or a teacher",
        (CLUB_TESTS,),
        (
            Mutant(
                ADMISSION,
                "while wait_ms := self.guesses.wait_ms(one, now_ms()):",
                "while hello.role in ('player', 'watcher') and (wait_ms := self.guesses.wait_ms(one, now_ms())):",
            ),
            Mutant(
                ADMISSION,
                "            self.guesses.wrong(one, now_ms())\n",
                "            if hello.role != 'desk':\n                self.guesses.wrong(one, now_ms())\n",
            ),
            Mutant(CLUB_ADMISSION, "return was_here and self.takes(hello)", "return self.takes(hello)"),
            Mutant(CLUB_ADMISSION, "code = codes.get(hello.role, record.code)", "code = record.code"),
        ),
    ),
    Promise(
        "a guess is dropped when its line is gone",
        (GUESSING_TESTS, CLUB_TESTS),
        (
            Mutant(
                ADMISSION,
                "                        await wire.read()\n                        raise BadFrame",
                "                        await asyncio.sleep(60)\n                        raise BadFrame",
            ),
            Mutant(
                ADMISSION,
                "                    async with asyncio.timeout(min(wait_ms, LOOK_AGAIN_MS) / 1_000):\n"
                "                        await wire.read()\n"
                '                        raise BadFrame("Wait for the welcome before you send anything.")\n',
                "                    await asyncio.sleep(wait_ms / 1_000)\n",
            ),
            Mutant(
                ADMISSION,
                "        finally:\n            self.guesses.leave(one)\n",
                "        finally:\n            pass\n",
            ),
            Mutant(CLUB_ADMISSION, "        if line.is_lost:\n            return\n", ""),
        ),
    ),
    Promise(
        "one table's code opens one table",
        (GUESSING_TESTS, "tests/server/test_admission.py"),
        (
            Mutant(
                ADMISSION,
                "if keeper and not self.club and same_code(hello.code, keeper.table.record.code):",
                "keeper = next((one for one in self.keepers if same_code(hello.code, one.table.record.code)), None)\n"
                "            if keeper and not self.club:",
            ),
            Mutant(ADMISSION, "if keeper.name == hello.table), None)", "), None)"),
            Mutant(ADMISSION, "same_code(hello.code, keeper.table.record.code):", "hello.code:"),
        ),
    ),
    Promise(
        "and no table of an evening has a code of its own",
        (CLUB_TESTS, "tests/server/net/test_codes.py::test_an_empty_code_opens_nothing"),
        (
            Mutant(
                ADMISSION,
                "if keeper and not self.club and same_code(hello.code, keeper.table.record.code):",
                "if keeper and same_code(hello.code, keeper.table.record.code):",
            ),
            Mutant(CODES, "return bool(code) and hmac", "return hmac"),
            Mutant("server/club/club.py", 'code="",  # people', "code=self.record.code,  # people"),
        ),
    ),
    Promise(
        "who holds a seat's token never waits",
        (GUESSING_TESTS, CLUB_TESTS),
        (
            Mutant(
                ADMISSION, "if not self._returns(hello, line):", "if await self._try_code(hello, wire, line) is None:"
            ),
            Mutant(
                ADMISSION,
                "        if not self._returns(hello, line):\n            if wire.is_crowded:\n",
                "        if wire.is_crowded or not self._returns(hello, line):\n            if wire.is_crowded:\n",
            ),
            Mutant(OUTBOX, "        self._wire.settle()\n", ""),
            Mutant(CLUB_ADMISSION, 'return hello.role == "player" and self._waits(digest)', "return False"),
        ),
    ),
    Promise(
        "a visitor of the page for browsers is counted by their own address, and nobody can claim one",
        (GUESSING_TESTS, "tests/shared/test_visitors.py"),
        (
            Mutant(
                "shared/visitors.py",
                "return bool(key) and hmac.compare_digest(visitor_proof(key, address), proof)",
                "return bool(key)",
            ),
            Mutant("shared/visitors.py", "return bool(key) and hmac", "return hmac"),
            Mutant("shared/visitors.py", "_DOMAIN + address.encode()", "_DOMAIN"),
            Mutant(ADMISSION, "            line.address = hello.visitor.address\n", "            pass\n"),
            Mutant("shared/visitors.py", "        create_private(path)\n", "        path.touch()\n"),
        ),
    ),
    Promise(
        "one address cannot take all chairs and waiting places of an evening",
        (CLUB_TESTS,),
        (
            Mutant(
                CLUB_ADMISSION,
                "return seated < most, len(own) - seated < self._shares.waiting",
                "return True, len(own) - seated < self._shares.waiting",
            ),
            Mutant(
                CLUB_ADMISSION,
                "return seated < most, len(own) - seated < self._shares.waiting",
                "return seated < most, True",
            ),
            Mutant(CLUB_ADMISSION, 'if role == "watcher" and here >=', "if False and here >="),
            Mutant(CLUB_ADMISSION, "if len(others) >= MOST_BESIDE[role]:", "if False:"),
        ),
    ),
    Promise(
        "only a desk can do what a desk may",
        (CLUB_TESTS,),
        (
            Mutant(CLUB_KEEPER, 'if self.telling.roles.get(line) == "desk":', "if True:"),
            Mutant(CLUB_KEEPER, 'if self.telling.roles.get(line) == "desk":', "if self.telling.roles.get(line):"),
            Mutant(
                ADMISSION,
                "            if not line.is_welcome:\n"
                '                raise BadFrame("Wait for the welcome before you send anything.")\n',
                "",
            ),
        ),
    ),
    Promise(
        "a name cannot control a terminal",
        (
            "tests/shared/test_names.py",
            "tests/client/tui/widgets/test_canvas.py",
            "tests/client/test_hostile_host.py::test_no_escape_sequence_of_a_host_reaches_a_terminal_from_a_screen",
        ),
        (
            Mutant(
                NAMES,
                'return unicodedata.category(char).startswith("C") or char in _BLANKS or selector',
                "return False",
            ),
            Mutant(NAMES, 'return unicodedata.category(char).startswith("C") or', 'return char < " " or'),
            Mutant(NAMES, " or char in _BLANKS or selector", " or selector"),
            Mutant(NAMES, "        if used > cells:\n            break\n", ""),
            Mutant(NAMES, "if marks > _MARKS or (", "if ("),
            Mutant("client/tui/widgets/canvas.py", "    if acts(character):\n", "    if False:\n"),
        ),
    ),
    Promise("text from a host cannot control a terminal", ("tests/client/test_hostile_host.py",), MUTE_CONSOLE),
    Promise("nor can text from a file, or its name", ("tests/client/test_hostile_files.py",), MUTE_CONSOLE),
    Promise(
        "an error of the system becomes one sentence",
        ("tests/client/commands/test_system_faults.py",),
        (
            Mutant(
                "shared/troubles.py",
                "return _OF_THE_SYSTEM.get(error.errno or 0) or error.strerror or",
                "return str(error) or",
            ),
            Mutant("shared/troubles.py", '    errno.ENOSPC: "the disk is full",\n', ""),
            Mutant("shared/troubles.py", "        return _OF_SQLITE[name]\n", "        return name\n"),
        ),
    ),
    Promise(
        "a web page in a browser cannot join",
        (LISTENER_TESTS,),
        (
            Mutant(LISTENER, ORIGINS, "if False:"),
            Mutant(LISTENER, ORIGINS, 'if request.headers.get("Origin", "x") == "":'),
            Mutant(LISTENER, "any(origin not in origins for", "all(origin not in origins for"),
        ),
    ),
    Promise(
        "nor one that hides its origin",
        (LISTENER_TESTS,),
        (
            Mutant(LISTENER, ORIGINS, ORIGINS.replace("in origins", 'in (*origins, "null")')),
            Mutant(LISTENER, ORIGINS, ORIGINS.replace("if any(origin", 'if any(origin.lower() != "null" and origin')),
            Mutant(LISTENER, ORIGINS, ORIGINS.replace("if any(origin", "if any(origin.strip() and origin")),
        ),
    ),
    Promise(
        "nor a request for another host",
        (LISTENER_TESTS,),
        (
            Mutant(ADDRESSES, "return name in names or is_own_name(name)", "return True"),
            Mutant(LISTENER, "if len(hosts) != 1 or not", "if hosts and not"),
            Mutant(LISTENER, "if len(hosts) != 1 or not", "if not hosts or not"),
            Mutant(ADDRESSES, "host.lower() in (", "host.lower().partition('.')[0] in ('elsewhere', "),
        ),
    ),
    Promise(
        "no host sends a client on to another address",
        ("tests/client/connection/test_hostile_hosts.py",),
        (
            Mutant(
                LINK,
                "        return exc\n",
                "        return super().process_redirect(exc)  # type: ignore[return-value]\n",
            ),
            Mutant(LINK, "line = await _ConnectThere(", "line = await connect("),
            Mutant(
                LINK,
                "        return exc\n",
                '        there = getattr(exc, "response", None)\n'
                '        return there.headers["Location"] if there and "Location" in there.headers else exc\n',
            ),
        ),
    ),
    Promise(
        "no host talks so much that its players' keys wait",
        ("tests/client/connection/test_hostile_hosts.py",),
        (
            Mutant(LINK, "                await self._hearing.wait(message, len(frame))\n", ""),
            Mutant(HEARING, "range(1 + length // _PIECE_BYTES)", "range(1)"),
            Mutant(HEARING, "isinstance(message, OwnHeat | HeatFile", "isinstance(message, OwnHeat"),
            Mutant(HEARING, "and not self._closing.is_set():", "and False:"),
            Mutant(HEARING, " and not self._closing.is_set():", ":"),
            Mutant(HEARING, "length > LONGEST_VIEW", "False"),
            Mutant(HEARING, "            return phase\n", '            return ""\n'),
            Mutant(HEARING, "chair {chair} of {table}", "chair"),
            Mutant(HEARING, "            self._screen = screen\n", ""),
        ),
    ),
    Promise(
        "an encrypted connection accepts only the named certificate",
        ("tests/server/net/test_tls.py",),
        (
            Mutant(LINK, SHOWN, "if False:"),
            Mutant(
                LINK,
                "ssl=_unverified() if self._address.fingerprint else self._address.private or None,",
                "ssl=_unverified() if self._address.private else None,",
            ),
            Mutant(LINK, "getpeercert(True)).hexdigest()", "getpeercert(True)[:300]).hexdigest()"),
        ),
    ),
    Promise(
        "and compares every digit of the fingerprint",
        ("tests/server/net/test_tls.py",),
        (
            Mutant(LINK, SHOWN, SHOWN.replace("(self._address.fingerprint)", "(self._address.fingerprint[:2])")),
            Mutant(LINK, SHOWN, SHOWN.replace("(self._address.fingerprint)", "(self._address.fingerprint[:-1])")),
            Mutant(
                LINK, SHOWN, SHOWN.replace(".startswith(self", "[:16].startswith(self").replace("int):", "int[:16]):")
            ),
        ),
    ),
)
