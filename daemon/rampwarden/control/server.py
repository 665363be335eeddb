"""The control socket of a running watch: other terminals ask how it stands and tell it what a person wants.

Theory of operation. One thread serves everybody with sockets that never block; the watch is touched in two places only:
it leaves a snapshot here about once a second (`show`), and commands go to it through `hear`, like those of its own
keyboard. Whatever a client does, the watch does not notice. Policy:

1. One line asks, one line answers, and the connection is closed. All of it within 5 s, however it is dripped.
2. Whoever has asked by the time they are taken in is answered at once and never waits among the others. Of those who
   have not, at most 64 may linger; one more pushes out the oldest of the process that has most of them.
3. At most 20 commands in 10 s, from everybody together: each is written into the record.
4. Who may use the socket says its mode, 0660. Who did is asked of the kernel, never of the client.
"""

import contextlib
import os
import pwd
import selectors
import socket
import struct
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from rampwarden.control.messages import (
    FORMAT,
    LONGEST_REQUEST,
    MARKS,
    STATUS,
    AboutWatch,
    Answer,
    Snapshot,
    encode,
    promise,
    read_request,
)
from rampwarden.control.orders import command_of
from rampwarden.control.places import socket_path
from rampwarden.core.model import Command, CommandName, Event, HeatStatus, mark_name
from rampwarden.core.usual_marks import ARRIVED, TRANSFER, maybe_usual
from rampwarden.errors import ControlError, SettingsError
from rampwarden.filed import Filed
from rampwarden.plain_logs import structlog
from rampwarden.rate_limiter import RateLimiter

_MOST_CLIENTS = 64
# Callers the kernel keeps waiting until they are accepted: whoever finds a place has asked before we come to them. With
# fewer a crowd of callers would stand before the door, where nobody's turn is sure; with more, a flood that never stops
# would make each wait longer.
_BACKLOG = 1536
# Taken in at a time, before those who were there are attended to.
_AT_A_TIME = 256
_DEADLINE_S = 5.0
_MOST_COMMANDS = 20
_PACE_S = 10.0
# The watch shows itself every second; silent for this long it is stuck, and nobody should be promised anything.
_STUCK_S = 5.0
# After a failure of our own (no descriptor left, a defect): long enough not to burn the processor.
_REST_S = 0.5
_CLOSE_S = 1.0
_CREDENTIALS = struct.Struct("3i")  # process, user, group: struct ucred of unix(7)


@dataclass(slots=True, eq=False)
class _Client:
    line: socket.socket
    process: int
    user: int
    ends_s: float
    received: bytearray = field(default_factory=bytearray)
    answer: bytes = b""
    events: int = 0


