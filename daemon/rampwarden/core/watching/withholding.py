"""Ramp alarms held back while the pot itself is shown to climb within its limit, though the reading does not.

A probe that is put back on a warm pot, or regains what an open lid took from it, climbs by itself and not with the pot.
Theory of operation. A ramp alarm that would ring while the explanation vouches for the pot is held back, for 90 s at
most, and that is said. It ends in one of two ways. Either the reading itself has settled: over the last half minute it
climbed no faster than its limit, which nobody needs to explain any more; then what was climbed before is the probe's,
and the climb is judged anew from here. Or it has not, or nobody vouches any longer: then the alarm rings at once.

An alarm that rings already is never taken back, and a vouching that has been used up is not used twice.
"""

import math
from collections import deque
from collections.abc import Collection

from rampwarden.core.limits import RAMP_FORECAST, RAMP_HIGH, SegmentLimits
from rampwarden.core.model import EventName, Finding, Noise, WithheldAlarms
from rampwarden.core.noise_formulas import mean_error_c
from rampwarden.core.quantities import format_duration
from rampwarden.core.watching.event_list import EventList

LONGEST_S = 90.0
"""s. Whatever the reason, a ramp alarm waits no longer."""
_SETTLES_S = 30.0
"""s over which the reading itself must keep to its limit: five lags of a quick probe. Common practice, no source."""
_BLOCK_S = 5.0
_RAMP_ALARMS = (RAMP_HIGH.name, RAMP_FORECAST.name)
_WHY = "the reading climbs and the pot does not: the probe takes up its temperature again"


class Withholding:
    """Holds back the ramp alarms of one heat; `withheld` is what is held back now, None while nothing is."""

    def __init__(self, events: EventList) -> None:
        self._events = events
        self._course: deque[tuple[float, float]] = deque()
        self._sum_s = self._sum_c = 0.0
        self._count = 0
        self._block_ends_s = -math.inf
        self._used_up = False
        self.withheld: WithheldAlarms | None = None

    def feed(
        self,
        time_s: float,
        temp_c: float,
        noise: Noise,
        limits: SegmentLimits,
        found: dict[str, Finding],
        raised: Collection[str],
        *,
        vouched: bool,
    ) -> None:
        """Take a believed reading (s, °C) with what `limits` found of it; takes out of `found` what is held back.

        `vouched`: the course so far shows the pot climbing within its limit. `raised` are the alarms that stand.
        """
        withheld = self.withheld
        if not vouched:
            self._used_up = False
            if withheld is None:
                return
        self._note(time_s, temp_c)
        if withheld is not None:
            if vouched and time_s < withheld.until_s:
                _take_out(found)
            else:
                self._end(time_s, noise, limits, found, withheld)
        elif not self._used_up and RAMP_HIGH.name in found and RAMP_HIGH.name not in raised:
            self._begin(time_s)
            _take_out(found)

    def restart(self) -> None:
        """Begin anew: another segment has its own limits, or nobody watched."""
        self._course.clear()
        self._count = 0
        self._used_up = False
        self.withheld = None

    def _begin(self, time_s: float) -> None:
        until_s = time_s + LONGEST_S
        self.withheld = WithheldAlarms(_RAMP_ALARMS, _WHY, time_s, until_s)
        most = format_duration(LONGEST_S)
        self._events.say_here(EventName.OBSERVED, f"{RAMP_HIGH.name} is held back, for {most} at most: {_WHY}")

    def _end(
        self, time_s: float, noise: Noise, limits: SegmentLimits, found: dict[str, Finding], withheld: WithheldAlarms
    ) -> None:
        self.withheld = None
        self._used_up = True
        lasted = format_duration(time_s - withheld.since_s)
        if RAMP_HIGH.name in found and self._has_settled(noise, limits):
            _take_out(found)
            limits.judge_climb_anew(time_s)
            why = "the reading keeps to its limit by itself now, and is judged anew from here"
            self._events.say_here(
                EventName.OBSERVED, f"{RAMP_HIGH.name} was held back for {lasted} and is dropped: {why}"
            )
        elif RAMP_HIGH.name in found:
            self._events.say_here(EventName.OBSERVED, f"{RAMP_HIGH.name} was held back for {lasted} and rings now")
        else:
            self._events.say_here(EventName.OBSERVED, f"{RAMP_HIGH.name} was held back for {lasted}: it is over")
        self._course.clear()

    def _note(self, time_s: float, temp_c: float) -> None:
        if time_s >= self._block_ends_s:
            if self._count:
                self._course.append((self._sum_s / self._count, self._sum_c / self._count))
            while self._course and self._course[0][0] < time_s - _SETTLES_S - _BLOCK_S:
                self._course.popleft()
            self._sum_s = self._sum_c = 0.0
            self._count = 0
            self._block_ends_s = time_s + _BLOCK_S
        self._sum_s += time_s
        self._sum_c += temp_c
        self._count += 1

    def _has_settled(self, noise: Noise, limits: SegmentLimits) -> bool:
        """Whether the last half minute's own slope keeps to every limit, as well as it can be known."""
        course = self._course
        if len(course) < 2 or course[-1][0] - course[0][0] < 0.7 * _SETTLES_S:
            return False
        half = len(course) // 2
        early, late = list(course)[:half], list(course)[-half:]
        apart_s = sum(at for at, _ in late) / half - sum(at for at, _ in early) / half
        risen_c = sum(temp_c for _, temp_c in late) / half - sum(temp_c for _, temp_c in early) / half
        error = math.sqrt(2.0) * mean_error_c(noise, half * _BLOCK_S) / apart_s
        fastest = min((rate.c_per_s for rate in limits.climb_limits), default=0.0)
        # A slope that cannot be known this well vouches for nothing.
        return error < 0.5 * fastest and risen_c / apart_s <= fastest + error


def _take_out(found: dict[str, Finding]) -> None:
    for name in _RAMP_ALARMS:
        found.pop(name, None)
