"""The table in plain lines: the difference between two views, in whole sentences with tiles by name.

Pure. Written to be heard as well as read: no columns, no purely visual signs, and nothing that
is repeated while nothing changes.
"""

from collections.abc import Iterable
from typing import Literal

from client.models.guided import WORDS
from client.models.heat_end import east_won
from client.models.host import GIVEN_BACK
from client.models.played import standing_words
from client.models.rack import PLACES
from client.models.ran_out import time_ran_out
from client.models.settings_form import house_rules, said_changes
from client.models.start_card import start_card
from client.models.step_clock import time_given
from client.models.watched import took_over
from client.plain.beside import votes_told
from client.text import some
from shared.cards import Card
from shared.cards.picture import spoken, spoken_to_go
from shared.cards.said import called, listed_tiles
from shared.cards.tell import nearest_of
from shared.names import clean_name
from shared.rules.seat_heat import SeatHeat
from shared.rules.seats import Direction, Seat
from shared.rules.steps import STEPS
from shared.rules.tiles import Rack, Tile, by_suit
from shared.times import write_seconds, write_time
from shared.wire.views import ChairView, HeatResult, HeatView, RouteStep, View

Kind = Literal["with others", "alone", "take home", "guided"]
"""Whether a table has places for others; the guided heat is alone too, and tells no clock."""
_WAYS = {Direction.RIGHT: "to the right", Direction.ACROSS: "across", Direction.LEFT: "to the left"}

HELP = """\
At a pass, write the tiles that go, or their places, such as: 1b 4c N, 14bN, or a d f. Small letters are places.
When as many as are asked for are written they are passed; fewer are only lifted, and go first if time runs out.
blind 2: pass on two of the tiles that come, unseen; then write your own tile. blind 0: none after all.
go on, or stop: the answer to the second Charleston. 0 to 3: the courtesy number.
2 left, 1 right: a courtesy to one side, where the table has it. plan HAND then TILES: first discards.
back: take back what is lifted, or the pass where the table allows it. ready, not ready: for the next heat.
card: the card's sections. card and words, such as card kong: the hands that have them, and a plan can name.
why: what the coach says of your last pass, or after a heat of its costliest decision. points: the same with numbers.
fill: after a heat, whether your rack fills when it is played on, and into which hands.
time: time left; after a heat everybody's seconds. rack: your rack. sort suit, sort rank. hurry: bots answer at once.
set: all settings. set clock 3:00, set preset NAME: between heats, from the next one on (host).
move 2: sit on chair 2, at once or as a wish. let in 2, new code: for another machine, for newcomers (host).
Host: start, pause, resume, more (10 s for all), bot 2 (for who is away), new set.
table: who sits where. take: play where a bot plays for you. quit: leave.
On an evening: teacher yes, teacher no: whether a teacher may see your rack. show yes, show no: whether people beside
the table may, where the host lets them. let see 5, let see 5 no, send off 5: who is there as number 5 (host).
target and a hand's name: your target, yours alone.
wall: its commitment. rules: how this table plays. rules and a word, such as rules gap: what it means.
An empty line says again what is asked; alone between heats it starts the next one. ?: this help."""


def name_of(chair: ChairView) -> str:
    """Return a chair's name, cleaned, or a word where there is none."""
    return clean_name(chair.name) or ("nobody" if chair.sitter == "nobody" else "no name")


def rack_line(rack: Iterable[Tile]) -> str:
    """Return a rack with the letter of each place before its tile."""
    return "Rack: " + ", ".join(f"{place}: {called(tile)}" for place, tile in zip(PLACES, rack, strict=False)) + "."


def sorted_tiles(tiles: Iterable[Tile]) -> str:
    """Return tiles by name, sorted by suit, equal ones counted: "two 1 bam, north and joker"."""
    return listed_tiles(by_suit(tiles))


def left_ms(heat: HeatView, gone_ms: int) -> int:
    """Return the time left, so long after the view was made."""
    return max(0, heat.clock.left_ms - (gone_ms if heat.clock.running else 0))


