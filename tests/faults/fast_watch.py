"""Runs the command line on a faster clock and a wall clock that can be stepped. Not a test itself.

Everything else is the program as it is shipped. Two environment variables say how: FAULTS_SPEED is how many seconds of
the host's clock go by in one real second, FAULTS_WALL a file with the seconds by which the wall clock is off; it is
read at each look at the clock, so that a step comes while the watch runs. What is not a heat's time (waits between
openings of a port, everything about a broker) stays in real seconds.
"""

import os
import time
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path
from typing import Self

from rampwarden import cli, clock
from rampwarden.assembly import heat_start

_SPEED = float(os.environ.get("FAULTS_SPEED", "1"))
_WALL = Path(os.environ.get("FAULTS_WALL", "/nonexistent"))
_real_time = time.time
_real_datetime = datetime


def _off_s() -> float:
    try:
        return float(_WALL.read_text(encoding="ascii"))
    except (OSError, ValueError):
        return 0.0


class SteppedDatetime(datetime):
    """A `datetime` whose `now` is off by as much as the file says."""

    @classmethod
    def now(cls, tz: tzinfo | None = None) -> Self:
        """Give the stepped wall time."""
        return cls.fromtimestamp(_real_datetime.now(UTC).timestamp(), tz) + timedelta(seconds=_off_s())


def main() -> None:
    """Put the clocks in place and hand over to the program."""
    clock._host_s = lambda: _SPEED * time.clock_gettime(time.CLOCK_BOOTTIME)
    clock.HostClock.speed = _SPEED
    clock.datetime = SteppedDatetime  # type: ignore[misc]
    heat_start.datetime = SteppedDatetime  # type: ignore[attr-defined]
    time.time = lambda: _real_time() + _off_s()
    cli.run()


if __name__ == "__main__":
    main()
