"""Ramp alarms held back while the pot itself is shown to climb within its limit, though the reading does not.

A probe that is put back on a warm pot, or regains what an open lid took from it, climbs by itself and not with the pot.
Two things vouch for the pot: the explanation's fit, and a reading below what the pot had when it was lifted, or before
the lid was: that is a probe on its way back to it.

Theory of operation. A ramp alarm that would ring while somebody vouches is held back, for 90 s at most, and that is
said. It ends in one of two ways. Either the reading shows that what it climbed was the probe's: it has regained what
the pot had, or all but that, or has settled, so that over the last half minute it climbed no faster than its limit.
Then the climb is judged anew from here. Or it has not, or nobody vouches any longer: then the alarm rings at once.

A probe that was away still lags when it has regained what the pot had, for the pot has climbed meanwhile; and its way
back is no flicker. So what readings scatter by is learnt anew from there, and once more a minute and a half later. Then
the climb is judged as the pot's own: straight from what it had when it was set down to what the reading has, if that
keeps the limits. Nothing is held back in that time.

An alarm that rings already is never taken back, and a vouching that has been used up is not used twice.
"""

import math
from collections import deque
from collections.abc import Callable, Collection

from rampwarden.core.limits import RAMP_FORECAST, RAMP_HIGH, SegmentLimits
from rampwarden.core.model import EventName, Finding, WithheldAlarms
from rampwarden.core.quantities import format_duration
from rampwarden.core.watching.event_list import EventList

LONGEST_S = 90.0
"""s. Whatever the reason, a ramp alarm waits no longer."""
_SETTLES_S = 30.0
"""s over which the reading itself must keep to its limit: five lags of a quick probe. Common practice, no source."""
_BLOCK_S = 5.0
_FEWEST_BLOCKS = 4
_NEAR_C = 3.0
"""°C below what the pot has, from which on the reading has come back to it."""
_ROOM_C = 20.0
_COOLS_S = 2000.0
"""s in which a carried pot loses two thirds of what it is above the room: 5 kg at 2 W/K. Own arithmetic."""
_AWAY_C = 15.0
"""°C below what the pot had: a probe that showed so little was not on it, and lags behind what it has climbed since."""
_AHEAD = 0.06
"""Share of a limit by which a probe runs ahead of its pot while the chamber around both grows warm. Own arithmetic, two
simulated furnaces."""
_RUNS_AHEAD_C = 20.0
"""°C by which a probe in its new place runs ahead of its pot at most: it sees wall and gas, which warm faster. Own
arithmetic, two simulated furnaces, nine heats in ten."""
_LOST = 0.5
"""Share of that by which the reading may fall short of what the pot had: pots and draughts differ."""
_RAMP_ALARMS = (RAMP_HIGH.name, RAMP_FORECAST.name)
ARRIVES_S = 600.0
"""s after an arrival by which any probe has come back. Common practice, no source."""
_WHY = "the reading climbs and the pot does not: the probe takes up its temperature again"