def time_line(heat: HeatView | None, gone_ms: int, is_lost: bool) -> str:
    """Return the time left, so long after the view was made; without a line the clock stands still."""
    if heat is None or heat.step is None:
        return "No clock runs."
    still = " when the line broke; without it the clock stands still here" if is_lost else ""
    return f"{write_seconds(left_ms(heat, gone_ms))} left{still}."


def table_lines(view: View) -> list[str]:
    """Return who sits where, and how the table plays."""
    lines = [f"{clean_name(view.table) or 'A table'}: {_how_long(view)}."]
    for number, chair in enumerate(view.chairs):
        words = [f"Chair {number + 1}: {name_of(chair)}"]
        words += ["that is you"] if number == view.you else []
        words += ["host"] if chair.host else []
        words += ["a bot"] if chair.sitter == "bot" else []
        words += ["away"] if chair.sitter == "person" and not chair.connected else []
        words += ["ready"] if chair.ready else []
        lines.append(", ".join(words) + ".")
    if view.code:
        lines.append(f"The code for others is {view.code}.")
    house = house_rules(view.settings)
    return [*lines, house] if house else lines


def question(view: View, rack: Rack, gone_ms: int = 0, kind: Kind = "with others") -> list[str]:
    """Return what is asked of this player now, with the rack where it matters."""
    heat = view.heat
    if heat is None or heat.step is None:
        return [_between(view, kind)]
    if heat.paused and view.restored:
        return [f"The table is back after a restart: {GIVEN_BACK} It is paused, and the racks are covered."]
    if heat.paused:
        if kind != "with others":
            return ["The clocks are stopped and the rack is covered. Write resume to go on."]
        return ["The host has paused the table: the clocks are stopped and the racks are covered."]
    if view.chairs[view.you].sitter == "bot":
        return [f"{heat.step.capitalize()}: {_bot_plays(view)}"]
    if heat.answered:
        return [_waiting(view, heat)]
    if not heat.owes:
        return [f"{heat.step.capitalize()}: nothing is asked of you."]
    time = f" {write_seconds(left_ms(heat, gone_ms))}."
    if heat.clock.carried_ms >= 1_000:
        time = f"{time[:-1]}, {write_seconds(heat.clock.carried_ms)} of it carried over."
    if kind == "guided":
        time = ""
    step, direction = STEPS[heat.step], heat.direction(heat.step)
    other = _other(view, heat, direction)
    match step.ask:
        case "pass":
            most = heat.most_blind
            unseen = (f" Up to {most} may go unseen." if most > 1 else " One may go unseen.") if most else ""
            way = _WAYS[step.direction or Direction.RIGHT]
            asked = f"{step.name.capitalize()}: pass 3 tiles {way} ({other}).{unseen}"
        case "vote":
            silence = " No answer means stop." if view.settings.silence == "stop" else ""
            return [f"{_face_down(heat)}Go on with a second Charleston? Write go on, or stop.{silence}{time}"]
        case "offer" if not step.direction:
            left, right = (_other(view, heat, side) for side in (Direction.LEFT, Direction.RIGHT))
            asked = (
                f"One more courtesy, with {left} on your left or {right} on your right: how many tiles and with whom, "
                "as 2 left? 0 for none."
            )
        case "offer":
            asked = f"Courtesy with {other} across: how many tiles, 0 to 3?"
        case "give":
            way = direction.word if direction else "across"
            asked = f"Courtesy: give {heat.give} {way} ({other})."
        case "plan":
            asked = "Plan: write plan, the hand you would play, and up to three first discards; an empty line skips it."
    return [f"{asked}{time}", rack_line(rack)]


def _bot_plays(view: View) -> str:
    """Return that a bot plays in this player's seat, and when they can play themselves."""
    if view.chairs[view.you].plays_next:
        return "a bot plays this heat in your seat; you play from the next one on."
    return "a bot plays in your seat. Write take to play yourself."


