"""The clock of a heat: seconds since it began for everything that is measured, wall time for labels only.

Durations and ramps come from a clock that nobody can set: a wall clock stepped by a day must not move a soak. The core
never sees this module; it is told times with its inputs. A rehearsal brings a clock of its own, which runs faster.
"""

import time
from datetime import UTC, datetime
from typing import Protocol


class Clock(Protocol):
    """What the rim asks for the time."""

    @property
    def speed(self) -> float:
        """Seconds of this clock for one real second: 1.0 except in a rehearsal."""

    def now_s(self) -> float:
        """Give the seconds since the heat began; never runs back."""

    def wall(self) -> datetime:
        """Give the wall time, aware and in UTC, for record headers and outgoing messages."""


class HostClock:
    """The host's own clock.

    `already_s` is how long the heat had been running when this clock was made: a heat taken up again after a crash goes
    on counting where its record ends, plus the time that was missed.
    """

    speed = 1.0

    def __init__(self, already_s: float = 0.0) -> None:
        self._began_s = time.monotonic() - already_s

    def now_s(self) -> float:
        """Give the seconds since the heat began, from the host's monotonic clock."""
        return time.monotonic() - self._began_s

    def wall(self) -> datetime:
        """Give the host's wall time in UTC."""
        return datetime.now(UTC)