class Withholding:
    """Holds back the ramp alarms of one heat; `withheld` is what is held back now, None while nothing is."""

    def __init__(self, events: EventList, noise_begins_anew: Callable[[], None]) -> None:
        self._events, self._noise_begins_anew = events, noise_begins_anew
        self._course: deque[tuple[float, float]] = deque()
        self._sum_s = self._sum_c = 0.0
        self._count = 0
        self._block_ends_s = -math.inf
        self._used_up = False
        self._had_c: float | None = None
        self._until_s = self._regained_until_s = -math.inf
        self._anew = False
        self._set_down = (0.0, 0.0)
        self._lowest_c = self._shows_pot_s = math.inf
        self.withheld: WithheldAlarms | None = None

    def feed(
        self,
        time_s: float,
        temp_c: float,
        limits: SegmentLimits,
        found: dict[str, Finding],
        raised: Collection[str],
        *,
        vouched: bool,
    ) -> None:
        """Take a believed reading (s, °C) with what `limits` found of it; takes out of `found` what is held back.

        `vouched`: the course so far shows the pot climbing within its limit. `raised` are the alarms that stand.
        """
        vouched = vouched and time_s >= self._regained_until_s
        self._lowest_c = min(self._lowest_c, temp_c)
        awaited = not math.isinf(self._shows_pot_s)
        if awaited:
            self._note(time_s, temp_c)
        if time_s >= self._shows_pot_s:
            self._judge_since_set_down(time_s, temp_c, limits)
        if self._had_c is not None and time_s > self._until_s:
            self._had_c = None
        if self._had_c is not None:
            if temp_c >= self._had_c and (self._anew or self.withheld is not None):
                self._regain(time_s, limits, found, raised)
                return
            vouched = vouched or temp_c < self._had_c
        withheld = self.withheld
        if not vouched:
            self._used_up = False
            if withheld is None:
                return
        if not awaited:
            self._note(time_s, temp_c)
        if withheld is not None and not (vouched and time_s < withheld.until_s):
            self._end(time_s, temp_c, limits, found, raised, withheld)
        elif not self._used_up:
            rings = next((name for name in _RAMP_ALARMS if name in found and name not in raised), None)
            if rings is not None and (withheld is None or rings not in withheld.alarms):
                # A caution that has become a break has its own minute and a half.
                self._begin(time_s, rings)
            if self.withheld is not None:
                _take_out(found, raised)

    def expect(self, had_c: float, until_s: float) -> None:
        """The reading is on its way back to what the pot had, `had_c` (°C), until `until_s` (s) at most."""
        self._had_c, self._until_s, self._anew = had_c, until_s, False
        self._regained_until_s = -math.inf
        self._shows_pot_s = math.inf

    def expect_arrived(self, lifted_c: float, carried_s: float, time_s: float) -> None:
        """A pot is set down at `time_s` (s) that had `lifted_c` (°C) and was carried for `carried_s` (s).

        Its climb is judged anew from what it has then, whether anything was held back or not: it had been away.
        """
        had_c = had_after_carrying_c(lifted_c, carried_s)
        self.expect(had_c, time_s + ARRIVES_S)
        self._anew, self._set_down, self._lowest_c = True, (time_s, had_c), math.inf

    def expect_no_more(self) -> None:
        """What the pot had is no measure any more."""
        self._had_c = None

    def restart(self) -> None:
        """Begin anew: another segment has its own limits, or nobody watched."""
        self._course.clear()
        self._count = 0
        self._used_up = False
        self._had_c, self._shows_pot_s = None, math.inf
        self.withheld = None

    def _begin(self, time_s: float, alarm: str) -> None:
        self.withheld = WithheldAlarms((alarm,), _WHY, time_s, time_s + LONGEST_S)
        most = format_duration(LONGEST_S)
        self._events.say_here(EventName.OBSERVED, f"{alarm} is held back, for {most} at most: {_WHY}")

    def _regain(self, time_s: float, limits: SegmentLimits, found: dict[str, Finding], raised: Collection[str]) -> None:
        """The reading stands where the pot stood before: what it climbed up to here was the probe's."""
        if self._anew and self._had_c is not None and self._lowest_c < self._had_c - _AWAY_C:
            # The pot has climbed since, and what the probe still lags behind it will be climbed too.
            self._shows_pot_s = time_s + LONGEST_S
            self._noise_begins_anew()
        self._had_c = None
        # Nor need anybody vouch for it any longer.
        self._regained_until_s = self._until_s
        limits.judge_climb_anew(time_s, _AHEAD if self._anew else 0.0)
        _take_out(found, raised)
        withheld, self.withheld = self.withheld, None
        if withheld is not None:
            why = "the reading has come back to what the pot had, and is judged anew from here"
            self._say_end(time_s, withheld, f"and is dropped: {why}")

    def _judge_since_set_down(self, time_s: float, temp_c: float, limits: SegmentLimits) -> None:
        """The probe shows the pot by now: what that has climbed since it was set down is judged as its own."""
        self._shows_pot_s = math.inf
        self._noise_begins_anew()
        since_s, had_c = self._set_down
        lasted_s = time_s - since_s
        had_c += self._runs_ahead_c(temp_c - had_c, lasted_s)
        # A pot that has broken a limit on its way is judged as it was.
        if all(temp_c - had_c <= rate.climb_c * max(1.0, lasted_s / rate.window_s) for rate in limits.climb_limits):
            limits.judge_climb_along(since_s, had_c, time_s, temp_c, _AHEAD)

    def _runs_ahead_c(self, climbed_c: float, lasted_s: float) -> float:
        """Give how far ahead of its pot the probe runs by now, °C: what it climbed beyond its present pace."""
        pace = self._pace()
        if pace is None:
            return 0.0
        slope, error = pace
        return min(max(climbed_c - (slope + error) * lasted_s, 0.0), _RUNS_AHEAD_C)

    def _end(
        self,
        time_s: float,
        temp_c: float,
        limits: SegmentLimits,
        found: dict[str, Finding],
        raised: Collection[str],
        withheld: WithheldAlarms,
    ) -> None:
        self.withheld = None
        self._used_up = True
        if not any(name in found for name in _RAMP_ALARMS):
            self._say_end(time_s, withheld, "and is over by itself")
        elif why := self._shows_probe(temp_c, limits):
            _take_out(found, raised)
            limits.judge_climb_anew(time_s)
            self._say_end(time_s, withheld, f"and is dropped: {why}, and is judged anew from here")
        else:
            self._say_end(time_s, withheld, "and rings now")
        self._course.clear()

    def _shows_probe(self, temp_c: float, limits: SegmentLimits) -> str:
        """Say what shows that all that was climbed was the probe's; nothing where nothing does."""
        if self._has_settled(limits):
            return "the reading keeps to its limit by itself now"
        return "the reading stands below what the pot had" if self._is_nearly_back(temp_c, limits) else ""

    def _is_nearly_back(self, temp_c: float, limits: SegmentLimits) -> bool:
        """Whether the reading is still below what the pot had, and what it lacks is no more than a limit lets it climb.

        All that it climbed up to here was the probe's then. A probe that lacks more is not waited for.
        """
        if self._had_c is None:
            return False
        most_c = min((rate.climb_c for rate in limits.climb_limits), default=0.0)
        return self._had_c - most_c < temp_c < self._had_c

    def _say_end(self, time_s: float, withheld: WithheldAlarms, how: str) -> None:
        lasted = format_duration(time_s - withheld.since_s)
        self._events.say_here(EventName.OBSERVED, f"{withheld.alarms[0]} was held back for {lasted} {how}")

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

    def _has_settled(self, limits: SegmentLimits) -> bool:
        """Whether the last half minute's own slope keeps to every limit, as well as its points let it be known."""
        pace = self._pace()
        if pace is None:
            return False
        slope, error = pace
        fastest = min((rate.c_per_s for rate in limits.climb_limits), default=0.0)
        # A slope that cannot be known this well vouches for nothing.
        return error < 0.5 * fastest and slope <= fastest + error

    def _pace(self) -> tuple[float, float] | None:
        """Give the last half minute's slope and its standard error, °C/s; None where there is too little of it."""
        course = self._course
        count = len(course)
        if count < _FEWEST_BLOCKS or course[-1][0] - course[0][0] < 0.7 * _SETTLES_S:
            return None
        middle_s = sum(time_s for time_s, _ in course) / count
        mean_c = sum(temp_c for _, temp_c in course) / count
        spread_s2 = sum((time_s - middle_s) ** 2 for time_s, _ in course)
        slope = sum((time_s - middle_s) * (temp_c - mean_c) for time_s, temp_c in course) / spread_s2
        left_c2 = sum((temp_c - mean_c - slope * (time_s - middle_s)) ** 2 for time_s, temp_c in course)
        return slope, math.sqrt(left_c2 / (count - 2) / spread_s2)


def _take_out(found: dict[str, Finding], raised: Collection[str]) -> None:
    """Take the ramp alarms out of what is found, but for those that ring already."""
    for name in _RAMP_ALARMS:
        if name not in raised:
            found.pop(name, None)


def had_after_carrying_c(lifted_c: float, carried_s: float) -> float:
    """Give what the reading must come back to of a pot that had `lifted_c` (°C) and was carried for `carried_s` (s)."""
    lost_c = max(0.0, lifted_c - _ROOM_C) * -math.expm1(-carried_s / _COOLS_S)
    return lifted_c - _NEAR_C - _LOST * lost_c
