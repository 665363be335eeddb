"""The climb budget: has the temperature climbed more, within the limit's own window, than the schedule allows?

`25 C / 15 min` means: within any 15 minutes no more than 25 °C of climb. So the present temperature is compared with
the lowest one inside the window, and nothing is extrapolated. Both ends are averaged, because one reading says little:
the present end lightly (its lag is the price of every second of averaging), the far end more, since both its sides are
known by now and a centred average has no lag.

A low that lasts less than `dip_s` is not a low one climbs from: a lid opened for half a minute cools the probe, not the
crucible, and what merely regains its former temperature has not climbed. Any longer low counts in full.

Knows nothing of segments but when one starts, and nothing of alarms: it states, it does not annunciate.
"""

import math
from collections import deque
from dataclasses import dataclass

from msgspec import Struct

from rampwarden.core.model import Noise


@dataclass(frozen=True, slots=True)
class BudgetParameters:
    """How the two ends of a climb are averaged and what margin is kept. Common practice, no source."""

    lag_fraction: float = 1.0 / 24.0
    """Averaging lag of the present end as a fraction of the window."""
    block_fraction: float = 1.0 / 30.0
    """Blocks the window is kept in, as a fraction of it."""
    blocks_averaged: int = 4
    """Blocks averaged for the far end, centred."""
    dip_s: float = 120.0
    """s, >= 0. The longest dip that is bridged."""
    deviations: float = 4.0
    """Standard errors kept at 95 % of the limit: about one false break a day at a thousand looks a day."""
    least_deviations: float = 2.5
    """Standard errors kept at the limit itself: a climb of exactly the budget (an oven's notch) stays silent."""
    deadband: float = 0.1
    """Fraction of the budget that a broken climb must fall below it before it counts as mended."""
    probe_lag_s: float = 10.0
    """s. After a corner the probe still shows the ramp before it for its own lag; so much of it is forgiven."""


class BudgetState(Struct, frozen=True, gc=False):
    """Where the climb stands: `climb_c` above the window's low, `budget_c` allowed, `margin_c` kept for noise (°C)."""

    climb_c: float
    budget_c: float
    margin_c: float
    broken: bool


