"""A whole set of heats as one JSON object or as readable text: everything that happened, with all racks open.

Pure. Must never contain a time of a real clock: the same seed gives the same bytes on every machine.
"""

import json
from collections.abc import Sequence
from typing import Any

from shared.cards import Card
from shared.cards.play import card_of
from shared.cards.tell import tell
from shared.rules.events import Offered, Passed, Planned, Voted
from shared.rules.heat import SavedHeat, final_state
from shared.rules.seats import SEATS, PerSeat, Seat, chair_of
from shared.rules.settings import Settings
from shared.rules.state import Answer, DoneStep, agreed
from shared.rules.steps import STEPS
from shared.rules.tiles import Rack, format_tiles

Json = dict[str, Any]


def set_as_json(settings: Settings, heats: Sequence[SavedHeat]) -> str:
    """Return a set as one JSON object: seats by their winds, tiles by their codes, times in seconds.

    The last `blind` tiles of a packet are those that its sender forwarded unseen; came is what each seat received and
    kept. If incoming tiles come from the wall, packets go to "wall", and nobody gets them.
    """
    whole = {
        "format": "racktempo set",
        "version": 1,
        "settings": settings.model_dump(),
        "seed": settings.seed,
        "heats": [heat_as_dict(heat) for heat in heats],
    }
    return json.dumps(whole)


def heat_as_dict(heat: SavedHeat) -> Json:
    """Return one heat as plain values."""
    state = final_state(heat)
    return {
        "number": heat.number,
        "commitment": heat.commitment,
        "secret": heat.secret.hex(),
        "contributions": [contribution.hex() for contribution in heat.contributions],
        "east_chair": heat.east,
        "names": _by_seat(PerSeat.of(lambda seat: heat.names[chair_of(seat, heat.east)])),
        "voided_deals": state.voids,
        "dealt": _racks(state.dealt),
        "steps": [_step(done, heat.settings.incoming == "racks", heat.card) for done in state.done],
        "final": _racks(state.racks),
    }


def set_as_text(settings: Settings, heats: Sequence[SavedHeat]) -> str:
    """Return a set as readable text."""
    lines: list[str] = []
    for heat in heats:
        lines += _heat_lines(heat_as_dict(heat), len(heats))
    if settings.seed is not None:
        lines.append(f"Seed {settings.seed}: the same seed and settings give the same set.")
    return "\n".join(lines)


def _step(done: DoneStep, from_racks: bool, card: str) -> Json:
    step = STEPS[done.step]
    told: Json = {"step": done.step, "direction": step.direction.word if step.direction else None}
    match step.ask:
        case "pass" | "give":
            told["packets"] = [_packet(done, seat, from_racks) for seat, answer in done.answers.pairs() if answer]
            told["came"] = _racks(done.came)
        case "vote":
            told["votes"] = [
                {**_answer(seat, answer), "go_on": answer.go_on}
                for seat, answer in done.answers.pairs()
                if isinstance(answer, Voted)
            ]
            told["go_on"] = all(vote["go_on"] for vote in told["votes"])
        case "offer":
            told["offers"] = [
                {**_answer(seat, answer), "count": answer.count, "to": answer.to}
                for seat, answer in done.answers.pairs()
                if isinstance(answer, Offered)
            ]
            told["agreed"] = _by_seat(PerSeat.of(lambda seat: agreed(done.answers, seat)))
        case "plan":
            told["plans"] = [
                {
                    **_answer(seat, answer),
                    "hand": answer.hand,
                    "name": _named(card, answer.hand),
                    "discards": list(answer.discards),
                }
                for seat, answer in done.answers.pairs()
                if isinstance(answer, Planned)
            ]
    return told


def _named(card: str, hand: str) -> str:
    """Return the name of a planned hand, or what was written in its place."""
    read = card_of(card) if card else None
    told = tell(read) if isinstance(read, Card) else ()
    return next((one.name for one in told if one.hand.id == hand), hand)


def _packet(done: DoneStep, seat: Seat, from_racks: bool) -> Json:
    answer = done.answers[seat]
    assert isinstance(answer, Passed)
    return {
        "from": seat.word,
        "to": done.to[seat].word if from_racks else "wall",
        "tiles": list(done.sent[seat]),
        "blind": len(done.sent[seat]) - len(answer.tiles),
        "seconds": answer.spent_ms / 1_000,
        "by": answer.by,
    }


def _answer(seat: Seat, answer: Answer) -> Json:
    return {"seat": seat.word, "seconds": answer.spent_ms / 1_000, "by": answer.by}


def _by_seat(values: PerSeat[Any]) -> Json:
    return {seat.word: values[seat] for seat in SEATS}


def _racks(racks: PerSeat[Rack]) -> Json:
    return _by_seat(PerSeat.of(lambda seat: list(racks[seat])))


def _heat_lines(heat: Json, count: int) -> list[str]:
    names = heat["names"]
    lines = [f"Heat {heat['number']} of {count}. The wall's commitment is {heat['commitment']}."]
    lines += [f"{_who(wind, names)} is dealt {format_tiles(rack)}." for wind, rack in heat["dealt"].items()]
    for step in heat["steps"]:
        lines.append(f"{step['step'].capitalize()}:")
        lines += [f"  {line}" for line in _step_lines(step, names)]
    lines += [f"{_who(wind, names)} ends with {format_tiles(rack)}." for wind, rack in heat["final"].items()]
    return [*lines, f"The wall's secret is {heat['secret']}.", ""]


def _step_lines(step: Json, names: Json) -> list[str]:
    if "packets" in step:
        return [_packet_line(packet, names) for packet in step["packets"]]
    lines = []
    for vote in step.get("votes", ()):
        lines.append(f"{_who(vote['seat'], names)}: {'go on' if vote['go_on'] else 'stop'}{_spent(vote)}")
    for offer in step.get("offers", ()):
        going = step["agreed"][offer["seat"]]
        way = "" if offer["to"] == "across" else f" {offer['to']}"
        lines.append(f"{_who(offer['seat'], names)} offers {offer['count']}{way}; {going} go{_spent(offer)}")
    for plan in step.get("plans", ()):
        hand, discards = plan["name"] or "no hand named", format_tiles(plan["discards"]) or "none"
        lines.append(f"{_who(plan['seat'], names)}: {hand}, first discards {discards}{_spent(plan)}")
    return lines


def _packet_line(packet: Json, names: Json) -> str:
    receiver = _who(packet["to"], names) if packet["to"] in names else packet["to"]
    unseen = f" (the last {packet['blind']} unseen)" if packet["blind"] else ""
    tiles = format_tiles(packet["tiles"]) or "nothing"
    return f"{_who(packet['from'], names)} to {receiver}: {tiles}{unseen}{_spent(packet)}"


def _who(wind: str, names: Json) -> str:
    return f"{names[wind]} ({wind})"


def _spent(answer: Json) -> str:
    return f", {answer['seconds']:.1f} s" + (" by the clock" if answer["by"] == "timeout" else "")
