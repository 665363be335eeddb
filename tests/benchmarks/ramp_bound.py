"""What no detector of a broken budget can do better than: it knows the noise's law and the programme, up to the break.

    python tests/benchmarks/ramp_bound.py       half a minute on one core

A break is told from the nearest programme that keeps 0.95 of the budget: the most likely one that it could have been
instead, a quadratic programme. How many standard deviations apart the two are in so long a time after the break is all
that any detector has (Neyman-Pearson). Half the breaks are told once that is what one false alarm in 100 days asks for
(looks by Rice's formula), 97 % once it is 1.88 more. One reading a second, no lag of the probe, no sparks.
"""

import math
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.noise_model import Array
from benchmarks.ramp_heats import LIMITS, NOMINAL, Limit

LAWS = {
    "mid": (0.16, ((0.7, 12.0),)),
    "high": (0.3, ((1.5, 30.0),)),
    "pink": (0.16, tuple((0.7 / math.sqrt(7.0), 2.0**k) for k in range(1, 8))),
}
"""White noise with converter step and mains, °C; flicker, °C and s. As `noise_model` has it."""
_KEEPS = 0.95
_FALSE_EVERY_S = 100.0 * 86_400.0
_BEFORE_S = 240
_LOOK_S = {"mid": 40.0, "high": 60.0, "pink": 40.0}
"""Mean that a detector takes, s: for the number of independent looks alone."""


def covariances(noise: str, count: int) -> Array:
    """Give the covariances of so many readings, °C²."""
    apart_s = np.abs(np.subtract.outer(np.arange(count), np.arange(count)))
    white_c, flickers = LAWS[noise]
    shared = sum((size_c**2 * np.exp(-apart_s / lasts_s) for size_c, lasts_s in flickers), np.zeros((count, count)))
    return np.asarray(white_c**2 * np.eye(count) + shared)


def apart(limit: Limit, factor: float, noise: str, after_s: int) -> float:
    """Give how many standard deviations a break that has stood for `after_s` is from what keeps the budget."""
    window = int(limit.window_s)
    over_s = int(limit.break_after_s(factor)) + after_s
    time_s = np.arange(-_BEFORE_S, over_s + 1.0)
    course_c = limit.c_per_s * np.where(time_s < 0.0, NOMINAL * time_s, factor * time_s)
    ends = [at for at in range(window, len(time_s)) if time_s[at] > 0.0]
    climbs = np.zeros((len(ends), len(time_s)))
    for row, end in enumerate(ends):
        climbs[row, end], climbs[row, end - window] = 1.0, -1.0
    spread = covariances(noise, len(time_s))
    between, over_c = climbs @ spread @ climbs.T, climbs @ course_c - _KEEPS * limit.climb_c
    weights = np.zeros(len(ends))
    for _ in range(400):  # one constraint after the other, until none moves (Hildreth)
        moved = 0.0
        for row in range(len(ends)):
            new = max(0.0, weights[row] + (over_c[row] - between[row] @ weights) / between[row, row])
            moved, weights[row] = max(moved, abs(new - weights[row])), new
        if moved < 1e-6:
            break
    return float(np.sqrt(weights @ between @ weights))


def asked(noise: str) -> float:
    """Give the standard deviations that one false alarm in 100 days asks for."""
    lasts_s = 30.0 if noise == "high" else 12.0
    return math.sqrt(2.0 * math.log(_FALSE_EVERY_S / (math.tau * math.sqrt(_LOOK_S[noise] * (lasts_s + 1.0)))))


def main() -> None:
    """Print after how long half the breaks and 97 % of them can be told."""
    limit = LIMITS[1]
    for noise in LAWS:
        wanted = asked(noise)
        told = dict.fromkeys((wanted, wanted + 1.88), 0)
        for after_s in range(40, 260, 4):
            far = apart(limit, 1.2, noise, after_s)
            told = {share: at_s or (after_s if far >= share else 0) for share, at_s in told.items()}
            if all(told.values()):
                break
        half_s, most_s = told.values()
        print(f"{limit.name}, {noise}, 1.2: half the breaks after {half_s} s, 97 % after {most_s} s", flush=True)


if __name__ == "__main__":
    main()
