"""The other end of the control socket: finds the watch a person means, asks it, and gives its answer.

Never waits long, and takes no more than it can hold: a watch may be stuck, and what listens may be no watch at all.
"""

import os
import socket
import struct
import time
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from rampwarden.control.messages import (
    FORMAT,
    LONGEST_ANSWER,
    STATUS,
    Answer,
    Request,
    Snapshot,
    encode,
    read_answer,
)
from rampwarden.control.places import sockets
from rampwarden.errors import ControlError

# The watch gives each of us 5 s; it answers in a millisecond.
_PATIENCE_S = 5.0


def ask(environment: Mapping[str, str], wanted: str, request: Request) -> Answer:
    """Ask the watch called `wanted`, or with no name the only one that runs; gives its answer.

    Raises `ControlError` in one line when there is no such watch, several, or one that does not answer or refuses.
    """
    path = _choose(sockets(environment), wanted)
    answer = read_answer(_exchange(path, encode(request)))
    if not answer.taken:
        raise ControlError(f"{path.stem}: {answer.text}")
    return answer


def running(environment: Mapping[str, str]) -> list[Snapshot]:
    """Give how every watch stands that runs here and answers; one that will not tell is left out. Raises nothing."""
    found = []
    for path in sockets(environment).values():
        with suppress(ControlError):
            snapshot = read_answer(_exchange(path, encode(Request(FORMAT, STATUS)))).snapshot
            if snapshot is not None:
                found.append(snapshot)
    return found


def _choose(found: Mapping[str, Path], wanted: str) -> Path:
    if wanted in found:
        return found[wanted]
    living = {name: path for name, path in found.items() if _lives(path)}
    running = ", ".join(sorted(living)) or "none"
    if wanted:
        raise ControlError(f"no watch {wanted!r}; running: {running}")
    if not living:
        raise ControlError("no watch is running; start one with: rampwarden watch SCHEDULE --port PORT")
    if len(living) > 1:
        raise ControlError(f"several watches are running; choose with --watch: {running}")
    return next(iter(living.values()))


def _lives(path: Path) -> bool:
    """Tell whether a process listens there; one that will not have us lives too."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as line:
        try:
            _connect(line, path)
        except (FileNotFoundError, ConnectionRefusedError):
            return False
        except OSError:
            return True
    return True


def _exchange(path: Path, line: bytes) -> bytes:
    """Send one line and give the one that comes back, all within the patience."""
    until_s = time.monotonic() + _PATIENCE_S
    received = b""
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as peer:
        try:
            _connect(peer, path)
            peer.settimeout(_PATIENCE_S)
            peer.sendall(line)
            while b"\n" not in received:
                peer.settimeout(max(0.001, until_s - time.monotonic()))
                data = peer.recv(65_536)
                received += data
                if not data or len(received) > LONGEST_ANSWER:
                    raise ControlError(f"{path.stem}: the watch gave no whole answer; is it of another version?")
        except (FileNotFoundError, ConnectionRefusedError):
            raise ControlError(f"no watch {path.stem!r} is running any more") from None
        except PermissionError:
            raise ControlError(f"{path}: you may not speak to this watch; join its group ({_group(path)})") from None
        except (BlockingIOError, TimeoutError):
            raise ControlError(f"{path.stem}: the watch does not answer within {_PATIENCE_S:.0f} s") from None
        except OSError as error:
            raise ControlError(f"{path.stem}: the watch broke off: {error.strerror}") from error
    return received.partition(b"\n")[0]


def _connect(line: socket.socket, path: Path) -> None:
    """Connect, waiting for a place in the queue if need be: with Python's own timeout a full one fails at once."""
    seconds, microseconds = int(_PATIENCE_S), int(_PATIENCE_S % 1 * 1e6)
    line.setsockopt(socket.SOL_SOCKET, socket.SO_SNDTIMEO, struct.pack("ll", seconds, microseconds))
    line.connect(os.fsencode(path))


def _group(path: Path) -> str:
    try:
        return path.group()
    except (OSError, KeyError):
        return "that of its socket"
