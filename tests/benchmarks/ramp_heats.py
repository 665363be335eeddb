"""What the ramp benchmark runs: limits, programmes within and beyond them, and the watch that is measured.

A programme is a true temperature over time, in straight legs. Nominal ones never climb faster than 0.8 times the limit
(or 0.95 times, where it says so), whatever turns they take.
"""

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.noise_model import Array, Programme
from rampwarden.core.instrument.outlier_gate import OutlierGate
from rampwarden.core.limits.climb_budget import BudgetState, ClimbBudget
from rampwarden.core.limits.noise_meter import NoiseMeter
from rampwarden.core.limits.ramp_forecast import Forecast, RampForecast
from rampwarden.core.model import Quality

NOMINAL = 0.8


@dataclass(frozen=True)
class Limit:
    """A climb limit by its name: so many °C within so many seconds."""

    name: str
    climb_c: float
    window_s: float

    @property
    def c_per_s(self) -> float:
        """The limit as a slope, °C/s."""
        return self.climb_c / self.window_s

    def break_after_s(self, factor: float) -> float:
        """When the true climb breaks the budget after a step from the nominal ramp to `factor` times the limit, s."""
        return (1.0 - NOMINAL) / (factor - NOMINAL) * self.window_s


LIMITS = (Limit("100 °C/h", 25.0, 900.0), Limit("10 °C/min", 10.0, 60.0), Limit("100 °C/min", 100.0, 60.0))


class Watch:
    """Gate, noise meter, climb budget and forecast of one limit, wired as the core wires them."""

    def __init__(self, limit: Limit) -> None:
        self.gate = OutlierGate()
        self.meter = NoiseMeter()
        self.budget = ClimbBudget(limit.climb_c, limit.window_s)
        self.forecast = RampForecast(limit.climb_c, limit.window_s)

    def feed(self, time_s: float, temp_c: float) -> tuple[BudgetState, Forecast | None] | None:
        """Add a reading; gives what is stated, or None for a reading set aside."""
        if self.gate.feed(time_s, temp_c) is not Quality.GOOD:
            return None
        self.meter.feed(time_s, temp_c)
        noise = self.meter.noise
        return self.budget.feed(time_s, temp_c, noise), self.forecast.feed(time_s, temp_c, noise)


def legs(slopes: list[float], lengths_s: list[float]) -> Programme:
    """Join straight legs, each of a slope (°C/s) and a length."""
    ends_s = np.concatenate(([0.0], np.cumsum(lengths_s)))
    ends_c = np.concatenate(([0.0], np.cumsum(np.multiply(slopes, lengths_s))))

    def programme(time_s: Array) -> Array:
        return np.interp(time_s, ends_s, ends_c)

    return programme


def step(limit: Limit, factor: float, at_s: float) -> Programme:
    """The nominal ramp, and from `at_s` on `factor` times the limit."""

    def programme(time_s: Array) -> Array:
        return limit.c_per_s * (NOMINAL * time_s + (factor - NOMINAL) * np.maximum(time_s - at_s, 0.0))

    return programme


def constant(limit: Limit, _rng: np.random.Generator, total_s: float) -> Programme:
    """The nominal ramp for ever."""
    return legs([NOMINAL * limit.c_per_s], [2.0 * total_s])


def nearly(limit: Limit, _rng: np.random.Generator, total_s: float) -> Programme:
    """0.95 times the limit for ever: no alarm, cautions are inevitable."""
    return legs([0.95 * limit.c_per_s], [2.0 * total_s])


def hold_and_ramp(limit: Limit, rng: np.random.Generator, total_s: float) -> Programme:
    """Ramps and holds in turn, half a window to three windows each."""
    return _alternating(limit, rng, total_s, down=0.0)


def up_and_down(limit: Limit, rng: np.random.Generator, total_s: float) -> Programme:
    """Ramps up and down in turn."""
    return _alternating(limit, rng, total_s, down=-NOMINAL)


def cycling(limit: Limit, rng: np.random.Generator, total_s: float) -> Programme:
    """A burner that cycles, 30 to 300 s a turn, never faster than the nominal ramp."""
    slopes: list[float] = []
    lengths_s: list[float] = []
    while sum(lengths_s) < 1.3 * total_s:
        period_s = rng.uniform(30.0, 300.0)
        for _ in range(10):
            slopes += [NOMINAL * limit.c_per_s, -rng.uniform(0.0, NOMINAL) * limit.c_per_s]
            lengths_s += [0.5 * period_s, 0.5 * period_s]
    return legs(slopes, lengths_s)


def _alternating(limit: Limit, rng: np.random.Generator, total_s: float, down: float) -> Programme:
    slopes: list[float] = []
    lengths_s: list[float] = []
    while sum(lengths_s) < 1.3 * total_s:
        slopes += [NOMINAL * limit.c_per_s, down * limit.c_per_s]
        lengths_s += (rng.uniform(0.5, 3.0, 2) * limit.window_s).tolist()
    return legs(slopes, lengths_s)


Maker = Callable[[Limit, np.random.Generator, float], Programme]
NOMINAL_PROGRAMMES: dict[str, Maker] = {
    "constant": constant,
    "hold and ramp": hold_and_ramp,
    "up and down": up_and_down,
    "cycling": cycling,
}
