"""A probe that lags: its time constant, estimated where the heat itself makes a sudden step.

A lid lifted and shut again, a probe put from the oven into the open air: the surroundings change at once, and the
reading follows as exp(-t/τ). From the readings after a sudden fall or rise an exponential is fitted. One step proves
little, since cold metal in the pot looks the same; a fall and a rise that agree are the probe's own. What averages over
a window must have seen at least five time constants in it, or it judges the probe and not the heat.
"""

import math
from dataclasses import dataclass

from rampwarden.core.model import Finding, Noise, Trend
from rampwarden.core.noise_law import jump_error_c
from rampwarden.core.quantities import format_duration

_TAUS_S = tuple(4.0 * 2.0 ** (k / 2) for k in range(14))  # 4 s … 360 s: from a bare wire to a thick ceramic tube


@dataclass(frozen=True, slots=True)
class LagParameters:
    """When a step is one, and when its fit is believed. Common practice, no source."""

    step_c: float = 3.0
    """°C over two buckets, beside the noise and the ramp that was: no burner does that to a pot."""
    deviations: float = 5.0
    """Standard deviations of the noise that a step must exceed besides."""
    fewest: int = 6
    """Buckets of a step, half a minute, that make a fit."""
    most: int = 24
    """Buckets of a step that are looked at, two minutes."""
    explained: float = 0.9
    """Share of the step's variance that the exponential must explain."""
    over_line: float = 0.5
    """Share of what a straight line leaves unexplained that the exponential may leave: else it is a ramp's corner."""
    windows: float = 5.0
    """Time constants a window must hold: common practice, and 1 % of the step is left then."""


class LagWatch:
    """Fits each sudden step; `lag_s` is the time constant that a fall and a rise agree on."""

    def __init__(self, parameters: LagParameters = LagParameters()) -> None:
        self._p = parameters
        self._step: list[tuple[float, float]] = []  # time since the step (s), deviation from the ramp that was (°C)
        self._began_s = self._level_c = self._slope = self._way = 0.0
        self._fall_s: float | None = None
        self._rise_s: float | None = None
        self.lag_s: float | None = None

    def feed(self, trend: Trend, noise: Noise, window_s: float | None, *, in_place: bool) -> Finding | None:
        """Judge the trend; `window_s` is the fastest averaging window in force, if any.

        `in_place` is false while the pot itself is moved: its own steps are not the probe's.
        """
        p = self._p
        if trend.jump_c is None or not in_place:
            self._step.clear()
            return self._judge(window_s)
        expected_c = (trend.before_c_per_s or 0.0) * 2.0 * trend.spacing_s
        beside_c = trend.jump_c - expected_c
        sudden = abs(beside_c) > p.step_c + p.deviations * jump_error_c(noise, trend.spacing_s, 2.0 * trend.spacing_s)
        way = math.copysign(1.0, beside_c)
        if self._step and (len(self._step) >= p.most or (sudden and way != self._way)):
            self._finish()
        if self._step:
            since_s = trend.time_s - self._began_s
            self._step.append((since_s, trend.temp_c - self._level_c - self._slope * since_s))
        elif sudden:
            self._way = way
            self._slope = expected_c / (2.0 * trend.spacing_s)
            # The step fell somewhere in the last two buckets; their beginning is the last that was before it.
            self._began_s = trend.time_s - 2.0 * trend.spacing_s
            self._level_c = trend.temp_c - trend.jump_c
            self._step.append((2.0 * trend.spacing_s, beside_c))
        return self._judge(window_s)

    def _finish(self) -> None:
        """Fit the step that has ended."""
        step, self._step = self._step, []
        if len(step) < self._p.fewest:
            return
        tau_s, explained = fitted_tau_s(step)
        left = min(1.0 - self._p.explained, self._p.over_line * (1.0 - _explained_by_line(step)))
        if 1.0 - explained > left:
            return
        if self._way < 0.0:
            self._fall_s = tau_s
        else:
            self._rise_s = tau_s
        if self._fall_s is not None and self._rise_s is not None:
            self.lag_s = min(self._fall_s, self._rise_s)

    def _judge(self, window_s: float | None) -> Finding | None:
        lag_s, p = self.lag_s, self._p
        if lag_s is None or window_s is None or lag_s <= window_s / p.windows:
            return None
        window = format_duration(window_s)
        what = (
            f"steps take the probe about {lag_s:.0f} s to follow, the limit's window of {window} needs "
            f"{window_s / p.windows:.0f}: fast ramps are seen late and too small; doubt the probe's tube and place"
        )
        return Finding(round(lag_s, 1), round(window_s / p.windows, 1), "s", what)


def fitted_tau_s(step: list[tuple[float, float]]) -> tuple[float, float]:
    """Fit a·(1 - exp(-t/τ)) to a step (s, °C); gives τ (s) and the share of the variance about zero it explains.

    τ is searched on a grid of half octaves from 4 to 360 s, a follows by least squares.
    """
    total = sum(rise_c * rise_c for _, rise_c in step)
    best_tau_s, most = 0.0, 0.0
    for tau_s in _TAUS_S:
        shape = [-math.expm1(-since_s / tau_s) for since_s, _ in step]
        cross = sum(part * rise_c for part, (_, rise_c) in zip(shape, step, strict=True))
        explained = cross * cross / sum(part * part for part in shape)
        if explained > most:
            best_tau_s, most = tau_s, explained
    return best_tau_s, most / total if total > 0.0 else 0.0


def _explained_by_line(step: list[tuple[float, float]]) -> float:
    cross = sum(since_s * rise_c for since_s, rise_c in step)
    total = sum(rise_c * rise_c for _, rise_c in step)
    return cross * cross / (sum(since_s * since_s for since_s, _ in step) * total) if total > 0.0 else 0.0
