"""Tells the service manager how the watch is (sd_notify(3)): ready, alive, reloading, stopping.

Own lines instead of a library: it is one datagram to a socket named in the environment. Nothing here raises or waits; a
manager that is not there, or does not read, is no reason not to watch.

READY means that the settings are valid, the record is open and the loop runs; the board may come later. WATCHDOG is fed
from the watch's own loop, once a second, as long as the heat's clock moves on and somebody is left who could read the
board: a watch that times an honest silence is well, one whose reader is gone is not and had better be started again.
"""

import socket
import time
from collections.abc import Callable

from rampwarden.core.model import Event, HeatStatus
from rampwarden.filed import Filed
from rampwarden.outputs.status_line import status_sentence
from rampwarden.terminal_text import printable


def notify(address: str, message: str) -> bool:
    """Send one message to the manager at `address` ($NOTIFY_SOCKET); tells whether it was taken. Never raises."""
    if not address:
        return False
    # A leading @ is how an abstract address is written (unix(7)).
    place = f"\0{address[1:]}" if address.startswith("@") else address
    try:
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as line:
            line.setblocking(False)
            line.sendto(message.encode(errors="replace"), place)
    except (OSError, ValueError):
        # ValueError: a null in the middle of the address.
        return False
    return True


class ServiceNotifier:
    """An output of the watch that speaks to the service manager; `can_read` tells whether the board is still read."""

    def __init__(self, address: str, can_read: Callable[[], bool]) -> None:
        self._address = address
        self._can_read = can_read
        self._is_ready = False
        self._shown_s: float | None = None

    def tell(self, event: Event, filed: Filed | None = None) -> None:
        """Events are in the log, which the manager has as well."""

    def show(self, status: HeatStatus) -> None:
        """Say how the heat stands, and that the watch is well if it is."""
        if not self._address:
            return
        well = self._can_read() and (self._shown_s is None or status.time_s > self._shown_s)
        self._shown_s = status.time_s
        lines = [f"STATUS={printable(status_sentence(status))}"] if well else ["STATUS=the watch has stopped moving"]
        if well:
            lines.append("WATCHDOG=1")
        if not self._is_ready:
            lines.append("READY=1")
        if notify(self._address, "\n".join(lines)):
            self._is_ready = True

    def reloading(self) -> None:
        """Say that settings are being read again; `reloaded` must follow."""
        notify(self._address, f"RELOADING=1\nMONOTONIC_USEC={time.monotonic_ns() // 1000}")

    def reloaded(self) -> None:
        """Say that the reload is over."""
        notify(self._address, "READY=1")

    def close(self) -> None:
        """Say that the watch is ending."""
        notify(self._address, "STOPPING=1")
