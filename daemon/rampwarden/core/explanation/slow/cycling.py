"""An oven's thermostat or a burner that switches on and off: the same swing again and again, told after two of them.

An oven is quiet: its turning points are seen one by one, and two cycles alike are a thermostat. A burner's cycles lie
on a climb, under flicker, and are smoothed by the pot; there the slope's autocorrelation over a quarter of an hour
tells, with a trough half a period away. A person who hunts a pace swings too, but not evenly enough for that, or not
for three cycles; in a furnace's soak hands swing as evenly as burners, so there nothing is said.
"""

import math
from collections.abc import Sequence
from functools import cache
from itertools import pairwise

from rampwarden.core.explanation.slots import Slot
from rampwarden.core.explanation.slow.half_minutes import ROUGHEST_OVEN_C, HalfMinutes
from rampwarden.core.explanation.slow.projection import beside, dot, orthonormal
from rampwarden.core.explanation.slow_rules import LEAST_LOG_ODDS, Candidate, Glance
from rampwarden.core.explanation.statements import Cause, Context, Figures
from rampwarden.core.schedule import SegmentKind

# A thermostat.
_LEAST_SWING_C = 1.8
_DEVIATIONS = 6.0
_ALIKE = 2.6
"""Times the smaller of two swings, or of two cycles' lengths, that the larger may be while an oven settles."""
_STRAIGHT = 0.6
"""Share of the way from a turning point that led away from it, at least."""
_TURNS, _TURNS_ROUGH = 5, 7
"""Turning points in two whole cycles; and in three, where it is as rough as over a flame."""
# A burner.
_STEP_S = 10.0
_WINDOWS = (90, 75, 60, 45, 30)
"""Steps that are looked at: a quarter of an hour, and down to five minutes."""
_PERIODS = range(6, 31)
"""Steps in a period: a minute to five."""
_TROUGH = -0.4
_REGULAR = ((30, 2.5, 0.9), (30, 3.0, 0.8), (60, 2.5, 0.8), (60, 3.0, 0.7), (90, 4.0, 0.55))
"""Steps of a window, cycles that it holds, and how alike they are, at least: the more there are, the less alike."""
_NO_TRACE = 0.35
"""How alike a window is in which there is no trace of a rhythm: nothing shorter is looked at."""
_LEAST_C = 1.5
"""°C from trough to crest: less is nobody's concern."""
_LOOKS_S = 60.0
_TWICE = 2
_OVER = 2.0
"""Periods without a finding, after which it cycles no more."""


class ThermostatRule:
    """Looks for turning points in an oven's climb or soak."""

    def __init__(self, course: HalfMinutes) -> None:
        self._course = course
        self.restart()

    def restart(self) -> None:
        """Forget what was seen of the course."""
        self._turns: list[tuple[float, float]] = []
        self._extreme: tuple[float, float] | None = None
        self._way_c, self._last_c = 0.0, math.nan
        self._rising = True
        self._told: Candidate | None = None

    def feed(self, glance: Glance) -> Candidate | None:
        """Judge one more half minute."""
        course, context = self._course, glance.context
        if context is None or not (context.kind.heats and context.in_oven):
            self.restart()
            return None
        if self._turn(course.last_s, course.temps_c[-1]):
            self._told = self._judge()
        elif self._told is not None:
            period_s = self._told.figures.period_s or 0.0
            if course.last_s - self._turns[-1][0] > _OVER * period_s:
                self.restart()
        return self._told

    def _turn(self, time_s: float, temp_c: float) -> bool:
        """Follow the course; says whether it has turned."""
        now = (time_s, temp_c)
        self._way_c += abs(temp_c - self._last_c)
        self._last_c = temp_c
        if self._extreme is None or (temp_c > self._extreme[1]) is self._rising:
            self._extreme = now
            self._way_c = 0.0
            return False
        swing_c = abs(temp_c - self._extreme[1])
        if swing_c < max(_LEAST_SWING_C, _DEVIATIONS * self._course.scatter_c()):
            return False
        if swing_c < _STRAIGHT * self._way_c:
            # It wandered from there to here: two ends of a rough flame's flicker, and no turn.
            self._turns.clear()
        self._turns.append(self._extreme)
        del self._turns[:-_TURNS_ROUGH]
        self._extreme = now
        self._way_c = 0.0
        self._rising = not self._rising
        return True

    def _judge(self) -> Candidate | None:
        turns = self._turns
        if self._course.scatter_c() <= ROUGHEST_OVEN_C:
            turns = turns[-_TURNS:]
        elif len(turns) < _TURNS_ROUGH:
            return None
        if len(turns) < _TURNS:
            return None
        swings = [abs(later[1] - earlier[1]) for earlier, later in pairwise(turns)]
        cycles_s = [later[0] - earlier[0] for earlier, later in pairwise(turns[::2])]
        if max(swings) > _ALIKE * min(swings) or max(cycles_s) > _ALIKE * min(cycles_s):
            return None
        change_c, period_s = sum(swings) / len(swings), sum(cycles_s) / len(cycles_s)
        figures = Figures(turns[-1][1], change_c, period_s=period_s, count=len(cycles_s))
        return Candidate(Cause.CYCLING, turns[0][0], LEAST_LOG_ODDS + 3.0, figures)


