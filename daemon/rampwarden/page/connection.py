"""One connection to the page, bounded in time: whoever has not sent a whole request head soon is cut off.

The server beneath answers what has arrived and waits for ever for what has not. How many connections there may be is
the server's business (`server.py`), which asks here who of them has been idle longest.
"""

import asyncio
import socket
import struct
from typing import Any

from uvicorn.config import Config
from uvicorn.protocols.http.h11_impl import H11Protocol
from uvicorn.server import ServerState

LONGEST_HEAD = 16_384
"""Bytes of a request's line and headers: twenty times what a browser sends."""
CUT = "cut"
"""Under this name a request's state holds what ends its connection without waiting for whoever does not read."""
_REQUEST_WITHIN_S = 5.0
_NO_LINGERING = struct.pack("ii", 1, 0)  # struct linger of socket(7): on, for no time


class BoundedConnection(H11Protocol):
    """As the server has it, with an end to its patience."""

    def __init__(
        self,
        config: Config,
        server_state: ServerState,
        app_state: dict[str, Any],
        _loop: asyncio.AbstractEventLoop | None = None,
    ) -> None:
        super().__init__(config, server_state, app_state, _loop)
        self._deadline: asyncio.TimerHandle | None = None
        self.idle_since_s = 0.0

    @property
    def is_idle(self) -> bool:
        """Whether nothing is being answered: a request is awaited, or is dripping in."""
        return self.cycle is None or self.cycle.response_complete

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]  # as the base has it
        """Begin to wait for the first request."""
        super().connection_made(transport)
        self.app_state = {**self.app_state, CUT: self._cut}
        self._wait()

    def connection_lost(self, exc: Exception | None) -> None:
        """End."""
        if self._deadline is not None:
            self._deadline.cancel()
        super().connection_lost(exc)

    def on_response_complete(self) -> None:
        """Wait for the next request."""
        super().on_response_complete()
        self._wait()

    def _cut(self) -> None:
        # Without lingering: the kernel too forgets what was not taken.
        line = self.transport.get_extra_info("socket")
        line.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, _NO_LINGERING)
        self.transport.abort()

    def _wait(self) -> None:
        self.idle_since_s = self.loop.time()
        if self._deadline is not None:
            self._deadline.cancel()
        self._deadline = self.loop.call_later(_REQUEST_WITHIN_S, self._lose_patience)

    def _lose_patience(self) -> None:
        if self.is_idle:
            self.transport.abort()
