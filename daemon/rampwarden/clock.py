"""The clock of a heat: seconds since it began for everything that is measured, wall time for labels only.

Durations and ramps come from a clock that nobody can set: a wall clock stepped by a day moves no soak. It goes on while
the host sleeps, because the furnace does. The core never sees this module; it is told times with its inputs. A
rehearsal brings a clock of its own, which runs faster.
"""

import contextlib
import ctypes
import time
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Protocol

# A file of the kernel, new at every start of the machine: host seconds of two starts cannot be compared.
_BOOT_ID = Path("/proc/sys/kernel/random/boot_id")
# States of adjtimex(2) in which the clock is kept in step: all but 5, leap seconds among them.
_KEPT = range(5)


class Clock(Protocol):
    """What the rim asks for the time."""

    @property
    def speed(self) -> float:
        """Seconds of this clock for one real second: 1.0 except in a rehearsal."""

    def now_s(self) -> float:
        """Give the seconds since the heat began; never runs back."""

    def wall(self) -> datetime:
        """Give the wall time, aware and in UTC, for record headers and outgoing messages."""


@dataclass(frozen=True, slots=True)
class Moment:
    """One moment on every clock there is: the host's own (`host_s`, within start `boot`) and the wall's.

    `wall_is_kept` tells that a time server keeps the wall clock in step.
    """

    boot: str
    host_s: float
    wall: datetime
    wall_is_kept: bool = False


def present_moment() -> Moment:
    """Give the present on every clock."""
    boot = ""
    with contextlib.suppress(OSError):
        boot = _BOOT_ID.read_text(encoding="ascii").strip()
    return Moment(boot, _host_s(), datetime.now(UTC), clock_state() in _KEPT)


def clock_state() -> int | None:
    """Give what adjtimex(2) says of the clock, 5 for not synchronised; None where it cannot be asked."""
    try:
        library = ctypes.CDLL(None, use_errno=True)
        # Larger than struct timex anywhere; all zeros asks and changes nothing.
        state = library.adjtimex(ctypes.create_string_buffer(512))
    except (OSError, AttributeError):
        return None
    return state if isinstance(state, int) and state >= 0 else None


class HostClock:
    """The host's own clock.

    `already_s` is how long the heat had been running when this clock was made: a heat taken up again after a crash goes
    on counting where its record ends, plus the time that was missed.
    """

    speed = 1.0

    def __init__(self, already_s: float = 0.0) -> None:
        self._began_s = _host_s() - already_s

    def now_s(self) -> float:
        """Give the seconds since the heat began, sleep of the host included."""
        return _host_s() - self._began_s

    def wall(self) -> datetime:
        """Give the host's wall time in UTC."""
        return datetime.now(UTC)


def _host_s() -> float:
    return time.clock_gettime(time.CLOCK_BOOTTIME)
