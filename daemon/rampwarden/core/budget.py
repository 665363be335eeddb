"""The climb budget: has the temperature climbed more, within the limit's own window, than the schedule allows?

`25 C / 15 min` means: within any 15 minutes no more than 25 °C of climb. So the present temperature is compared with
the lowest one inside the window, and nothing is extrapolated. Both ends are averaged, because one reading says little:
the present end lightly (its lag is the price of every second of averaging), the far end more, since both its sides are
known by now and a centred average has no lag. The window is shifted by the present end's lag, so both ends are as old.

A dip that does not count (`dips`) is left out: while it is open, and once it is over, the climb runs straight from the
temperature before it. Any longer low counts in full.

Knows nothing of segments but when one starts, and nothing of alarms: it states, it does not annunciate.
"""

import math
from collections import deque
from dataclasses import dataclass

from msgspec import Struct

from rampwarden.core.dips import DipWatch
from rampwarden.core.model import Noise


@dataclass(frozen=True, slots=True)
class BudgetParameters:
    """How the ends of a climb are averaged and what margin is kept. Measured by the ramp benchmark, no other source."""

    calm_fraction: float = 1.0 / 24.0
    """Lag of the calm present end as a fraction of the window, > 0: for a slight excess, with a small margin."""
    quick_fraction: float = 1.0 / 200.0
    """Lag of the quick present end as a fraction of the window, > 0: for a great excess, with a wide margin."""
    block_fraction: float = 1.0 / 30.0
    """Blocks the window is kept in, as a fraction of it, > 0."""
    blocks_averaged: int = 4
    """Blocks averaged for the far end, centred; >= 1."""
    dip_s: float = 120.0
    """s, >= 0. The longest dip that is left out: half a minute of open lid and the way back."""
    deviations: float = 4.3
    """Standard errors kept at 95 % of the limit, where a day of looks must pass in silence."""
    quick_deviations: float = 4.8
    """The same for the quick end, which has more looks in a day."""
    least_deviations: float = 2.5
    """Standard errors kept at the limit itself: a climb of exactly the budget (an oven's notch) stays silent."""
    deadband: float = 0.1
    """Fraction of the budget, 0 … 1, that a broken climb must fall below it before it counts as mended."""
    probe_lag_s: float = 20.0
    """s, >= 0. After a corner the probe still shows the ramp before it for its own lag, which is forgiven."""


class BudgetState(Struct, frozen=True, gc=False):
    """Where the climb stands: `climb_c` above the window's low, `budget_c` allowed, `margin_c` kept for noise (°C)."""

    climb_c: float
    budget_c: float
    margin_c: float
    broken: bool


class _PresentEnd:
    """An exponential average of the readings with its true mean time, and the margin that goes with it."""

    __slots__ = ("lag_s", "level_c", "level_s", "margin_c")

    def __init__(self, lag_s: float) -> None:
        self.lag_s = lag_s
        self.level_s = 0.0
        self.level_c = 0.0
        self.margin_c = 0.0

    def follow(self, time_s: float, temp_c: float, step_s: float, count: int) -> None:
        """Take in the reading `count`, `step_s` after the one before; a young average is a plain mean."""
        gain = step_s / (self.lag_s + step_s)
        if gain * count < 1.0:
            gain = 1.0 / count
        self.level_s += gain * (time_s - self.level_s)
        self.level_c += gain * (temp_c - self.level_c)


