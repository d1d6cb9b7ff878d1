"""The three lines before a heat: which one it is, what this seat is dealt, and the clock. Pure."""

from shared.names import clean_name
from shared.rules.drills import Laid
from shared.rules.seats import Seat, seat_of
from shared.rules.steps import TIMED
from shared.times import write_time
from shared.wire.views import View


def start_card(view: View, laid: Laid | None = None, guided: bool = False) -> tuple[str, str, str]:
    """Return the three lines before the coming heat; laid is the drill that it is, guided the first heat."""
    settings = laid.settings if laid else view.settings
    number = len(view.results) + 1
    heat = f"Heat {number} of {view.settings.heats}"
    seat = laid.seat if laid else seat_of(view.you, view.east)
    if seat is Seat.EAST:
        dealt = "You are East, the dealer: 14 tiles."
    else:
        deals = "" if laid else f" {clean_name(view.chairs[view.east].name) or 'An empty chair'} deals."
        dealt = f"You are {seat.word}, not the dealer: 13 tiles.{deals}"
    first = settings.length_ms(laid.step if laid and laid.step in TIMED else "first right")
    which = "This" if laid and laid.step else "The first"
    whole = write_time(round(settings.total_ms(), -3))
    clock = f"{whole} for the whole Charleston. {which} pass has {round(first / 1_000)} s."
    if guided:
        heat, clock = "A guided heat, by easy hands", "There is no clock. A word stands at each step."
    return (f"{heat}: {laid.what}" if laid else heat, dealt, clock)


def next_seat(view: View) -> str:
    """Return in a few words which seat one has in the coming heat, where it does not wait for anybody."""
    seat = seat_of(view.you, view.east)
    return "Next you are East: 14 tiles." if seat is Seat.EAST else f"Next you are {seat.word}: 13 tiles."