class ControlServer:
    """Serves one watch's socket in `folder`; it is an output of that watch as well."""

    def __init__(self, folder: Path, about: AboutWatch) -> None:
        """Take the socket's place; raises `ControlError` when it cannot be made.

        Raises `SettingsError` when a watch that lives has it: two of one name would never be told apart.
        """
        self.path = socket_path(folder, about.watch)
        self._about = about
        self._listener = _listen(self.path)
        self._shown: tuple[HeatStatus, float] | None = None
        self._clients: list[_Client] = []
        self._crowds: dict[int, int] = {}
        self._commands = RateLimiter(_MOST_COMMANDS, _PACE_S)
        self._selector = selectors.DefaultSelector()
        self._closing = threading.Event()
        self._waker, self._woken = socket.socketpair()
        self._hear: Callable[[Command], None] = _nobody_hears
        self._worker = threading.Thread(target=self._work, name="control", daemon=True)

    def serve(self, hear: Callable[[Command], None]) -> None:
        """Begin to answer; commands go to `hear`, which returns at once."""
        self._hear = hear
        self._selector.register(self._listener, selectors.EVENT_READ)
        self._selector.register(self._woken, selectors.EVENT_READ)
        self._worker.start()

    def tell(self, event: Event, filed: Filed | None = None) -> None:
        """Events are for who listens all the time; here one is asked, and the snapshot has every standing alarm."""

    def show(self, status: HeatStatus) -> None:
        """Keep where the heat stands, for whoever asks; returns at once."""
        self._shown = (status, time.monotonic())

    def close(self) -> None:
        """Stop answering and remove the socket. A worker stuck in a look-up of a user's name is left behind."""
        self._closing.set()
        self._waker.send(b"!")
        if self._worker.is_alive():
            self._worker.join(_CLOSE_S)
        with contextlib.suppress(OSError):
            self.path.unlink()
        for client in list(self._clients):
            self._drop(client)
        for each in (self._listener, self._waker, self._woken, self._selector):
            each.close()

    def _work(self) -> None:
        while not self._closing.is_set():
            try:
                self._serve_once()
            except Exception as error:  # outermost: a defect here may cost the clients of the moment, not the socket
                structlog.get_logger().error(f"control socket: unexpected {type(error).__name__}: {error}")
                for client in list(self._clients):
                    self._drop(client)
                self._closing.wait(_REST_S)

    def _serve_once(self) -> None:
        for key, _ in self._selector.select(self._until_deadline_s()):
            if key.fileobj is self._listener:
                self._accept()
            elif isinstance(key.data, _Client) and key.data in self._clients:
                self._attend(key.data)
        now_s = time.monotonic()
        for client in [client for client in self._clients if client.ends_s <= now_s]:
            self._drop(client)

    def _until_deadline_s(self) -> float | None:
        return max(0.0, self._clients[0].ends_s - time.monotonic()) if self._clients else None

    def _accept(self) -> None:
        for _ in range(_AT_A_TIME):
            try:
                line, _ = self._listener.accept()
            except (BlockingIOError, ConnectionAbortedError):
                break
            except OSError:
                # No descriptor is left. Whoever waits to be accepted would wake us again at once.
                self._closing.wait(_REST_S)
                break
            line.setblocking(False)
            process, user = _peer(line)
            client = _Client(line, process, user, time.monotonic() + _DEADLINE_S)
            self._clients.append(client)
            self._crowds[process] = self._crowds.get(process, 0) + 1
            self._attend(client)
            if len(self._clients) > _MOST_CLIENTS:
                self._push_out()
        # Most of a flood is gone by now, and has cost the selector nothing.
        for client in self._clients:
            if not client.events:
                self._await(client)

    def _push_out(self) -> None:
        """Make room: of the process that lets most connections linger, the oldest goes."""
        crowd = max(self._crowds, key=self._crowds.__getitem__)
        self._drop(next(client for client in self._clients if client.process == crowd))

    def _attend(self, client: _Client) -> None:
        try:
            if not client.answer:
                self._receive(client)
            if client.answer:
                client.answer = client.answer[client.line.send(client.answer) :]
                if not client.answer:
                    self._drop(client)
        except BlockingIOError:
            pass  # there is more time until the deadline
        except OSError:
            self._drop(client)
        if client.events and client.line.fileno() >= 0:
            self._await(client)

    def _await(self, client: _Client) -> None:
        """Be told when there is more of the request, or room for more of the answer."""
        events = selectors.EVENT_WRITE if client.answer else selectors.EVENT_READ
        if not client.events:
            self._selector.register(client.line, events, client)
        elif client.events != events:
            self._selector.modify(client.line, events, client)
        client.events = events

    def _receive(self, client: _Client) -> None:
        data = client.line.recv(LONGEST_REQUEST - len(client.received))
        client.received += data
        if b"\n" in data:
            line, _, _ = bytes(client.received).partition(b"\n")
            client.answer = encode(self._answer(line, client.user))
        elif len(client.received) >= LONGEST_REQUEST:
            client.answer = encode(_refusal(f"a request of more than {LONGEST_REQUEST} bytes"))
        elif not data:
            self._drop(client)

    def _answer(self, line: bytes, user: int) -> Answer:
        try:
            request = read_request(line)
            if request.request == STATUS:
                return Answer(FORMAT, taken=True, snapshot=self._snapshot())
            command = command_of(request, f"socket:{_user(user)}")
            self._hold_back()
        except ControlError as error:
            return _refusal(str(error))
        self._hear(command)
        return Answer(FORMAT, taken=True, text=self._promise(command))

    def _snapshot(self) -> Snapshot:
        if self._shown is None:
            raise ControlError("the watch has only just begun; ask again in a second")
        status, shown_s = self._shown
        return Snapshot(self._about, round(time.monotonic() - shown_s, 3), status)

    def _promise(self, command: Command) -> str:
        now = datetime.now().astimezone()
        still_s = 0.0 if self._shown is None else time.monotonic() - self._shown[1]
        if still_s > _STUCK_S:
            return f"passed on, but the watch has not moved for {still_s:.0f} s: look at it"
        if command.command is CommandName.MARK and maybe_usual(command.text) is None:
            return f"{promise(command, now)} It is not one of the usual marks, which are {', '.join(MARKS)}"
        if command.command is CommandName.MARK and mark_name(command.text) in (TRANSFER, ARRIVED):
            # Only these move the heat; whoever marks from another terminal does not see that the watch asks back.
            return f"{promise(command, now)} Where it does not fit, the watch asks: see rampwarden status"
        return promise(command, now)

    def _hold_back(self) -> None:
        now_s = time.monotonic()
        if self._commands.wait_s(now_s) > 0:
            raise ControlError(f"more than {_MOST_COMMANDS} commands in {_PACE_S:.0f} s; wait a little")
        self._commands.note(now_s)

    def _drop(self, client: _Client) -> None:
        self._clients.remove(client)
        self._crowds[client.process] -= 1
        if not self._crowds[client.process]:
            del self._crowds[client.process]
        if client.events:
            with contextlib.suppress(KeyError, ValueError):
                self._selector.unregister(client.line)
        client.line.close()