def changes(old: View | None, new: View, rack: Rack, kind: Kind = "with others") -> list[str]:
    """Return what has happened between two views; rack is the player's own, in the order they have it."""
    lines = list[str]()
    if old is not None:
        lines += _comings_and_goings(old, new)
    elif kind == "with others":
        lines += table_lines(new)
    if old is not None and (changed := said_changes(old.settings, new.settings)):
        lines.append(f"Changed: {'; '.join(changed)}.")
    if new.heat:
        sits_anew = old is not None and old.chairs[old.you].sitter != new.chairs[new.you].sitter
        return lines + _heat_changes(old.heat if old else None, new, new.heat, rack, kind, sits_anew)
    is_ready, was_ready = (view.chairs[view.you].ready if view else False for view in (new, old))
    if old is None or old.phase != new.phase:
        card = start_card(new, guided=kind == "guided") if new.phase != "over" else ()
        return [*lines, *_result_lines(new), *card, *question(new, rack, kind=kind)]
    asks = is_ready != was_ready and kind == "with others" and not new.wall.attempts
    return lines + (question(new, rack, kind=kind) if asks else [])


def _heat_changes(
    before: HeatView | None, view: View, heat: HeatView, rack: Rack, kind: Kind, sits_anew: bool
) -> list[str]:
    if before is None or before.number != heat.number:
        opening = [] if kind == "guided" else [_opening(view, heat)]
        return [*opening, *_guide(heat, kind), *question(view, rack, kind=kind)]
    lines = _told_by_route(view, before, heat)
    if before.step != heat.step or before.paused != heat.paused or sits_anew:
        return [*lines, *(_guide(heat, kind) if before.step != heat.step else ()), *question(view, rack, kind=kind)]
    if heat.answered and not before.answered:
        return [*lines, _waiting(view, heat)]
    if before.answered and not heat.answered:
        return [*lines, "Taken back.", *question(view, rack, kind=kind)]
    if kind != "guided" and (given := time_given(before, heat)):
        return [*lines, f"{given}: {write_seconds(heat.clock.left_ms)} left."]
    return lines


def _guide(heat: HeatView, kind: Kind) -> tuple[str, ...]:
    """Return what the running step of the guided heat is, and what to look for."""
    return WORDS.get(heat.step, ()) if heat.step and heat.owes and kind == "guided" else ()


def end_lines(heat: SeatHeat, card: Card | None = None) -> list[str]:
    """Return how a heat ended for this player's own rack, and its nearest hand where the host wants hints."""
    lines = []
    if heat.steps:
        last = heat.steps[-1]
        if last.by == "timeout":
            lines.append(time_ran_out(last.given))
        if last.came:
            lines.append(f"Came in: {sorted_tiles(last.came)}.")
    lines.append(f"You end with {sorted_tiles(heat.final)}.")
    if card and heat.settings.hints != "none":
        told, drawn = nearest_of(card, by_suit(heat.final))
        lines.append(f"Nearest hand: {told.name}: {spoken(drawn.picture)}; {spoken_to_go(drawn)}.")
    return lines


def _told_by_route(view: View, before: HeatView, heat: HeatView) -> list[str]:
    """Return what has happened in steps since the last view: own answers, tiles received, votes and offers."""
    lines = list[str]()
    known = {step.step: step for step in before.route}
    for now in heat.route:
        then = known.get(now.step)
        if now.spent_ms is not None and (then is None or then.spent_ms is None):
            lines.append(_answer(now))
        if now.state == "done" and (then is None or then.state != "done"):
            lines += _closed(view, heat, now)
    return lines


def _answer(step: RouteStep) -> str:
    if step.by == "timeout":
        return time_ran_out(step.given)
    who = "The bot in your seat" if step.by == "bot" else "You"
    spent = f"{(step.spent_ms or 0) / 1_000:.1f} s"
    match STEPS[step.step].ask:
        case "pass" | "give":
            unseen = f" and {step.blind} blind" if step.blind else ""
            tiles = sorted_tiles(step.given) if step.given else "none of your own"
            return f"{who} passed {tiles}{unseen}. {spent} used."
        case _:
            return f"{who} answered. {spent} used."


