"""Failing heat: a climb that dies away, or a soak that sags, though nobody has turned the valve.

A bottle that freezes or runs empty, a burner at its limit: the rate falls window after window. The last four windows of
equal length are compared, the shortest length at which the noise lets a rate be known within 7 %; the heat fails
when the rate has fallen three windows running, to less than 60 % of the first. A rate also falls when somebody closes
in on the target. That is told from failing by where it leads: a climb that at its present rate will be there within a
quarter of an hour is let alone.

Whatever explains a change (a mark, another segment) starts it afresh.
"""

from collections import deque
from enum import Enum
from itertools import pairwise

from rampwarden.core.alarm_entry import CHECK_THE_PROBE, AlarmEntry
from rampwarden.core.model import Finding, Noise, Priority, Trend
from rampwarden.core.noise_formulas import mean_error_c
from rampwarden.core.quantities import format_duration

HEAT_FAILING = AlarmEntry(
    name="heat-failing",
    condition="the climb dies away, or the soak sags, three windows running, and nobody marked a reason",
    priority=Priority.MEDIUM,
    on_delay_s=0.0,
    off_delay_s=60.0,
    about_delays="those windows are the delay",
    why="a bottle freezes or runs empty unnoticed, and the pot lingers where it should not",
    action="look at flame, gauge and bottle; change the bottle or raise the heat, and mark what was done",
    time_to_act="ten minutes",
    rests_in_transfer=True,
    rests_in_doubt=True,
    action_in_doubt=CHECK_THE_PROBE,
    is_opinion=True,
    look_at=("the gas: weigh the bottle, look at regulator, hose and burner",),
)

_BLOCK_S = 60.0


class Aim(Enum):
    """What the segment wants of the furnace."""

    CLIMB = "climb"
    HOLD = "hold"
    NOTHING = "nothing that could fail"


# When a falling rate is a failing heat. Three windows and 60 % follow the usual advice for propane: common practice,
# no source.
_WINDOWS_MIN = (3, 6, 12, 24)
"""min. Windows that are tried, the shortest first: freezing takes 10 to 40 minutes."""
_SHARE = 0.6
"""Of the rate three windows ago, that is left when it counts as failing."""
_PRECISION = 0.07
"""Standard error of a window's rate, as a share of the rate three windows ago, that allows a judgement."""
_EVEN = 0.35
"""Share of the largest of the three falls that the smallest must reach: a valve turned once makes one or two."""
_SOON_S = 900.0
"""s. A target so near at the present rate is being closed in on."""
_RECOVERED = 0.85
"""Share of the first rate, or of the target's nearness, at which the heat no longer fails."""
_SAG_C = 3.0
"""°C that a soak must have sagged in the three windows, in the lower half of its band."""
_LEAVES_S = 1200.0
"""s. A soak that at this rate stays inside its band so long is only drifting."""


