"""From the probe's course to what a board sends: lag, flicker before and behind it, noise, converter, sparks, gaps."""

from dataclasses import dataclass
from itertools import accumulate

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
_UV_PER_C = 41.0


@dataclass(frozen=True)
class NoiseClass:
    """What a set-up scatters by: white and mains parts in µV rms, converter step in °C, flicker in °C rms and s."""

    white_uv: float
    step_c: float
    flicker_c: float
    flicker_s: float
    sparks: float
    mains_uv: float


CLASSES = {
    "low": NoiseClass(2.0, 0.025, 0.3, 5.0, 0.001, 2.0),
    "mid": NoiseClass(5.0, 0.25, 0.7, 12.0, 0.003, 4.0),
    "high": NoiseClass(10.0, 0.25, 1.5, 30.0, 0.01, 8.0),
    "pink": NoiseClass(5.0, 0.25, 0.7, 12.0, 0.003, 4.0),
}


@dataclass(frozen=True)
class Board:
    """How a board samples: interval (s), its jitter, the share of the flicker that arises before the probe's lag."""

    noise: str
    interval_s: float
    jitter: float
    before_lag: float
    lag_s: float
    gaps_per_h: float


def draw_board(dice: np.random.Generator, noise: str | None = None) -> Board:
    """Draw a board and a probe."""
    return Board(
        noise or str(dice.choice(("low", "mid", "high", "pink"), p=(0.3, 0.35, 0.2, 0.15))),
        float(dice.choice((0.1, 0.25, 0.5, 1.0, 2.0), p=(0.04, 0.2, 0.16, 0.45, 0.15))),
        float(dice.uniform(0.02, 0.05)),
        float(dice.choice((0.0, 1.0, dice.uniform(0.2, 0.8)), p=(0.35, 0.3, 0.35))),
        float(dice.uniform(3.0, 20.0)),
        float(dice.choice((0.0, 1.0, 3.0))),
    )


def first_order(dice: np.random.Generator, count: int, correlation_s: float, step_s: float = 1.0) -> Array:
    """Give first-order noise of unit variance."""
    keep = float(np.exp(-step_s / correlation_s))
    kicks = dice.standard_normal(count) * np.sqrt(1.0 - keep * keep)
    kicks[0] = dice.standard_normal()
    return np.fromiter(accumulate(kicks, lambda value, kick: keep * value + kick), float, count)


def pinkish(dice: np.random.Generator, count: int, middle_s: float, step_s: float = 1.0) -> Array:
    """Give a sum of time constants 2 to 128 s, of unit variance, the nearest to `middle_s` the strongest."""
    total, power = np.zeros(count), 0.0
    for octave in range(1, 8):
        correlation_s = 2.0**octave
        weight = float(np.exp(-0.35 * abs(np.log2(correlation_s / middle_s))))
        total += weight * first_order(dice, count, correlation_s, step_s)
        power += weight * weight
    return total / np.sqrt(power)


def lagged(values: Array, lag_s: float, step_s: float = 1.0) -> Array:
    """Give what a first-order probe shows of `values`."""
    keep = float(np.exp(-step_s / lag_s))
    return np.fromiter(accumulate(values, lambda shown, value: keep * shown + (1.0 - keep) * value), float, len(values))


@dataclass
class Disturbed:
    """Readings that something befalls, s since the heat began: bursts of interference, a frozen converter."""

    bursts: tuple[float, float] | None = None
    frozen: tuple[float, float] | None = None


def sample(
    dice: np.random.Generator, board: Board, shown_c: Array, rough: Array, *, pink: bool, disturbed: Disturbed
) -> tuple[Array, Array, Array]:
    """Sample a course of one value a second; gives times, readings and the truth.

    `shown_c` is behind the lag, `rough` the flicker's share of full.
    """
    law, count = CLASSES[board.noise], len(shown_c)
    flicker = pinkish if pink or board.noise == "pink" else first_order
    shape = law.flicker_c * flicker(dice, count, law.flicker_s) * rough
    behind = np.sqrt(1.0 - board.before_lag) * shape
    if board.before_lag:
        ahead = law.flicker_c * flicker(dice, count, law.flicker_s) * rough
        behind += np.sqrt(board.before_lag) * lagged(ahead, board.lag_s)
    number = int((count - 2) / board.interval_s)
    time_s = board.interval_s * (1.0 + np.arange(number) + board.jitter * dice.standard_normal(number).clip(-3.0, 3.0))
    time_s = time_s[(time_s > 0.0) & (time_s < count - 1.0)]
    for _ in range(int(dice.poisson(board.gaps_per_h * count / 3600.0))):
        begins_s = dice.uniform(0.0, count)
        time_s = time_s[(time_s < begins_s) | (time_s > begins_s + dice.uniform(4.0, 40.0))]
    seconds = np.arange(count, dtype=float)
    true_c = np.interp(time_s, seconds, shown_c)
    temp_c = true_c + np.interp(time_s, seconds, behind)
    size = len(time_s)
    temp_c += law.white_uv / _UV_PER_C * dice.standard_normal(size)
    beat_hz = dice.uniform(0.02, 0.5)
    temp_c += law.mains_uv / _UV_PER_C * np.sqrt(2.0) * np.sin(2.0 * np.pi * beat_hz * time_s + dice.uniform(0.0, 6.3))
    sparks = np.flatnonzero((dice.random(size) < law.sparks) & (np.interp(time_s, seconds, rough) > 0.0))
    temp_c[sparks] += dice.choice((-1.0, 1.0), len(sparks)) * np.exp(
        dice.uniform(np.log(20.0), np.log(400.0), len(sparks))
    )
    if disturbed.bursts is not None:
        _interfere(dice, time_s, temp_c, disturbed.bursts)
    temp_c = np.round(temp_c / law.step_c) * law.step_c
    if disturbed.frozen is not None:
        inside = np.flatnonzero((time_s >= disturbed.frozen[0]) & (time_s < disturbed.frozen[1]))
        if len(inside):
            temp_c[inside] = temp_c[inside[0]]
    return time_s, temp_c, true_c


def _interfere(dice: np.random.Generator, time_s: Array, temp_c: Array, span_s: tuple[float, float]) -> None:
    every_s, lasts_s = dice.uniform(20.0, 90.0), dice.uniform(5.0, 40.0)
    hit, size_c = dice.uniform(0.2, 0.7), dice.uniform(30.0, 150.0)
    begins_s = span_s[0]
    while begins_s < span_s[1]:
        ends_s = begins_s + lasts_s * dice.uniform(0.5, 1.5)
        inside = np.flatnonzero((time_s >= begins_s) & (time_s < ends_s) & (dice.random(len(time_s)) < hit))
        temp_c[inside] += dice.uniform(-size_c, size_c, len(inside))
        begins_s = ends_s + every_s * dice.uniform(0.5, 1.5)
