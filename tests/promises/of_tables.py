"""Promises of a table and of an evening: tiles, walls, passes, seats, clocks, the disk."""

from tests.promises.promise import Mutant, Promise

VIEWS, KEEPER, TABLE = "shared/wire/views.py", "server/table/keeper.py", "server/table/table.py"
SEATING, RUNNING, STORE = "server/table/seating.py", "server/table/running.py", "server/store.py"
CLUB_TABLE, BESIDE, TRANSACTIONS = "server/club/table.py", "server/table/beside.py", "server/club/transactions.py"
CLUB_SEATING, CLUB_ADMISSION = "server/club/seating.py", "server/club/admission.py"
OWNED, HEAT, WALL = "shared/cards/owned.py", "shared/rules/heat.py", "shared/rules/wall.py"
EXCHANGE, PACE = "shared/rules/exchange.py", "shared/rules/pace.py"
CLUB_TESTS, RESTORED_TESTS = "tests/server/club/test_club.py", "tests/server/club/test_restored.py"
BESIDE_TESTS = "tests/server/club/test_beside_the_tables.py"
EVENING_TESTS, KEEPER_TESTS = "tests/server/club/test_evening.py", "tests/server/table/test_keeper.py"

OF_TABLES = (
    Promise(
        "a hidden tile reaches no other seat",
        (
            "tests/server/test_secrecy.py::test_a_seat_is_sent_the_same_bytes_whatever_it_cannot_see",
            "tests/server/club/test_same_deal.py::test_nothing_of_a_heat_is_told_before_every_table_has_finished_it",
            f"{BESIDE_TESTS}::test_a_watcher_sees_seats_steps_and_results_and_no_tile",
            f"{BESIDE_TESTS}::test_a_teacher_sees_the_racks_of_those_who_agreed_while_the_host_lets_them",
        ),
        (
            Mutant(
                VIEWS,
                "fresh=() if covered else state.fresh[seat],",
                "fresh=() if covered else state.racks[(seat + 2) % 4][:3],",
            ),
            Mutant(
                VIEWS,
                "rack=() if covered else state.racks[seat],",
                "rack=() if covered else state.racks[seat] + state.racks[(seat + 1) % 4][:1],",
            ),
            Mutant(VIEWS, "final=state.racks[seat] if opened else (),", "final=state.racks[seat],"),
            Mutant(VIEWS, 'secret=heat.secret.hex() if opened else "",', "secret=heat.secret.hex(),"),
            Mutant(CLUB_TABLE, "return super()._is_open(heat) and not is_held", "return super()._is_open(heat)"),
            Mutant(BESIDE, "rack=_rack(heat, seat) if with_racks and shows and", "rack=_rack(heat, seat) if"),
            Mutant(BESIDE, "return self._lets_see() and self._record.chairs[chair].shows", "return self._lets_see()"),
        ),
    ),
    Promise(
        "nothing another seat gets, and no log line, depends on a hidden tile: no frame, no timing",
        (
            "tests/server/club/test_coach.py",
            "tests/server/test_secrecy.py::test_when_a_bird_answers_tells_nothing_about_its_tiles",
            "tests/server/test_secrecy_wire.py",
        ),
        (
            Mutant(
                KEEPER,
                "            changed |= set(output.changed)\n",
                "            changed |= set(output.changed)\n"
                "            if self.table._heat:\n"
                "                log.debug('%s', len(set(self.table._heat.state.racks[2])))\n",
            ),
            Mutant(
                KEEPER,
                "            for _ in range(DRAIN_TURNS):\n                await asyncio.sleep(0)\n",
                "            heat = getattr(self.table, '_heat', None)\n"
                "            await asyncio.sleep(len(set(heat.state.racks[2])) / 1_000 if heat else 0)\n",
            ),
            Mutant(
                TABLE,
                "bots.delay_ms(head.settings, step, stream), now_ms)",
                "bots.delay_ms(head.settings, step, stream) + 9 * len(set(heat.state.racks[seat])), now_ms)",
            ),
            Mutant(
                "server/club/results.py",
                "for (number, heat), kept in heats if is_open(number, kept) for key in",
                "for (number, heat), kept in heats for key in",
            ),
        ),
    ),
    Promise(
        "who watches a table gets no tile without the host's word and its player's, and never plays what they saw",
        (
            "tests/server/table/test_beside.py",
            "tests/server/test_secrecy_wire.py::test_who_watches_without_consent_is_told_the_same_whatever_the_racks_hold",
        ),
        (
            Mutant(BESIDE, "rack=_rack(heat, seat) if with_racks and shows and", "rack=_rack(heat, seat) if shows and"),
            Mutant(BESIDE, "sees = one is not None and one.sees and self._was_shown", "sees = one is not None"),
            Mutant(BESIDE, "            self._ask_anew()\n        else:", "            pass\n        else:"),
            Mutant(BESIDE, "self._record = self._noted(self._heat.head.number)", "pass"),
            Mutant(TABLE, 'late == "next heat" or self._was_shown):', 'late == "next heat"):'),
            Mutant(
                BESIDE, "return () if heat.state.paused else heat.state.racks[seat]", "return heat.state.racks[seat]"
            ),
            Mutant(BESIDE, "if not isinstance(command.intent, Leave) or one is None:", "if one is None:"),
        ),
    ),
    Promise(
        "a card that is not shared is neither told nor kept",
        ("tests/server/test_owned_cards.py",),
        (
            Mutant(OWNED, 'text if card.share else ""', "text"),
            Mutant("server/table/ended.py", "            card=record.card,\n", "            card=self._card,\n"),
            Mutant("server/club/club.py", "return ClubTable(table, ", "return ClubTable(table.with_(card=own_card), "),
        ),
    ),
    Promise(
        "nor is a hand of it that a plan names",
        ("tests/server/test_owned_cards.py",),
        (
            Mutant(
                TABLE,
                'intent.model_copy(update={"hand": ""}) if self._keeps_card and isinstance(intent, Plan) else intent',
                "intent",
            ),
            Mutant(TABLE, "bool(record.card_digest) and not record.card\n", "False\n"),
            Mutant(TABLE, "replace(turn, intent=self._told_of(intent))", "replace(turn, intent=intent)"),
        ),
    ),
    Promise(
        "copies of a card in other words make the same coach",
        ("tests/server/test_owned_cards.py",),
        (
            Mutant("shared/coach/coach.py", "    if card.share:\n", "    if True:\n"),
            Mutant(OWNED, ", key=lambda pair: pair[0])", ", key=lambda pair: pair[1].id)"),
            Mutant(
                "shared/coach/coach.py",
                "sorted(expand(ordered), key=lambda variant: (variant.hand, variant.pairs, variant.groups))",
                "expand(ordered)",
            ),
        ),
    ),
    Promise(
        "anyone can verify the wall afterwards",
        ("tests/shared/rules/test_heat.py",),
        (
            Mutant(HEAT, "if commitment(heat.secret) != heat.commitment:", "if False:"),
            Mutant(HEAT, "if heat.events[: len(opening)] != opening:", "if False:"),
            Mutant(HEAT, "if heat.events[done : done + len(due)] != due:", "if False:"),
            Mutant(HEAT, 'if _digest(replace_last_text(data, heat.digest, "")) != heat.digest:', "if False:"),
        ),
    ),
    Promise(
        "a client opens nothing once the table has changed its promise",
        ("tests/client/models/test_wall_changed.py",),
        (
            Mutant("client/models/wall.py", "if ours.commitment != theirs.commitment:", "if False:"),
            Mutant("client/models/wall.py", "if ours.chairs != theirs.chairs:", "if False:"),
            Mutant("client/models/wall.py", "if was[chair] and was[chair] != now[chair]:", "if False:"),
        ),
    ),
    Promise(
        "no value for a wall is taken before all are promised",
        ("tests/shared/rules/test_wall_round.py",),
        (
            Mutant("shared/rules/wall_round.py", "if not self.now.has_all_hashes:", "if False:"),
            Mutant("shared/rules/wall_round.py", "if self.now.hashes[chair]:", "if False:"),
            Mutant(
                "shared/rules/wall_round.py", "if not fits(self.table, self.heat, self.now, chair, value):", "if False:"
            ),
        ),
    ),
    Promise(
        "the shuffle is unbiased",
        ("tests/shared/rules/test_wall.py",),
        (
            Mutant(WALL, "other = self.below(last + 1)", "other = self.below(last)"),
            Mutant(WALL, "            if drawn < fair:\n", "            if True:\n"),
            Mutant(WALL, "range(len(order) - 1, 0, -1)", "range(len(order) - 1, 1, -1)"),
        ),
    ),
    Promise(
        "each pass counts exactly once",
        (
            "tests/server/table/test_table_restored.py",
            f"{CLUB_TESTS}::test_a_command_that_comes_twice_is_done_once",
            f"{EVENING_TESTS}::test_a_desk_that_repeats_itself_after_a_cut_is_answered_and_nothing_is_done_twice",
        ),
        (
            Mutant(SEATING, "known or command.id <= self._record.chairs[chair].last_id", "known"),
            Mutant(SEATING, "        self._change(chair, last_id=command.id)\n", ""),
            Mutant(SEATING, "command.id <= self._record", "command.id < self._record"),
            Mutant("server/club/club.py", "if command.id <= self.record.desk_last_id(desk):", "if False:"),
        ),
    ),
    Promise(
        "a player who loses the connection keeps the seat",
        (
            "tests/server/table/test_rejoin.py",
            f"{EVENING_TESTS}::test_somebody_moved_while_the_line_is_down_comes_back_to_the_new_chair",
        ),
        (
            Mutant(SEATING, "chair = chair_of_token(self._record, token) if token else None", "chair = None"),
            Mutant(
                SEATING,
                "        self._connected.discard(chair)\n        if chair == self._record.host:\n",
                "        self._connected.discard(chair)\n        self._change(chair, stand_in=True)\n"
                "        if chair == self._record.host:\n",
            ),
            Mutant(
                "server/table/chairs.py",
                "        if hmac.compare_digest(record.chairs[chair].token_hash, wanted):\n            return chair\n",
                "        if hmac.compare_digest(record.chairs[chair].token_hash, wanted):\n            return 0\n",
            ),
            Mutant(
                CLUB_TABLE,
                '                "stand_in": self._heat is not None,\n',
                '                "stand_in": self._heat is not None,\n                "token_hash": b"",\n',
            ),
        ),
    ),
    Promise(
        "the newest connection wins",
        ("tests/server/test_admission.py", "tests/server/club/test_telling.py"),
        (
            Mutant(KEEPER, 'older.end(Close.SEAT_TAKEN_OVER, "Your seat is now played elsewhere.")', "pass"),
            Mutant(
                KEEPER,
                "                if line.chair is None or self.lines.get(line.chair) is not line:\n"
                "                    return None\n                return self.table.command(",
                "                if line.chair is None:\n"
                "                    return None\n                return self.table.command(",
            ),
            Mutant(
                KEEPER,
                "        self.lines[joined.chair] = line\n",
                "        self.lines.setdefault(joined.chair, line)\n",
            ),
            Mutant(
                "server/club/telling.py",
                'older.end(Close.SEAT_TAKEN_OVER, "Your place is now held elsewhere.")',
                "pass",
            ),
        ),
    ),
    Promise(
        "another machine has somebody's seat only by the host's word, at an evening the desk's",
        ("tests/server/table/test_other_machines.py", "tests/server/club/test_other_machines.py"),
        (
            Mutant(
                SEATING,
                "token_hash == token_hash and asking.may:\n            return None",
                "token_hash == token_hash:\n            return None",
            ),
            Mutant(SEATING, "if self._is_played_elsewhere(token_hash):", "if False:"),
            Mutant(CLUB_ADMISSION, '"desk" not in self._telling.roles.values() or ', ""),
            Mutant(CLUB_SEATING, "table.know_as(old, person_of(token))", "pass"),
            Mutant(CLUB_ADMISSION, "club.results.know_as(one.before, person_of(line.token))", "pass"),
            Mutant(CLUB_ADMISSION, "if club.is_played_elsewhere(line.token):", "if False:"),
        ),
    ),
    Promise(
        "the table acknowledges nothing before it is on the disk",
        (KEEPER_TESTS, "tests/server/club/test_keeper.py"),
        (
            Mutant(
                KEEPER,
                "        if appends:\n            await self._store.append(appends)\n        self.deliver(outputs)\n",
                "        self.deliver(outputs)\n        if appends:\n            await self._store.append(appends)\n",
            ),
            Mutant(KEEPER, "            await self._store.append(appends)\n", "            pass\n"),
            Mutant(KEEPER, "        self.table.go_back(before, sorted(self.lines))\n\n    def _bug", "\n    def _bug"),
            Mutant(TRANSACTIONS, "        await self._store.append(appends)\n", ""),
        ),
    ),
    Promise(
        "what it acknowledged survives a power failure",
        ("tests/server/test_store.py",),
        (
            Mutant(STORE, "PRAGMA synchronous = FULL", "PRAGMA synchronous = OFF"),
            Mutant(STORE, "PRAGMA synchronous = FULL", "PRAGMA synchronous = NORMAL"),
            Mutant(
                STORE,
                '                self._write(append)\n            self._disk.execute("COMMIT")\n',
                "                self._write(append)\n",
            ),
            Mutant(STORE, '            self._disk.execute("ROLLBACK")\n', '            self._disk.execute("COMMIT")\n'),
        ),
    ),
    Promise(
        "a restarted table resumes where it was, paused",
        (
            "tests/server/table/test_table_restored.py",
            KEEPER_TESTS,
            RESTORED_TESTS,
            "tests/server/test_host.py::test_a_killed_host_loses_no_acknowledged_pass_and_offers_to_go_on",
        ),
        (
            Mutant(
                RUNNING,
                "return heat if heat.state.paused else heat.plus((ClocksStopped(at_ms=last_ms),))",
                "return heat",
            ),
            Mutant(
                RUNNING,
                "heat.plus((ClocksStopped(at_ms=last_ms),))",
                "heat.plus((ClocksStopped(at_ms=last_ms + 5_000),))",
            ),
            Mutant(TABLE, "for heat in finished if heat.number >= self._record.set_first)", "for heat in ())"),
            Mutant(
                "server/club/club.py",
                "            self._take_in(number, table)\n        for number, kept in earlier:",
                "            pass\n        for number, kept in earlier:",
            ),
        ),
    ),
    Promise(
        "there are always 152 tiles",
        ("tests/shared/rules/test_machine.py", "tests/simulation/test_simulation.py"),
        (
            Mutant(
                EXCHANGE,
                "return sent, PerSeat.of(lambda seat: by_suit(came[seat]))",
                "return sent, PerSeat.of(lambda seat: by_suit(came[seat])[:2])",
            ),
            Mutant(EXCHANGE, "if place not in places]", "]"),
            Mutant(WALL, "return racks, wall[cuts[4] :]", "return racks, wall[cuts[4] + 1 :]"),
        ),
    ),
    Promise(
        "an answer counts if it was read within 250 ms of the deadline",
        ("tests/server/table/test_deadlines.py",),
        (
            Mutant(PACE, "GRACE_MS = 250", "GRACE_MS = 200"),
            Mutant(PACE, "now_ms > deadline_ms + GRACE_MS", "now_ms >= deadline_ms + GRACE_MS"),
            Mutant(KEEPER, "sorted(items, key=lambda item: item.at_ms)", "items"),
            Mutant(KEEPER, "DRAIN_TURNS = 2", "DRAIN_TURNS = 0"),
        ),
    ),
    Promise(
        "a stall of the machine costs no player time",
        ("tests/server/table/test_deadlines.py", "tests/server/test_clock.py"),
        (
            Mutant(RUNNING, 'return (DeadlinesMoved(by_ms=by_ms, why="stall"),) if running else ()', "return ()"),
            Mutant(KEEPER, "_Stall(now_ms() - by_ms, by_ms)", "_Stall(now_ms(), by_ms)"),
            Mutant("server/clock.py", "if late_ms > STALL_MS:", "if late_ms > 10 * STALL_MS:"),
            Mutant("server/admission.py", "in enumerate(self.keepers):", "in enumerate(self.keepers[:1]):"),
        ),
    ),
    Promise(
        "what is kept of one heat or table is worth nothing in another",
        (
            "tests/server/test_replays.py",
            f"{CLUB_TESTS}::test_who_moves_during_a_heat_leaves_it_to_a_bot_and_finds_one_in_the_new_seat",
        ),
        (
            Mutant(TABLE, "if heat and heat.head.number == command.heat), None)", "if heat), None)"),
            Mutant(TABLE, "heat.head.number == command.heat), None)", "heat.head.number >= command.heat), None)"),
            Mutant(
                "server/table/chairs.py",
                "        if hmac.compare_digest(record.chairs[chair].token_hash, wanted):\n",
                "        if record.chairs[chair].token_hash:\n",
            ),
        ),
    ),
    Promise(
        "every heat that can be saved fits one frame",
        (
            "tests/shared/wire/test_messages.py::test_every_heat_that_can_be_kept_can_be_sent",
            "tests/shared/rules/test_heat.py::test_a_condensed_heat_is_true_and_ends_in_the_same_state",
            "tests/shared/rules/test_heat.py::test_the_longest_heat_that_people_can_make_is_a_saved_heat",
            "tests/server/table/test_table_heats.py"
            "::test_a_host_cannot_hold_a_step_for_ever_and_make_its_heat_too_long_to_send",
        ),
        (
            Mutant(HEAT, "Codec(SavedHeat, 1_000_000,", "Codec(SavedHeat, 4_000_000,"),
            Mutant("shared/rules/charleston.py", "HELD = 100", "HELD = 2_000"),
            Mutant(TABLE, "if heat.state.held >= charleston.HELD and", "if False and"),
            Mutant(HEAT, "                replaced.add((event.seat, event.kind))\n", "                pass\n"),
            Mutant(HEAT, 'if later.why == "stall":', "if False:"),
        ),
    ),
    Promise(
        "a player who comes back is not sent the heats they have",
        ("tests/server/table/test_returning.py",),
        (
            Mutant(TABLE, "if self._is_open(kept) and kept.number not in held.whole:", "if self._is_open(kept):"),
            Mutant(TABLE, "is not None and kept.number not in held.own:", "is not None:"),
            Mutant(SEATING, "held if held.table == self._record.id else NOTHING_HELD", "held"),
        ),
    ),
    Promise(
        "nor anything faster than is allowed",
        ("tests/server/table/test_returning.py",),
        (
            Mutant(
                "server/table/retelling.py",
                "if not self.owed[chair] or not self._paces[chair].take(now_ms):",
                "if not self.owed[chair]:",
            ),
            Mutant("server/table/retelling.py", "BURST, PER_S = 32, 4", "BURST, PER_S = 64, 4"),
            Mutant("shared/bucket.py", "min(self._burst, self._left + gained)", "self._left + gained"),
        ),
    ),
    Promise(
        "two people at a table cannot have look-alike names",
        ("tests/server/table/test_chairs.py", f"{CLUB_TESTS}::test_names_stay_apart_at_the_new_table"),
        (
            Mutant(
                "server/table/chairs.py",
                "next(other for other in names if skeleton(other) not in taken)",
                "next(names)",
            ),
            Mutant(
                "server/table/chairs.py",
                "next(bird for bird in birds if skeleton(bird) not in taken)",
                "next(bird for bird in birds if bird not in taken)",
            ),
            Mutant("shared/names.py", 'bones.replace("rn", "m").replace("vv", "w") or name', "bones or name"),
            Mutant(CLUB_TABLE, '"name": own_name(self._record, chair, person.name),', '"name": person.name,'),
        ),
    ),
    Promise(
        "a teacher sees racks only while their players agree, and plays no heat that they watched",
        ("tests/server/club/test_teacher.py", BESIDE_TESTS),
        (
            Mutant("server/club/telling.py", "if self._seen - self._agreed():", "if False:"),
            Mutant("server/club/telling.py", "line.end(Close.SENT_AWAY,", "(Close.SENT_AWAY,"),
            Mutant("server/club/seating.py", "if one.token_hash in self.teachers:", "if False:"),
            Mutant("server/club/seating.py", "if one.heat >= coming and", "if one.heat > coming and"),
            Mutant("server/club/admission.py", "if not self._teachers_come.take(now_ms()):", "if False:"),
        ),
    ),
)