class FailingWatch:
    """Compares window with window, once a minute."""

    def __init__(self) -> None:
        self._blocks: deque[tuple[float, float]] = deque(maxlen=4 * _WINDOWS_MIN[-1] + 1)
        self._finding: Finding | None = None
        self.restart()

    def restart(self) -> None:
        """Forget what was: something explains that the rate changes."""
        self._blocks.clear()
        self._finding = None
        self._reference = 0.0
        self._sum_s = self._sum_c = 0.0
        self._count = 0
        self._block_from_s: float | None = None

    def feed(self, trend: Trend, noise: Noise, aim: Aim, target_c: float, lowest_c: float) -> Finding | None:
        """Judge the trend. A climb leads to `target_c`; a hold stays about it and above `lowest_c` (°C)."""
        if aim is Aim.NOTHING:
            if self._blocks or self._finding is not None:
                self.restart()
            return None
        from_s = self._block_from_s
        if from_s is None or trend.time_s - from_s > 3.0 * _BLOCK_S:
            # A start, or a gap in which nobody knows what happened.
            self.restart()
            self._block_from_s = from_s = trend.time_s
        if trend.time_s - from_s >= _BLOCK_S and self._count:
            self._blocks.append((self._sum_s / self._count, self._sum_c / self._count))
            self._sum_s = self._sum_c = 0.0
            self._count = 0
            self._block_from_s = from_s + _BLOCK_S if trend.time_s - from_s < 2.0 * _BLOCK_S else trend.time_s
            self._finding = self._judge(noise, aim, target_c, lowest_c)
        self._sum_s += trend.time_s
        self._sum_c += trend.temp_c
        self._count += 1
        return self._finding

    def _judge(self, noise: Noise, aim: Aim, target_c: float, lowest_c: float) -> Finding | None:
        error_c = 2.0**0.5 * mean_error_c(noise, _BLOCK_S)
        if self._finding is not None:
            return None if self._recovered(aim, target_c, lowest_c) else self._finding
        for window in _WINDOWS_MIN:
            if len(self._blocks) <= 4 * window:
                return None
            rates = self._rates(window)
            error = error_c / (_BLOCK_S * window)
            if aim is Aim.HOLD:
                return self._sagging(rates, error, window, target_c, lowest_c)
            if rates[0] > 0.0 and error <= _PRECISION * rates[0]:
                finding = self._dying(rates, error, window, target_c)
                if finding is not None:
                    return finding
        return None

    def _rates(self, window: int) -> list[float]:
        """Give the rates of the last four windows of so many blocks, oldest first, °C/s."""
        marks = [self._blocks[-1 - k * window] for k in range(4, -1, -1)]
        return [(late[1] - early[1]) / (late[0] - early[0]) for early, late in pairwise(marks)]

    def _dying(self, rates: list[float], error: float, window: int, target_c: float) -> Finding | None:
        first, last = rates[0], rates[-1]
        falls = [early - late for early, late in pairwise(rates)]
        if min(falls) < max(error, _EVEN * max(falls)) or last >= _SHARE * first or self._closes_in(last, target_c):
            return None
        self._reference = first
        took = format_duration(3 * window * _BLOCK_S)
        what = (
            f"the climb fell from {60 * first:.1f} to {60 * last:.1f} °C/min within {took} and is still falling: "
            "likely the gas fails, a bottle freezing or emptying; possibly cold or melting metal"
        )
        return Finding(round(60 * last, 2), round(60 * _SHARE * first, 2), "°C/min", what)

    def _sagging(
        self, rates: list[float], error: float, window: int, target_c: float, lowest_c: float
    ) -> Finding | None:
        temp_c, last = self._blocks[-1][1], rates[-1]
        sagged_c = -_BLOCK_S * window * sum(rates[1:])
        falls = all(rate < -error for rate in rates[1:])
        low = temp_c < 0.5 * (target_c + lowest_c)
        enough = sagged_c > max(_SAG_C, 4.0 * error * window * _BLOCK_S)
        if not (falls and low and enough and temp_c - lowest_c < -last * _LEAVES_S):
            return None
        self._reference = 0.0
        took = format_duration(3 * window * _BLOCK_S)
        what = f"the soak sagged by {sagged_c:.0f} °C within {took}: likely the gas fails, or the burner is set too low"
        return Finding(round(60 * last, 2), 0.0, "°C/min", what)

    def _recovered(self, aim: Aim, target_c: float, lowest_c: float) -> bool:
        """Tell whether the last three minutes show the heat well again."""
        (early_s, early_c), (late_s, late_c) = self._blocks[-4], self._blocks[-1]
        rate = (late_c - early_c) / (late_s - early_s)
        if aim is Aim.HOLD:
            return late_c > 0.5 * (target_c + lowest_c) or rate > 0.0
        return rate >= _RECOVERED * self._reference or self._closes_in(rate, target_c)

    def _closes_in(self, c_per_s: float, target_c: float) -> bool:
        return c_per_s > 0.0 and target_c - self._blocks[-1][1] <= c_per_s * _SOON_S