class BurnerRule:
    """Looks for a rhythm in a furnace's climb, once a minute: at buckets, for half minutes are too long for it."""

    def __init__(self) -> None:
        self.restart()

    def restart(self) -> None:
        """Forget the course."""
        self._looked_s = -math.inf
        self._run = 0
        self._told: Candidate | None = None
        self._until_s = -math.inf

    def rests(self, context: Context | None, now_s: float) -> bool:
        """Whether to feed it at `now_s` would change nothing."""
        if context is None or not self._may_cycle(context):
            return self._looked_s == -math.inf
        return now_s - self._looked_s < _LOOKS_S

    def feed(self, glance: Glance) -> Candidate | None:
        """Judge one more bucket."""
        context, now_s = glance.context, glance.slot.time_s
        if context is None or not self._may_cycle(context):
            self.restart()
            return None
        if now_s - self._looked_s < _LOOKS_S:
            return self._told
        self._looked_s = now_s
        found = self._look(glance)
        self._run = self._run + 1 if found is not None else 0
        if found is not None and (self._run >= _TWICE or self._told is not None):
            period_s, swing_c = found
            since_s = self._told.since_s if self._told is not None else now_s - 3.0 * period_s
            count = int((now_s - since_s) / period_s)
            figures = Figures(glance.level_c, swing_c, period_s=period_s, count=count)
            self._told = Candidate(Cause.CYCLING, since_s, LEAST_LOG_ODDS + 3.0, figures)
            self._until_s = now_s + _OVER * period_s
        elif now_s > self._until_s:
            self._told = None
        return self._told

    def _may_cycle(self, context: Context) -> bool:
        """Whether to look: in a climb, and in the soak after it as long as it goes on."""
        looks = context.kind.heats if self._told is not None else context.kind is SegmentKind.RAMP
        return looks and context.wants_flame

    def _look(self, glance: Glance) -> tuple[float, float] | None:
        """Give period (s) and swing (°C) of the most regular course that is a cycle, if any."""
        span_s = (_WINDOWS[0] + 3) * _STEP_S
        course = _steps(glance.recent, span_s if self._told is not None else min(glance.entered_s, span_s))
        slopes = [later - earlier for earlier, later in zip(course, course[2:], strict=False)]
        best, found = 0.0, None
        for window in _WINDOWS:
            if len(slopes) < window - 2:
                continue
            alike, period, swing_c = _rhythm(slopes[2 - window :])
            if alike < _NO_TRACE:
                break
            regular = any(
                window >= steps and window >= cycles * period and alike >= enough for steps, cycles, enough in _REGULAR
            )
            if regular and swing_c >= _LEAST_C and alike > best:
                best, found = alike, (period * _STEP_S, swing_c)
        return found


def _steps(recent: Sequence[Slot], span_s: float) -> list[float]:
    """Give the last `span_s` of the buckets in steps of ten seconds, as far back as no gap lies between."""
    if not recent:
        return []
    last = int(recent[-1].time_s // _STEP_S)
    temps_c: list[float] = []
    filled, count = last + 1, 0
    for slot in reversed(recent):
        index = int(slot.time_s // _STEP_S)
        if index < last - span_s / _STEP_S or index < filled - 3:
            break
        if index == filled:
            count += 1
            temps_c[-1] += (slot.temp_c - temps_c[-1]) / count
            continue
        if temps_c:
            # A step without a bucket lies on the line between its neighbours.
            missing = filled - 1 - index
            temps_c.extend(temps_c[-1] + (slot.temp_c - temps_c[-1]) * n / (missing + 1) for n in range(1, missing + 1))
        temps_c.append(slot.temp_c)
        filled, count = index, 1
    temps_c.reverse()
    return temps_c


@cache
def _cubics(count: int) -> tuple[list[float], ...]:
    """Give four orthonormal courses up to the third power over so many steps."""
    return orthonormal([(2.0 * number / (count - 1) - 1.0) ** power for number in range(count)] for power in range(4))


def _rhythm(slopes: Sequence[float]) -> tuple[float, int, float]:
    """Give how alike the slopes are one period on (−1 to 1), the best period in steps, and the course's swing, °C."""
    rest, _ = beside(slopes, _cubics(len(slopes)))
    squares = [value * value for value in rest]
    whole = sum(squares)
    if whole <= 0.0:
        return 0.0, _PERIODS[-1], 0.0
    alike, early, late = [1.0], whole, whole
    for lag in range(1, min(_PERIODS[-1] + 2, len(rest) // 2)):
        early -= squares[-lag]
        late -= squares[lag - 1]
        alike.append(dot(rest, rest[lag:]) / math.sqrt(max(early * late, 1e-12)))
    best, period = 0.0, _PERIODS[-1]
    for lag in range(_PERIODS[0], len(alike) - 1):
        crest = alike[lag] >= alike[lag - 1] and alike[lag] >= alike[lag + 1]
        if crest and alike[lag] > best and min(alike[lag // 4 : lag]) <= _TROUGH:
            best, period = alike[lag], lag
    swing_c = math.sqrt(2.0 * whole / len(rest)) / math.sin(math.pi * 2.0 / period)
    return best, period, swing_c
