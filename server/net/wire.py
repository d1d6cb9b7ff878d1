"""What the server needs of a connection, whatever carries it: whole frames each way, and two ways to end it."""

from typing import Protocol


class HungUp(Exception):
    """The other end is gone."""


class Wire(Protocol):
    """One connection: a WebSocket, or in a simulation a link in memory."""

    @property
    def peer(self) -> str:
        """The address of the other end, without a port."""

    @property
    def is_crowded(self) -> bool:
        """Whether all places for strangers were taken when its hello came: then only who holds a seat may stay."""

    def settle(self) -> None:
        """Take note that the other end has a place here and is a stranger no more."""

    async def read(self) -> tuple[bytes, int]:
        """Return the next frame and the moment it was read, in the clock's milliseconds. Raises HungUp."""

    async def write(self, frame: bytes) -> None:
        """Hand a frame over; wait while too much is unread. Raises HungUp."""

    async def hang_up(self, code: int, text: str) -> None:
        """Close with a code and a reason, in bounded time."""

    def cut(self) -> None:
        """End at once without a word."""


class Handler(Protocol):
    """Who takes the connections that come in."""

    async def serve(self, wire: Wire) -> None:
        """Serve one client until its connection ends."""

    async def close_lines(self, code: int, text: str) -> None:
        """Close every client's connection with a reason, in bounded time."""
