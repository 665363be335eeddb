"""What the page answers: its files, the login, orders to the watch, and the stream.

Everything that arrives is held to be hostile. A body is short or refused, an order is read by the same reader as those
of the control socket, and what may be ordered from here is what gloves do at a glance: acknowledge, say that
something was wrong, note, mark, answer, check by a spot thermometer, end a segment (whose page asks first).
Whether the order could be carried out stands in the picture, as for every other display.
"""

import asyncio
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING
from urllib.parse import parse_qs

import msgspec
from msgspec import Struct
from starlette.applications import Starlette
from starlette.requests import ClientDisconnect, Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

from rampwarden.control import messages, orders
from rampwarden.core.model import Command, CommandName
from rampwarden.errors import UNREADABLE_JSON, ControlError
from rampwarden.page.access import Access, Right, TriedTooOftenError
from rampwarden.page.connection import CUT
from rampwarden.page.guard import Guard
from rampwarden.page.responses import Shelf, plain
from rampwarden.page.spot_order import SpotOrder, spot_note
from rampwarden.page.stream import Seat, Stream
from rampwarden.picture import Picture
from rampwarden.rate_limiter import RateLimiter

if TYPE_CHECKING:
    from rampwarden.page.metrics import Metrics

_ORDERS = (
    CommandName.ACKNOWLEDGE,
    CommandName.WRONG,
    CommandName.UNDO_WRONG,
    CommandName.NOTE,
    CommandName.MARK,
    CommandName.ANSWER,
    CommandName.SKIP_SEGMENT,
)
_SPOT = "spot"
# A note of 500 letters, each written as an escape of twelve bytes, and what stands around it.
_LONGEST_BODY = 8_192
_BODY_WITHIN_S = 5.0
# Orders of all pages together, as at the control socket: each is written into the record.
_MOST_ORDERS, _ORDERS_WITHIN_S = 20, 10.0
_TAKES_NOTHING_S = 10.0
_STUCK_S = 5.0
_CLOSE = {"Connection": "close"}


class _Order(Struct):
    """The body of an order; unknown keys are passed over."""

    command: str
    alarm: str = ""
    text: str = ""
    question: int = 0
    spot: SpotOrder | None = None


class Said(Struct):
    """The answer to an order: `taken` or not, and the promise or the reason."""

    taken: bool
    text: str


@dataclass(frozen=True, slots=True)
class Behind:
    """What stands behind the page: the stream, the picture, the watch's ear, and figures if they are asked for.

    Before it there may be a proxy.
    """

    stream: Stream
    look: Callable[[], Picture]
    hear: Callable[[Command], None]
    is_behind_proxy: bool
    metrics: "Metrics | None" = None


class _BodyError(Exception):
    """A body that is too long or too slow, with the answer it gets."""

    def __init__(self, answer: Response) -> None:
        super().__init__()
        self.answer = answer