def _closed(view: View, heat: HeatView, step: RouteStep) -> list[str]:
    match STEPS[step.step].ask:
        case "pass" | "give":
            me, direction = Seat(heat.seat), heat.direction(step.step) or Direction.RIGHT
            giver = me.to(direction) if STEPS[step.step].ask == "give" else me.feeder(direction)
            feeder = name_of(view.chairs[heat.seats[giver].chair])
            if heat.face_down:
                return [f"From {feeder}, face down: {some(heat.face_down, 'tile')}."]
            if STEPS[step.step].ask == "give" and not step.came:
                return []
            return (
                [f"Came in from {feeder}: {sorted_tiles(step.came)}."]
                if step.came
                else ["All tiles that came in went on unseen."]
            )
        case "vote":
            stoppers = [seat.chair for seat in heat.seats if seat.vote is False]
            names = ("you" if chair == view.you else name_of(view.chairs[chair]) for chair in stoppers)
            return [votes_told(names), *_turned(view, heat)]
        case "offer" if not STEPS[step.step].direction:
            return [_sides(view, heat)]
        case "offer":
            across = heat.seats[Seat(heat.seat).to(Direction.ACROSS)]
            own = heat.seats[heat.seat].offer or 0
            agreed = min(own, across.offer or 0)
            other = name_of(view.chairs[across.chair])
            return [f"{other} offered {across.offer}, you offered {own}: each gives {agreed}."]
    return []


def _face_down(heat: HeatView) -> str:
    return f"Face down: {some(heat.face_down, 'tile')}. " if heat.face_down else ""


def _turned(view: View, heat: HeatView) -> list[str]:
    """Return what lay face down until everybody had answered."""
    came = next((step.came for step in heat.route if view.settings.hides(step.step)), ())
    return [f"The tiles of first left are turned up: {sorted_tiles(came)}."] if came else []


def _sides(view: View, heat: HeatView) -> str:
    """Return what became of this seat's offer to a neighbour."""
    mine = heat.seats[heat.seat]
    if not mine.side:
        return "You offered nothing to either side."
    me, way = Seat(heat.seat), Direction[mine.side.upper()]
    theirs = heat.seats[me.to(way)]
    name = name_of(view.chairs[theirs.chair])
    back = Direction[theirs.side.upper()] if theirs.side else None
    if back is None or me.to(way).to(back) != me:
        return f"You named {name}, who did not name you: nothing is swapped."
    agreed = min(mine.side_offer or 0, theirs.side_offer or 0)
    return f"{name} offered {theirs.side_offer}, you offered {mine.side_offer}: each gives {agreed}."


def _waiting(view: View, heat: HeatView) -> str:
    names = [name_of(view.chairs[seat.chair]) for seat in heat.seats if seat.owes and seat.chair != view.you]
    return f"Waiting for {', '.join(names)}." if names else "Waiting."


def _other(view: View, heat: HeatView, direction: Direction | None) -> str:
    return name_of(view.chairs[heat.seats[Seat(heat.seat).to(direction)].chair]) if direction else ""


def _opening(view: View, heat: HeatView) -> str:
    dealer = "you deal" if heat.seat == Seat.EAST else f"{name_of(view.chairs[view.east])} deals"
    number = heat.number - (view.results[0].number - 1 if view.results else heat.number - 1)
    wind = Seat(heat.seat).word
    tiles = f" with {len(heat.rack)} tiles" if heat.rack else ""  # none are seen by who comes into a pause
    return f"Heat {number} of {view.settings.heats}: {dealer}. You are {wind}{tiles}."


def _how_long(view: View) -> str:
    heats = view.settings.heats
    return f"{heats} heat{'s' * (heats > 1)} of {write_time(view.settings.level_ms)}"


