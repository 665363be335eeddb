"""The page's server: an output of the watch like any other, with a thread and an event loop of its own.

Policy. For the watch `tell` and `show` only wake the loop; whatever browsers do, the watch does not notice. There are
at most so many connections, those that still shake hands included; when one more comes, the one that has been idle
longest goes, so that a crowd which only holds lines open keeps nobody out and uses up no descriptors. A server that
dies is started again, and the other outputs say so; a place that cannot be had is a mistake in the settings, and
refused before the heat begins.
"""

import asyncio
import contextlib
import logging
import socket
import ssl
import threading
from collections.abc import Callable, Coroutine, Mapping
from dataclasses import dataclass
from email.utils import formatdate
from functools import partial
from types import MappingProxyType
from typing import TYPE_CHECKING

from uvicorn.config import Config
from uvicorn.server import ServerState

from rampwarden.core.model import Command, Event, HeatStatus, Notice
from rampwarden.errors import SettingsError
from rampwarden.filed import Filed
from rampwarden.outputs.worker import Worker
from rampwarden.page.access import Access
from rampwarden.page.app import Behind, Page
from rampwarden.page.connection import LONGEST_HEAD, BoundedConnection
from rampwarden.page.messages import PictureTeller
from rampwarden.page.responses import Shelf
from rampwarden.page.stream import Stream
from rampwarden.picture import Picture

if TYPE_CHECKING:
    from rampwarden.page.metrics import Metrics

_MOST_CONNECTIONS = 128
"""A page keeps one line for its stream and uses up to five more for a moment."""
# Callers the kernel keeps waiting; a flood must not turn away whoever comes after it.
_BACKLOG = 256
_HANDSHAKE_WITHIN_S = 5.0
# Bytes; a whole picture has some 60 000.
_SEND_BUFFER = 65_536
# A browser's line waits this long for its next request; our own patience with a request's head ends no later.
_KEEP_ALIVE_S = 5
_CLOSE_S = 1.0
# Streams end as soon as they are told to; what is left after this is cut.
_FAREWELL_S = 0.3
# After no descriptor was left to accept with; long enough not to burn the processor.
_REST_S = 0.5


@dataclass(frozen=True, slots=True)
class ListenAddress:
    """Where the page is served, and the certificate it is served with."""

    host: str
    port: int
    tls: ssl.SSLContext | None
    is_behind_proxy: bool
    has_metrics: bool = False


class PageServer:
    """Serves the page of one watch; `start` it, `close` it."""

    def __init__(self, place: ListenAddress, access: Access) -> None:
        """Take the place; raises `SettingsError` when it cannot be had."""
        self._place = place
        self._access = access
        self._shelf = Shelf()
        self._listener = _listen(place.host, place.port)
        self._serving: _Serving | None = None
        self._worker: Worker | None = None
        self._closing = threading.Event()

    @property
    def address(self) -> tuple[str, int]:
        """Where the page is really served; the port is known even when 0 was asked for."""
        host, port, *_ = self._listener.getsockname()
        return str(host), int(port)

    @property
    def url(self) -> str:
        """What a browser is to open: by its address, or by a name where it is served at every address there is."""
        host, port = self.address
        if host in ("0.0.0.0", "::"):
            host = min(self._access.rules.names, default=host)
        scheme = "https" if self._place.tls is not None else "http"
        return f"{scheme}://[{host}]:{port}" if ":" in host else f"{scheme}://{host}:{port}"

    def start(
        self,
        look: Callable[[], Picture],
        hear: Callable[[Command | Notice], None],
        counts: Mapping[str, Callable[[], int]] = MappingProxyType({}),
    ) -> None:
        """Serve the picture that `look` gives; `hear` takes orders, and news should the server die, from any thread.

        `counts` are what metrics tell beside the picture.
        """
        teller, metrics = PictureTeller(look), None
        if self._place.has_metrics:
            # Its library is an extra of its own, and loaded by nobody else.
            from rampwarden.page.metrics import Metrics  # noqa: PLC0415

            metrics = Metrics(look, counts)
        self._worker = Worker("page", lambda: asyncio.run(self._serve(teller, look, hear, metrics)), hear)
        self._worker.start()

    def tell(self, event: Event, filed: Filed | None = None) -> None:
        """Let the pages see what an event has changed; returns at once."""
        self._wake()

    def show(self, status: HeatStatus) -> None:
        """Let the pages see where the heat stands; returns at once."""
        self._wake()

    def close(self) -> None:
        """Send every page away and end, within a second. A worker stuck for good is left behind."""
        self._closing.set()
        serving = self._serving
        if serving is not None:
            serving.call(serving.stop.set)
        if self._worker is not None:
            self._worker.end(_CLOSE_S)
        self._listener.close()

    def _wake(self) -> None:
        serving = self._serving
        if serving is not None:
            serving.call(serving.stream.wake)

    async def _serve(
        self,
        teller: PictureTeller,
        look: Callable[[], Picture],
        hear: Callable[[Command], None],
        metrics: "Metrics | None",
    ) -> None:
        stream = Stream(teller)
        behind = Behind(stream, look, hear, self._place.is_behind_proxy, metrics)
        app = Page(self._access, behind, self._shelf).app()
        serving = _Serving(self._listener, self._place.tls, stream, app)
        self._serving = serving
        # Asked to end before there was anything that could be told to.
        if not self._closing.is_set():
            await serving.run()


