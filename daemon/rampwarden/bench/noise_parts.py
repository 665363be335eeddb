"""What a quiet reading scatters by, split into its parts: white noise, mains pickup, and the converter's step.

Method. A slow bend (the tip warming, the box warming) is taken out first. A sine is then fitted at each of a row of
frequencies; the strongest counts as a line when white noise alone would make one so strong once in ten thousand
listenings. The mains are far faster than the readings and show at their alias, |f - n·r| with r the rate of the
readings, so a line there is named after them. What is left, less the step's own share (step²/12), is white.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

# Fewer readings tell a scatter but no line.
FEWEST_FOR_SCATTER = 8
FEWEST_FOR_LINE = 24
# Odds that white noise alone is called a line.
_BY_CHANCE = 1e-4
# Frequencies tried for each that white noise tells apart: a line between two of them would lose up to half its power.
_OVERSAMPLING = 4
# The grid wanders by 0.1 Hz about its nominal frequency and the rate is not known better (common practice, no source).
_MAINS_WANDER_HZ = 0.2
_MAINS_HZ = (50.0, 60.0, 100.0, 120.0)
# A board's clock is up to half a percent off, and so is a rate that was measured by it alone.
UNKNOWN_RATE = 0.005


@dataclass(frozen=True, slots=True)
class NoiseParts:
    """Scatter of readings by its parts, rms, in the unit of the readings (µV where nothing else is said).

    `line_hz` is where a narrow line was found, `mains_hz` the frequencies that would show there; `step` the spacing of
    the values that occur, None where it is finer than can be told. `drift_per_s` is the slow change.
    """

    total: float
    white: float
    line: float
    line_hz: float | None
    mains_hz: tuple[float, ...]
    step: float | None
    drift_per_s: float


def split_noise(
    time_s: FloatArray, values: FloatArray, interval_s: float, rate_off_by: float = UNKNOWN_RATE
) -> NoiseParts | None:
    """Split the scatter of `values` at `time_s`; None from fewer than eight of them.

    Parameters
    ----------
    time_s, values : FloatArray
        s, and µV (or any unit: the parts have the same).
    interval_s : float
        s, usual time between readings.
    rate_off_by : float
        By what share `interval_s` may be wrong: a line is named after the mains as far away as that moves their alias.
    """
    if values.size < FEWEST_FOR_SCATTER:
        return None
    turn_s = time_s - float(time_s[0])
    span_s = float(turn_s[-1])
    # Scaled, so that the fit below stays well conditioned.
    bend = np.vander(turn_s / max(span_s, 1e-9), 3 if values.size >= FEWEST_FOR_LINE else 2, increasing=True)
    factors, rest = _fit(bend, values)
    line_hz = _strongest_line(turn_s, rest, interval_s)
    line_variance = 0.0
    if line_hz is not None:
        # Together with the bend: a line of few turns and a bend each take a part of the other.
        line_hz = _sharpened(turn_s, values, bend, line_hz)
        waves = _waves(turn_s, line_hz)
        factors, rest = _fit(np.column_stack((bend, waves)), values)
        line_variance = float(np.var(waves @ factors[bend.shape[1] :]))
    course = bend @ factors[: bend.shape[1]]
    step = step_of(values)
    step_variance = 0.0 if step is None else step * step / 12.0
    white_variance = float(np.mean(rest**2))
    drift_per_s = float(course[-1] - course[0]) / span_s if span_s > 0.0 else 0.0
    return NoiseParts(
        total=math.sqrt(white_variance + line_variance),
        white=math.sqrt(max(0.0, white_variance - step_variance)),
        line=math.sqrt(line_variance),
        line_hz=line_hz,
        mains_hz=() if line_hz is None else mains_that_show(line_hz, interval_s, rate_off_by),
        step=step,
        drift_per_s=drift_per_s,
    )


def mains_that_show(line_hz: float, interval_s: float, rate_off_by: float = 0.0) -> tuple[float, ...]:
    """Give the mains frequencies, Hz, that readings each `interval_s` would show as `line_hz`; doubled ones last."""
    found = []
    for mains_hz in _MAINS_HZ:
        alias_hz = abs(mains_hz - round(mains_hz * interval_s) / interval_s)
        if abs(alias_hz - line_hz) <= _MAINS_WANDER_HZ + rate_off_by * mains_hz:
            found.append(mains_hz)
    return tuple(found)


def step_of(values: FloatArray) -> float | None:
    """Give the spacing of the values that occur: the converter's step, or that of what was printed.

    None where it cannot be told: nothing moves, or no two readings are alike.
    """
    levels = np.unique(np.round(values, 6))
    if levels.size < 2 or levels.size > 0.9 * values.size:
        return None
    gaps = np.diff(levels)
    # The step itself, found where neighbours occur. Rounding to whole nV leaves gaps of it off by a thousandth of a µV.
    step = float(np.median(gaps[gaps <= 1.4 * gaps.min()]))
    multiples = gaps / step
    return step if float(np.max(np.abs(multiples - np.round(multiples)))) < 0.1 else float(gaps.min())


def _strongest_line(turn_s: FloatArray, rest: FloatArray, interval_s: float) -> float | None:
    """Give the frequency of the strongest line, Hz; None where chance explains it."""
    count, span_s = rest.size, float(turn_s[-1])
    power = float(rest @ rest)
    if count < FEWEST_FOR_LINE or power <= 0.0 or span_s <= 0.0:
        return None
    # Slower than three turns, and it is no line but the bend of what was taken out.
    lowest_hz, highest_hz = 3.0 / span_s, 0.5 / interval_s
    apart = max(2, int((highest_hz - lowest_hz) * span_s))
    lines_hz = np.linspace(lowest_hz, highest_hz, _OVERSAMPLING * apart)
    left = [_fit(_waves(turn_s, float(line_hz)), rest)[1] for line_hz in lines_hz]
    shares = [1.0 - float(each @ each) / power for each in left]
    best = int(np.argmax(shares))
    # Power of one of `apart` independent frequencies under white noise: P(share > s) = (1 - s)^((n - 3) / 2).
    needed = 1.0 - (_BY_CHANCE / apart) ** (2.0 / (count - 3))
    return float(lines_hz[best]) if shares[best] > needed else None


def _waves(turn_s: FloatArray, line_hz: float) -> FloatArray:
    turns = 2.0 * math.pi * line_hz * turn_s
    return np.column_stack((np.cos(turns), np.sin(turns)))


def _sharpened(turn_s: FloatArray, values: FloatArray, bend: FloatArray, line_hz: float) -> float:
    """Give the frequency near `line_hz` that leaves least, to a hundredth of what the readings tell apart, Hz."""
    width_hz = 1.0 / (_OVERSAMPLING * float(turn_s[-1]))
    for _ in range(3):
        near_hz = line_hz + width_hz * np.linspace(-1.0, 1.0, 9)
        left = [_fit(np.column_stack((bend, _waves(turn_s, float(hz)))), values)[1] for hz in near_hz]
        line_hz = float(near_hz[int(np.argmin([float(rest @ rest) for rest in left]))])
        width_hz /= 4.0
    return line_hz


def _fit(shapes: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Give the factors of the least-squares sum of `shapes` nearest to `values`, and what is left."""
    factors: FloatArray = np.linalg.lstsq(shapes, values, rcond=1e-6)[0].astype(np.float64)
    return factors, values - shapes @ factors