def _listen(path: Path) -> socket.socket:
    """Give a listening socket at `path`; that of a dead watch is replaced, and nobody ever meets one half made."""
    _see_that_nobody_lives(path)
    unready = path.with_name(f".{os.getpid()}")
    listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    try:
        listener.setblocking(False)
        unready.unlink(missing_ok=True)
        listener.bind(os.fsencode(unready))
        unready.chmod(0o660)
        listener.listen(_BACKLOG)
        unready.rename(path)
    except OSError as error:
        listener.close()
        raise ControlError(f"{path}: cannot make the control socket: {error.strerror}") from error
    return listener


def _see_that_nobody_lives(path: Path) -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as probe:
        probe.settimeout(1.0)
        try:
            probe.connect(os.fsencode(path))
        except (FileNotFoundError, ConnectionRefusedError):
            return
        except (BlockingIOError, TimeoutError):
            holder = "a watch"  # with more callers than it can take: it lives
        except OSError as error:
            raise ControlError(f"{path}: cannot make the control socket: {error.strerror}") from error
        else:
            holder = f"the watch that is process {_peer(probe)[0]}"
    raise SettingsError(f"control.name {path.stem!r} is taken by {holder}; give this watch another, or end that one")


def _peer(line: socket.socket) -> tuple[int, int]:
    """Give process and user at the other end, as the kernel saw them connect (or listen)."""
    process, user, _ = _CREDENTIALS.unpack(line.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, _CREDENTIALS.size))
    return process, user


def _user(number: int) -> str:
    try:
        return pwd.getpwuid(number).pw_name
    except KeyError:
        return str(number)


def _refusal(why: str) -> Answer:
    return Answer(FORMAT, taken=False, text=why)


def _nobody_hears(_command: Command) -> None:
    """Stand in until the watch is there; nobody is served before that."""