def _between(view: View, kind: Kind) -> str:
    if view.phase == "over" and kind == "guided":
        return "The guided heat is over. Write new set for another one, or quit."
    if view.phase == "over" and kind == "take home":
        return "You have played this set. Write quit; then racktempo set hand-in LINE writes your result."
    if view.phase == "over":
        return "The set is over. " + (
            "Write new set, or quit."
            if view.host
            else f"The {'desk' if view.club else 'host'} may begin a new one; write quit to leave."
        )
    if kind == "guided":
        return "Press enter to start."
    if kind in ("alone", "take home"):
        return "Press enter to start the heat and its clock."
    if view.chairs[view.you].ready:
        people = [chair for chair in view.chairs if chair.is_waited_for]
        names = ", ".join(f"{name_of(chair)}{'' if chair.connected else ' (away)'}" for chair in people)
        return f"You are ready. Waiting for {names}." if names else "You are ready."
    return "Write ready when you want the next heat to begin." if view.results else "Write ready to begin."


def _comings_and_goings(old: View, new: View) -> list[str]:
    lines = list[str]()
    for number, (before, now) in enumerate(zip(old.chairs, new.chairs, strict=True)):
        name, whose = name_of(now), "your" if number == new.you else f"{name_of(now)}'s"
        if (
            before.sitter != now.sitter
            and now.sitter == "person"
            and before.sitter == "bot"
            and before.name == now.name
        ):
            lines.append(f"{'You play' if number == new.you else f'{name} plays'} now.")
        elif took_over(before, now):
            lines.append(f"A bot plays in {whose} seat now.")
        elif before.name != now.name and now.sitter == "nobody":
            lines.append(f"{name_of(before)} has left; chair {number + 1} is free.")
        elif before.name != now.name and now.sitter == "person":
            lines.append(f"{name} sits down on chair {number + 1}.")
        elif now.sitter == "person" and before.connected != now.connected and number != new.you:
            lines.append(f"{name} is {'back' if now.connected else 'away'}.")
        elif now.sitter == "person" and now.ready and not before.ready and new.heat is None and number != new.you:
            lines.append(f"{name} is ready.")
    for number, (was, now) in enumerate(zip(old.chairs, new.chairs, strict=True)):
        if now.wish is not None and now.wish != was.wish:
            lines.append(f"{name_of(now)} would like to swap with chair {now.wish + 1}; move {number + 1} agrees.")
        if now.asks and not was.asks and new.host:
            lines.append(f"Another machine asks for {name_of(now)}'s chair; let in {number + 1} lets it in.")
    if new.keeps and not old.keeps:
        lines.append("The host is away. Until they are back you may pause, resume and start heats.")
    if new.host and not old.host:
        lines.append("You are the host now.")
    return lines


def _result_lines(view: View) -> list[str]:
    if view.phase not in ("between", "over") or not view.results:
        return []
    whole = [f"The set is over. {standing_words(view)}"] if view.phase == "over" and standing_words(view) else []
    return ["The heat is over.", *heat_result(view, view.results[-1]), *whole]


def heat_result(view: View, result: HeatResult, steps_of_all: bool = False) -> list[str]:
    """Return everybody's seconds, one's own by steps as well, or all by steps; and the racks that were opened."""
    lines = []
    if result.east_won:
        dealer = result.seats[Seat.EAST].players[0]
        is_own = dealer.person == view.person > 0
        lines.append(east_won("You were" if is_own else f"{clean_name(dealer.name) or 'A bot'}, who was East, was"))
    for seat in result.seats:
        steps = "; " + ", ".join(f"{step.step} {step.spent_ms / 1_000:.1f}" for step in seat.spent)
        is_own = any(player.person == view.person > 0 for player in seat.players)
        names = [
            "you" if player.person == view.person > 0 else clean_name(player.name) or "a bot" for player in seat.players
        ]
        who = " and then ".join(names)
        who = who[:1].upper() + who[1:]
        if not result.east_won:
            by_step = steps if is_own or steps_of_all else ""
            lines.append(f"{who}: {seat.total_ms / 1_000:.1f} s in all{by_step}.")
        if result.opened and not is_own:
            lines.append(f"{who} ended with {sorted_tiles(seat.final)}.")
    return lines
