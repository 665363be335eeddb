"""A small gas furnace seen through a thermocouple, with the truth kept: what the ramp benchmark measures against.

Many heats run side by side as columns of arrays. A programme gives the true temperature at any time; the probe follows
it with a first-order lag; flame flicker, white noise, mains pickup, the converter's step and ignition sparks are laid
on top, and readings come at an uneven pace with gaps. Nothing here is used by the package itself.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Programme = Callable[[Array], Array]

UV_PER_C = 40.8  # type K near 500 °C: 42 µV/°C, near 1000 °C: 39 µV/°C (NIST Monograph 175); one figure will do here
MAINS_HZ = 50.0


@dataclass(frozen=True)
class NoiseClass:
    """What is laid on the true temperature of one reading: EMF noise in µV, the rest in °C and s."""

    white_uv: float
    step_c: float
    flicker: tuple[tuple[float, float], ...]  # (rms °C, correlation time s) of each part
    spark_share: float
    mains_uv: float


CLASSES = {
    "low": NoiseClass(2.0, 0.025, ((0.3, 5.0),), 0.001, 2.0),
    "mid": NoiseClass(5.0, 0.25, ((0.7, 12.0),), 0.003, 4.0),
    "high": NoiseClass(10.0, 0.25, ((1.5, 30.0),), 0.01, 8.0),
    "pink": NoiseClass(5.0, 0.25, tuple((0.7 / 7**0.5, 2.0**k) for k in range(1, 8)), 0.003, 4.0),
}


@dataclass(frozen=True)
class Pace:
    """How readings come: usual interval, its relative jitter, gaps an hour and the probe's lag."""

    interval_s: float = 1.0
    jitter: float = 0.03
    gaps_per_h: float = 0.5
    longest_gap_s: float = 30.0
    lag_s: float = 5.0


@dataclass(frozen=True)
class Heats:
    """Readings and truth of several heats; each array has one row per reading and one column per heat."""

    time_s: Array
    true_c: Array
    temp_c: Array


def simulate(
    programme: Programme,
    noise: NoiseClass,
    readings: int,
    heats: int,
    seed: int,
    pace: Pace = Pace(),
    louder_from: tuple[int, float] | None = None,
) -> Heats:
    """Run `heats` heats of `readings` readings each; `louder_from` = (row, factor) roughens the flame in mid-heat."""
    rng = np.random.default_rng(seed)
    shape = (readings, heats)
    gaps_s = pace.interval_s * (1.0 + pace.jitter * rng.standard_normal(shape))
    pauses = rng.random(shape) < pace.gaps_per_h * pace.interval_s / 3600.0
    gaps_s = np.where(pauses, rng.uniform(2.0, max(2.0, pace.longest_gap_s), shape), np.maximum(gaps_s, 0.01))
    time_s = np.cumsum(gaps_s, axis=0) - gaps_s[0]
    true_c = programme(time_s)
    temp_c = _lagged(true_c, gaps_s, pace.lag_s)
    loudness = np.ones(readings)
    if louder_from is not None:
        loudness[louder_from[0] :] = louder_from[1]
    for rms_c, tau_s in noise.flicker:
        temp_c += loudness[:, None] * rms_c * _autoregressive(rng, gaps_s, tau_s)
    emf_uv = noise.white_uv * rng.standard_normal(shape)
    emf_uv += noise.mains_uv * np.sqrt(2.0) * np.sin(2.0 * np.pi * (MAINS_HZ * time_s + rng.random(heats)))
    temp_c += emf_uv / UV_PER_C
    temp_c += _sparks(rng, shape, noise.spark_share)
    return Heats(time_s, true_c, np.round(temp_c / noise.step_c) * noise.step_c)


def _lagged(true_c: Array, gaps_s: Array, lag_s: float) -> Array:
    """First-order lag, exact for a truth that runs straight from reading to reading; settled at the first one."""
    if lag_s <= 0.0:
        return true_c.copy()
    slope = np.zeros_like(true_c)
    slope[1:] = np.diff(true_c, axis=0) / gaps_s[1:]
    slope[0] = slope[1]
    decay = np.exp(-gaps_s / lag_s)
    lagged_c = np.empty_like(true_c)
    behind_c = -slope[0] * lag_s
    lagged_c[0] = true_c[0] + behind_c
    for row in range(1, len(true_c)):
        settled_c = -slope[row] * lag_s
        behind_c = settled_c + (behind_c - settled_c) * decay[row]
        lagged_c[row] = true_c[row] + behind_c
    return lagged_c


def _autoregressive(rng: np.random.Generator, gaps_s: Array, tau_s: float) -> Array:
    """First-order autoregressive noise of unit rms at true time stamps."""
    keep = np.exp(-gaps_s / tau_s)
    fresh = np.sqrt(1.0 - keep * keep) * rng.standard_normal(gaps_s.shape)
    noise = np.empty_like(gaps_s)
    noise[0] = rng.standard_normal(gaps_s.shape[1])
    for row in range(1, len(gaps_s)):
        noise[row] = keep[row] * noise[row - 1] + fresh[row]
    return noise


def _sparks(rng: np.random.Generator, shape: tuple[int, int], share: float) -> Array:
    """Ignition sparks of 20 to 400 °C either way, one in five lasting two readings."""
    size_c = rng.uniform(20.0, 400.0, shape) * rng.choice((-1.0, 1.0), shape)
    sparks_c = np.where(rng.random(shape) < share, size_c, 0.0)
    paired = np.roll(sparks_c, 1, axis=0)
    paired[0] = 0.0
    return sparks_c + np.where(rng.random(shape) < 0.2, paired, 0.0)