class ClimbBudget:
    """Watches one limit: `climb_c` °C within any `window_s` seconds; of fall instead of climb if `falling`."""

    def __init__(
        self, climb_c: float, window_s: float, falling: bool = False, parameters: BudgetParameters = BudgetParameters()
    ) -> None:
        self._p = parameters
        self._budget_c = climb_c
        self._window_s = window_s
        self._sign = -1.0 if falling else 1.0
        self._lag_s = window_s * parameters.lag_fraction
        self._block_s = window_s * parameters.block_fraction
        self._dip_blocks = max(1, round(parameters.dip_s / self._block_s))
        self._clear_c = climb_c * (1.0 - parameters.deadband)
        self.start(0.0)

    def start(self, time_s: float, ramp_c_per_s: float = 0.0) -> None:
        """Forget what came before `time_s`, where a new segment starts.

        `ramp_c_per_s` is the slope of the segment before; its excess over this limit is forgiven for the probe's lag.
        """
        p = self._p
        excess = self._sign * ramp_c_per_s - self._budget_c / self._window_s
        self._forgiven_c = max(0.0, excess) * p.probe_lag_s
        self._forgiven_until_s = time_s + self._window_s
        self._count = 0
        self._last_s = time_s
        self._level_c = 0.0
        self._block_end_s = time_s + self._block_s
        self._block_sum_c = 0.0
        self._block_count = 0
        self._blocks: deque[float] = deque(maxlen=p.blocks_averaged)
        self._recent: deque[tuple[int, float]] = deque()  # highest first: the dip's monotonic queue
        self._lows: deque[tuple[float, float]] = deque()  # lowest first: the window's monotonic queue
        self._closed = 0
        self._noise: Noise | None = None
        self._margin_c = 0.0
        self._broken = False
        self._started_s = time_s

    def feed(self, time_s: float, temp_c: float, noise: Noise) -> BudgetState:
        """Add a believed temperature (°C) at `time_s` (s, rising); gives where the climb stands now."""
        temp_c *= self._sign
        count = self._count = self._count + 1
        if count == 1:
            self._level_c = level_c = temp_c
            self._block_end_s = time_s + self._block_s
            self._started_s = time_s
        else:
            step_s = time_s - self._last_s
            most_s = 2.0 * noise.interval_s + 0.5 * self._lag_s  # after a gap one reading must not count for many
            step_s = step_s if step_s < most_s else most_s
            gain = step_s / (self._lag_s + step_s)
            if gain * count < 1.0:
                gain = 1.0 / count
            level_c = self._level_c = self._level_c + gain * (temp_c - self._level_c)
        self._last_s = time_s
        if time_s >= self._block_end_s:
            self._close_block(time_s, noise)
        self._block_sum_c += level_c
        self._block_count += 1
        if noise is not self._noise:
            self._set_margin(time_s, noise)
        climb_c = level_c - self._low_c(time_s)
        climb_c = climb_c if climb_c > 0.0 else 0.0
        if self._broken:
            self._broken = climb_c >= self._clear_c
        elif climb_c > self._budget_c + self._margin_c:
            self._broken = True
        return BudgetState(climb_c, self._budget_c, self._margin_c, self._broken)

    def _low_c(self, time_s: float) -> float:
        """The lowest lasting temperature inside the window, between blocks by a straight line."""
        lows = self._lows
        if not lows:
            return self._block_sum_c / self._block_count
        edge_s = time_s - self._window_s
        while len(lows) > 1 and lows[1][0] <= edge_s:
            lows.popleft()
        first_s, first_c = lows[0]
        if first_s >= edge_s or len(lows) == 1:
            return first_c
        next_s, next_c = lows[1]
        return first_c + (next_c - first_c) * (edge_s - first_s) / (next_s - first_s)

    def _close_block(self, time_s: float, noise: Noise) -> None:
        if self._block_count:
            self._blocks.append(self._block_sum_c / self._block_count)
            mean_c = sum(self._blocks) / len(self._blocks)
            centre_s = self._block_end_s - 0.5 * len(self._blocks) * self._block_s
            self._closed += 1
            recent = self._recent
            while recent and recent[-1][1] <= mean_c:
                recent.pop()
            recent.append((self._closed, mean_c))
            if recent[0][0] <= self._closed - self._dip_blocks:
                recent.popleft()
            lasting_c = recent[0][1]
            lows = self._lows
            while lows and lows[-1][1] >= lasting_c:
                lows.pop()
            lows.append((centre_s, lasting_c))
        self._block_sum_c = 0.0
        self._block_count = 0
        self._block_end_s += self._block_s
        if time_s >= self._block_end_s:  # a gap: blocks without readings are not made up
            self._block_end_s = time_s + self._block_s
            self._blocks.clear()
        self._set_margin(time_s, noise)

    def _set_margin(self, time_s: float, noise: Noise) -> None:
        p = self._p
        self._noise = noise
        age_s = time_s - self._started_s
        lag_s = min(self._lag_s, age_s)
        white_c2 = noise.white_c * noise.white_c
        flicker_c2 = noise.flicker_c * noise.flicker_c
        tau_s = noise.flicker_s
        interval_s = noise.interval_s
        now_c2 = white_c2 * interval_s / (2.0 * lag_s + interval_s) + flicker_c2 * tau_s / (tau_s + lag_s)
        density = white_c2 * interval_s + 2.0 * flicker_c2 * tau_s
        far_s = min(p.blocks_averaged * self._block_s, age_s)
        far_c2 = density / (far_s + density / now_c2)
        apart = 1.0 - math.exp(-self._window_s / (tau_s + lag_s))
        error_c = math.sqrt((now_c2 + far_c2) * apart)
        margin_c = max(p.least_deviations * error_c, p.deviations * error_c - 0.05 * self._budget_c)
        if time_s < self._forgiven_until_s:
            margin_c += self._forgiven_c
        self._margin_c = margin_c