class Page:
    """The answers."""

    def __init__(self, access: Access, behind: Behind, shelf: Shelf) -> None:
        self._access = access
        self._behind = behind
        self._shelf = shelf
        self._orders = RateLimiter(_MOST_ORDERS, _ORDERS_WITHIN_S)

    def app(self) -> ASGIApp:
        """Give the whole, its door included."""
        routes = [
            Route("/", self._open, methods=["GET"]),
            Route("/login", self._ask_token, methods=["GET"]),
            Route("/login", self._take_token, methods=["POST"]),
            Route("/logout", self._forget, methods=["POST"]),
            Route("/order", self._take_order, methods=["POST"]),
            Route("/stream", _Streaming(self._access, self._behind.stream), methods=["GET"]),
            *([Route("/metrics", self._give_metrics, methods=["GET"])] if self._behind.metrics is not None else []),
            Route("/{name}", self._give_file, methods=["GET"]),
        ]
        return Guard(Starlette(routes=routes), self._access)

    async def _open(self, request: Request) -> Response:
        if _right(self._access, request) is None:
            return RedirectResponse("/login", status_code=303)
        return self._file("page.html")

    async def _give_file(self, request: Request) -> Response:
        # Styles and scripts say nothing of the heat; the form needs them before anybody is let in.
        name = request.path_params["name"]
        return plain("there is nothing here", 404) if name.endswith(".html") else self._file(name)

    async def _give_metrics(self, request: Request) -> Response:
        """Give the figures to whoever may read: by the page's cookie, or by a token in the request.

        A wrong token waits like one at the login.
        """
        metrics = self._behind.metrics
        scheme, _, token = request.headers.get("authorization", "").partition(" ")
        right = _right(self._access, request)
        if right is None and scheme.lower() == "bearer":
            try:
                right = await self._admit(token.strip(), request)
            except TriedTooOftenError as error:
                return plain("too many wrong tokens", 429, {"Retry-After": f"{error.wait_s:.0f}"})
        if right is None or metrics is None:
            return plain("the token to read, as Authorization: Bearer", 401, {"WWW-Authenticate": "Bearer"})
        return Response(await metrics.text(), headers={"Content-Type": metrics.content_type})

    async def _admit(self, token: str, request: Request) -> Right | None:
        """Give what a token allows, after the pause that wrong ones bring; raises `TriedTooOftenError`."""
        address = self._address(request)
        await asyncio.sleep(self._access.pause_s(address, time.monotonic()))
        return self._access.admit(token, address, time.monotonic())

    async def _ask_token(self, _request: Request) -> Response:
        return self._shelf.login("", 200)

    async def _take_token(self, request: Request) -> Response:
        try:
            body = await _body(request)
            given = parse_qs(body.decode(errors="replace"), max_num_fields=4).get("token", [""])[0].strip()
            right = await self._admit(given, request)
        except _BodyError as error:
            return error.answer
        except ValueError:
            return plain("not the form it should be", 400, _CLOSE)
        except TriedTooOftenError as error:
            answer = self._shelf.login(f"Too many wrong tokens. Wait {error.wait_s:.0f} seconds.", 429)
            answer.headers["Retry-After"] = f"{error.wait_s:.0f}"
            return answer
        if right is None:
            return self._shelf.login("That is not the token.", 403)
        answer = RedirectResponse("/", status_code=303)
        answer.headers["Set-Cookie"] = self._access.cookie(right, time.time())
        return answer

    async def _forget(self, _request: Request) -> Response:
        answer = RedirectResponse("/login", status_code=303)
        answer.headers["Set-Cookie"] = self._access.no_cookie()
        return answer

    async def _take_order(self, request: Request) -> Response:
        right = _right(self._access, request)
        if right is not Right.ACT:
            return _said(401 if right is None else 403, "this page may only look; log in to act")
        if request.headers.get("content-type", "").partition(";")[0].strip() != "application/json":
            return _said(415, "an order is JSON")
        try:
            command, promise = self._understand(await _body(request), self._address(request))
        except _BodyError as error:
            return error.answer
        except ControlError as error:
            return _said(400, str(error))
        now_s = time.monotonic()
        if self._orders.wait_s(now_s) > 0:
            return _said(429, f"more than {_MOST_ORDERS} orders in {_ORDERS_WITHIN_S:.0f} s; wait a little")
        self._orders.note(now_s)
        self._behind.hear(command)
        silent_s = self._behind.stream.silent_s()
        if silent_s > _STUCK_S:
            return _said(202, f"passed on, but the watch has not moved for {silent_s:.0f} s: look at it", taken=True)
        return _said(202, promise, taken=True)

    def _understand(self, body: bytes, address: str) -> tuple[Command, str]:
        """Give what is ordered, and what to answer once the watch has it."""
        try:
            order = msgspec.json.decode(body, type=_Order)
        except UNREADABLE_JSON as error:
            raise ControlError(f"not an order: {error}") from None
        by = f"page:{address}"
        if order.command == _SPOT and order.spot is not None:
            return spot_note(order.spot, self._behind.look(), by)
        if order.command not in _ORDERS:
            raise ControlError(f"from a page only: {', '.join((*_ORDERS, _SPOT))}")
        request = messages.Request(
            messages.FORMAT, order.command, order.alarm, text=order.text, question=order.question
        )
        command = orders.command_of(request, by)
        return command, messages.promise(command, datetime.now().astimezone())

    def _file(self, name: str) -> Response:
        return self._shelf.give(name) or plain("there is nothing here", 404)

    def _address(self, request: Request) -> str:
        """Give who asks: the other end of the line, or whom our proxy says it speaks for."""
        if self._behind.is_behind_proxy:
            # The last entry is the proxy's own; those before it are what the client claimed.
            named = request.headers.get("x-forwarded-for", "").rpartition(",")[2].strip()
            if named:
                return "".join(letter for letter in named[:45] if letter.isalnum() or letter in ".:")
        return request.client.host if request.client else "unknown"


class _Streaming:
    """The stream to one page, from its request to its end."""

    def __init__(self, access: Access, stream: Stream) -> None:
        self._access = access
        self._stream = stream

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        request = Request(scope)
        right = _right(self._access, request)
        seat = None if right is None or request.method == "HEAD" else self._stream.take_seat()
        if right is None:
            await plain("log in first", 401)(scope, receive, send)
        elif request.method == "HEAD":
            await Response(media_type="text/event-stream")(scope, receive, send)
        elif seat is None:
            await plain("too many pages are open", 503, {"Retry-After": "10"})(scope, receive, send)
        else:
            leaving = asyncio.create_task(_see_leave(receive, seat))
            try:
                await _say_all(seat, right, send)
            except TimeoutError:
                scope["state"][CUT]()
            finally:
                self._stream.give_up(seat)
                leaving.cancel()
                await asyncio.gather(leaving, return_exceptions=True)


async def _say_all(seat: Seat, right: Right, send: Send) -> None:
    headers = [(b"content-type", b"text/event-stream"), (b"x-accel-buffering", b"no")]
    await send({"type": "http.response.start", "status": 200, "headers": headers})
    message: bytes | None = b'retry: 1000\nevent: right\ndata: "%s"\n\n' % right.encode()
    while message is not None:
        async with asyncio.timeout(_TAKES_NOTHING_S):
            await send({"type": "http.response.body", "body": message, "more_body": True})
        message = await seat.next()
    await send({"type": "http.response.body", "body": b""})


async def _see_leave(receive: Receive, seat: Seat) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass
    seat.leave()


def _right(access: Access, request: Request) -> Right | None:
    return access.right_of(request.headers.get("cookie", ""), time.time())


async def _body(request: Request) -> bytes:
    received = bytearray()
    try:
        async with asyncio.timeout(_BODY_WITHIN_S):
            async for part in request.stream():
                received += part
                if len(received) > _LONGEST_BODY:
                    raise _BodyError(plain(f"more than {_LONGEST_BODY} bytes", 413, _CLOSE))
    except (TimeoutError, ClientDisconnect):
        raise _BodyError(plain("the rest did not come in time", 408, _CLOSE)) from None
    return bytes(received)


def _said(status: int, text: str, *, taken: bool = False) -> Response:
    return Response(msgspec.json.encode(Said(taken, text)), status_code=status, media_type="application/json")