class _Serving:
    """One life of the server, in one event loop."""

    def __init__(self, listener: socket.socket, tls: ssl.SSLContext | None, stream: Stream, app: object) -> None:
        _quieten_library()
        self.stream = stream
        self.stop = asyncio.Event()
        self._loop = asyncio.get_running_loop()
        self._listener = listener
        self._tls = tls
        self._state = ServerState()
        # In the order they began; a set would not keep it.
        self._greetings: dict[asyncio.Task[None], None] = {}
        self._config = Config(
            app,  # type: ignore[arg-type]  # Starlette's and uvicorn's types of one thing
            loop="asyncio",
            http=BoundedConnection,
            ws="none",
            lifespan="off",
            log_config=None,
            access_log=False,
            proxy_headers=False,
            server_header=False,
            timeout_keep_alive=_KEEP_ALIVE_S,
            h11_max_incomplete_event_size=LONGEST_HEAD,
        )
        self._config.load()

    def call(self, function: Callable[[], None]) -> None:
        """Have something done in the loop, from any thread; nothing once it has ended."""
        with contextlib.suppress(RuntimeError):
            self._loop.call_soon_threadsafe(function)

    async def run(self) -> None:
        """Serve until told to stop; raises what killed it."""
        works: list[Coroutine[object, object, object]] = [self.stream.run(), self._accept(), self._tell_date()]
        tasks = [self._loop.create_task(work) for work in (*works, self.stop.wait())]
        try:
            done, _ = await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
            for each in done:
                each.result()
        finally:
            for each in tasks:
                each.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)
            await self._send_away()

    async def _accept(self) -> None:
        self._listener.setblocking(False)
        while True:
            try:
                line, _ = await self._loop.sock_accept(self._listener)
            except ConnectionError:
                continue
            except OSError:
                await asyncio.sleep(_REST_S)
                continue
            self._make_room()
            greeting = self._loop.create_task(self._greet(line))
            self._greetings[greeting] = None
            greeting.add_done_callback(partial(self._end_greeting, line))
            # A crowd at the door is accepted without a pause otherwise, and nothing it brings about would be seen.
            await asyncio.sleep(0)

    def _end_greeting(self, line: socket.socket, greeting: asyncio.Task[None]) -> None:
        self._greetings.pop(greeting, None)
        if greeting.cancelled():
            # It may never have begun, and then nobody else closes the line.
            line.close()

    def _make_room(self) -> None:
        if len(self._state.connections) + len(self._greetings) < _MOST_CONNECTIONS:
            return
        lines = [each for each in self._state.connections if isinstance(each, BoundedConnection) and each.is_idle]
        if lines:
            min(lines, key=lambda each: each.idle_since_s).transport.abort()
        elif self._greetings:
            longest = next(iter(self._greetings))
            # At once, for it takes a moment to end, and the next to come must not find it here.
            del self._greetings[longest]
            longest.cancel()

    async def _greet(self, line: socket.socket) -> None:
        """Shake hands; whoever does not is forgotten."""
        patience_s = None if self._tls is None else _HANDSHAKE_WITHIN_S
        try:
            await self._loop.connect_accepted_socket(
                self._new_connection, line, ssl=self._tls, ssl_handshake_timeout=patience_s
            )
        except OSError:
            line.close()

    def _new_connection(self) -> BoundedConnection:
        return BoundedConnection(self._config, self._state, {}, self._loop)

    async def _tell_date(self) -> None:
        while True:
            self._state.default_headers = [(b"date", formatdate(usegmt=True).encode())]
            await asyncio.sleep(1.0)

    async def _send_away(self) -> None:
        self.stream.close()
        if self._state.tasks:
            await asyncio.wait(list(self._state.tasks), timeout=_FAREWELL_S)
        left = [*self._state.tasks, *self._greetings]
        for task in left:
            task.cancel()
        await asyncio.gather(*left, return_exceptions=True)
        for connection in list(self._state.connections):
            connection.transport.abort()
        # Transports close in the next turns of the loop.
        for _ in range(3):
            await asyncio.sleep(0)


def _listen(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    try:
        # Not to be refused for the lines of the last watch, which linger for a minute.
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        # What lies unsent in the kernel cannot be passed over any more: left to itself, it would keep megabytes of it.
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, _SEND_BUFFER)
        listener.bind((host, port))
        listener.listen(_BACKLOG)
    except OSError as error:
        listener.close()
        shown = f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
        raise SettingsError(f"page.address = {shown!r}: cannot listen there: {error.strerror}") from error
    return listener


def _quieten_library() -> None:
    """Keep the library's own log lines off the terminal; what matters of them is said here."""
    log = logging.getLogger("uvicorn")
    log.propagate = False
    if not log.handlers:
        log.addHandler(logging.NullHandler())