class ClimbBudget:
    """Watches one limit: `climb_c` °C within any `window_s` seconds; of fall instead of climb if `falling`."""

    def __init__(
        self, climb_c: float, window_s: float, falling: bool = False, parameters: BudgetParameters = BudgetParameters()
    ) -> None:
        p = self._p = parameters
        self._budget_c = climb_c
        self._window_s = window_s
        self._sign = -1.0 if falling else 1.0
        self._block_s = window_s * p.block_fraction
        self._clear_c = climb_c * (1.0 - p.deadband)
        self._calm = _PresentEnd(window_s * p.calm_fraction)
        self._quick = _PresentEnd(window_s * p.quick_fraction)
        self._dip = DipWatch(p.dip_s)
        self.start(0.0)

    def start(self, time_s: float, ramp_c_per_s: float = 0.0) -> None:
        """Forget what came before `time_s`, where a new segment starts.

        `ramp_c_per_s` is the slope just before (falling is negative); the climb that the probe's lag still owes to its
        excess over this limit is forgiven for as long as it stays in the window.
        """
        excess = self._sign * ramp_c_per_s - self._budget_c / self._window_s
        self._owed_c = max(0.0, excess) * self._p.probe_lag_s
        self._started_s = time_s
        self._count = 0
        self._last_s = time_s
        self._blocks: deque[tuple[float, float]] = deque(maxlen=self._p.blocks_averaged)
        self._empty_block(time_s)
        self._lows: deque[tuple[float, float]] = deque()  # lowest first, ages falling: the window's monotonic queue
        self._dip.start()
        self._noise: Noise | None = None
        self._broken = False

    def feed(self, time_s: float, temp_c: float, noise: Noise) -> BudgetState:
        """Add a believed temperature (°C) at `time_s` (s, rising); gives where the climb stands now."""
        temp_c *= self._sign
        calm = self._calm
        quick = self._quick
        count = self._count = self._count + 1
        if count == 1:
            self._started_s = self._last_s = calm.level_s = quick.level_s = time_s
            calm.level_c = quick.level_c = temp_c
            self._empty_block(time_s)
        step_s = time_s - self._last_s
        self._last_s = time_s
        most_s = 2.0 * noise.interval_s  # after a gap one reading must not count for many
        step_s = step_s if step_s < most_s else most_s
        calm.follow(time_s, temp_c, step_s, count)
        quick.follow(time_s, temp_c, step_s, count)
        in_dip = self._dip.open
        if not self._dip.feed(time_s, temp_c, noise):
            if in_dip:
                self._leave_dip(time_s)
            if time_s >= self._block_end_s:
                self._close_block(time_s, noise)
            self._sum_s += time_s - self._started_s
            self._sum_c += temp_c
            self._block_count += 1
        if noise is not self._noise:
            self._set_margins(time_s, noise)
        climb_c = self._climb_c(calm)
        margin_c = calm.margin_c
        bar_c = self._clear_c if self._broken else self._budget_c
        if climb_c + quick.level_c - calm.level_c > bar_c:  # else the quick end cannot matter: its low is no lower
            quick_c = self._climb_c(quick)
            if quick_c - quick.margin_c > climb_c - margin_c:
                climb_c = quick_c
                margin_c = quick.margin_c
        climb_c = climb_c if climb_c > 0.0 else 0.0
        self._broken = climb_c > (bar_c if self._broken else bar_c + margin_c)
        return BudgetState(climb_c, self._budget_c, margin_c, self._broken)

    def _climb_c(self, end: _PresentEnd) -> float:
        """How far the present end stands above the lowest temperature of the window that leads up to it."""
        edge_s = end.level_s - self._window_s
        dip = self._dip
        if dip.open and end.level_s > dip.from_s:
            # The dip is replaced by a straight line from where it began to the present.
            over_c = end.level_c - dip.from_c
            if edge_s >= dip.from_s:
                return over_c * self._window_s / (end.level_s - dip.from_s)
            return max(over_c, end.level_c - self._low_c(edge_s)) if self._lows else over_c
        if self._lows:
            return end.level_c - self._low_c(edge_s)
        return end.level_c - self._sum_c / self._block_count if self._block_count else 0.0

    def _low_c(self, edge_s: float) -> float:
        """The lowest temperature noted since `edge_s`; between two blocks by a straight line."""
        first_s, first_c = self._lows[0]
        if first_s >= edge_s:
            return first_c
        for next_s, next_c in self._lows:
            if next_s > edge_s:
                return first_c + (next_c - first_c) * (edge_s - first_s) / (next_s - first_s)
            first_s, first_c = next_s, next_c
        return first_c

    def _leave_dip(self, time_s: float) -> None:
        """Go on after a dip with its two ends as lows and nothing between."""
        self._blocks.clear()
        self._empty_block(time_s)
        lows = self._lows
        while lows and lows[-1][0] > self._dip.from_s:  # the way down, before it was known for a dip
            lows.pop()
        self._note_low(self._dip.from_s, self._dip.from_c)
        self._note_low(self._calm.level_s, self._calm.level_c)

    def _note_low(self, time_s: float, low_c: float) -> None:
        lows = self._lows
        while lows and lows[-1][1] >= low_c:
            lows.pop()
        lows.append((time_s, low_c))

    def _close_block(self, time_s: float, noise: Noise) -> None:
        """Note the average of the last blocks as a possible low, dated at the mean time of its readings."""
        count = self._block_count
        blocks = self._blocks
        if count:
            blocks.append((self._sum_s / count, self._sum_c / count))
            mean_s = self._started_s + sum(block_s for block_s, _ in blocks) / len(blocks)
            if mean_s <= self._calm.level_s:  # else newer than the present end, which lags
                self._note_low(mean_s, sum(block_c for _, block_c in blocks) / len(blocks))
        if time_s > self._block_end_s + self._block_s:  # a gap: what lies before it is not averaged with what follows
            blocks.clear()
        lows = self._lows
        edge_s = self._calm.level_s - self._window_s
        while len(lows) > 1 and lows[1][0] <= edge_s:
            lows.popleft()
        self._empty_block(time_s)
        self._set_margins(time_s, noise)

    def _empty_block(self, time_s: float) -> None:
        self._block_end_s = time_s + self._block_s
        self._sum_s = self._sum_c = 0.0
        self._block_count = 0

    def _set_margins(self, time_s: float, noise: Noise) -> None:
        """Compute both margins for this noise, and what the probe's lag still owes."""
        p = self._p
        self._noise = noise
        age_s = time_s - self._started_s
        owed_c = 0.0
        if self._owed_c > 0.0:
            gone_s = age_s - self._window_s - self._calm.lag_s - p.blocks_averaged * self._block_s
            owed_c = self._owed_c * math.exp(-max(0.0, gone_s) / p.probe_lag_s)
        far_s = min(p.blocks_averaged * self._block_s, age_s)
        for end, deviations in ((self._calm, p.deviations), (self._quick, p.quick_deviations)):
            error_c = climb_error(noise, min(end.lag_s, age_s), far_s, self._window_s)
            margin_c = deviations * error_c - 0.05 * self._budget_c
            end.margin_c = owed_c + max(p.least_deviations * error_c, margin_c)


def climb_error(noise: Noise, lag_s: float, far_s: float, window_s: float) -> float:
    """Standard error (°C) of a climb between a mean over `far_s` and, `window_s` later, an average of lag `lag_s`.

    An exponential average of lag a leaves σ² τ/(τ+a) of the flicker and σ² Δ/(2a+Δ) of the white noise; a mean over a
    length b about (2 σ² τ + σ² Δ)/b, and never more than one reading has. Ends closer than the flicker lasts share it.
    """
    white_c2 = noise.white_c * noise.white_c
    flicker_c2 = noise.flicker_c * noise.flicker_c
    tau_s = noise.flicker_s
    interval_s = noise.interval_s
    now_c2 = white_c2 * interval_s / (2.0 * lag_s + interval_s) + flicker_c2 * tau_s / (tau_s + lag_s)
    density = white_c2 * interval_s + 2.0 * flicker_c2 * tau_s
    far_c2 = density / (far_s + density / (white_c2 + flicker_c2))
    apart = 1.0 - math.exp(-window_s / (tau_s + lag_s))
    return math.sqrt((now_c2 + far_c2) * apart)
