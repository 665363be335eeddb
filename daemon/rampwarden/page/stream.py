"""The stream to every open page: one whole picture first, then what changed, each encoded once for all of them.

Policy. Each page has a seat with a short queue. One that does not take what it is sent loses the queue and gets the
whole picture as soon as it takes something again; so pictures may be passed over, and an alarm never is, for every
alarm that stands is in the picture. Who has taken nothing for ten seconds is cut off: a browser comes back by itself.

At least once a second something is said, if only that nothing new was seen: a page that hears nothing knows that it is
cut off, and one that hears of silence knows that the watch is stuck. Lives in one event loop.
"""

import asyncio
import contextlib
from collections import deque
from collections.abc import Callable
from typing import Protocol

MOST_SEATS = 40
"""Pages that may be open at once; twice a workshop full of phones."""
# Unsent messages of one page; at one a second, as many seconds of a bad connection.
_MOST_WAITING = 8
# Events can come in bursts; a person sees no more than this.
_LEAST_BETWEEN_S = 0.2
_LONGEST_QUIET_S = 1.0


class Teller(Protocol):
    """What turns the heat's picture into messages."""

    def whole(self) -> bytes:
        """Give everything, as of the last `change`."""
        ...

    def change(self) -> bytes | None:
        """Look at the picture and give what has changed since the last look; None when nothing has."""
        ...

    def still(self) -> bytes:
        """Give the message that there is nothing new, and for how long."""
        ...

    def silent_s(self) -> float:
        """Give for how long the watch has not shown itself, real seconds."""
        ...


class Seat:
    """One open page's place."""

    def __init__(self, whole: Callable[[], bytes]) -> None:
        self._whole = whole
        self._waiting: deque[bytes] = deque()
        self._is_behind = True
        self._is_over = False
        self._ready = asyncio.Event()
        self._ready.set()

    def offer(self, message: bytes) -> None:
        """Put a message in the queue, or give the queue up for a whole picture."""
        if self._is_behind:
            return
        if len(self._waiting) >= _MOST_WAITING:
            self._waiting.clear()
            self._is_behind = True
        else:
            self._waiting.append(message)
        self._ready.set()

    def leave(self) -> None:
        """Let whoever waits go, once they have taken what is here for them."""
        self._is_over = True
        self._ready.set()

    async def next(self) -> bytes | None:
        """Wait for the next message; None when there will be no more."""
        await self._ready.wait()
        if self._is_behind:
            self._is_behind = False
            message = self._whole()
        elif self._waiting:
            message = self._waiting.popleft()
        else:
            return None
        if not self._waiting and not self._is_over:
            self._ready.clear()
        return message


class Stream:
    """All seats. `run` says to each what is new, after every `wake` and at least once a second."""

    def __init__(self, teller: Teller) -> None:
        self._teller = teller
        self._seats: set[Seat] = set()
        self._woken = asyncio.Event()

    def take_seat(self) -> Seat | None:
        """Give a place to a page that opens; None when all are taken."""
        if len(self._seats) >= MOST_SEATS:
            return None
        if not self._seats:
            # While nobody looked, nothing was told.
            self._teller.change()
        seat = Seat(self._teller.whole)
        self._seats.add(seat)
        return seat

    def give_up(self, seat: Seat) -> None:
        """Take a seat back."""
        self._seats.discard(seat)

    def wake(self) -> None:
        """Let `run` see whether the picture is new."""
        self._woken.set()

    async def run(self) -> None:
        """Speak for as long as nobody ends it."""
        while True:
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(self._woken.wait(), _LONGEST_QUIET_S)
            self._woken.clear()
            self._say_what_is_new()
            await asyncio.sleep(_LEAST_BETWEEN_S)

    def close(self) -> None:
        """Send every page away, with the last that is known."""
        self._say_what_is_new()
        for seat in self._seats:
            seat.leave()

    def silent_s(self) -> float:
        """Give for how long the watch has not shown itself, real seconds."""
        return self._teller.silent_s()

    def _say_what_is_new(self) -> None:
        if self._seats:
            message = self._teller.change() or self._teller.still()
            for seat in self._seats:
                seat.offer(message)
