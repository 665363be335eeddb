"""Courses of temperature with a flame's noise on them, as buckets and trends: what the diagnoses are tested with."""

import math
import random
from collections.abc import Callable, Iterator
from itertools import pairwise

from rampwarden.core.diagnosis.bucket_means import BucketMeter, TrendMeter
from rampwarden.core.model import Bucket, Noise, Trend

Course = Callable[[float], float]

CALM = Noise(white_c=0.05, flicker_c=0.0, flicker_s=5.0, interval_s=1.0)
FLAME = Noise(white_c=0.1, flicker_c=0.5, flicker_s=8.0, interval_s=1.0)
ROUGH = Noise(white_c=0.3, flicker_c=1.5, flicker_s=30.0, interval_s=1.0)


def noisy(
    course: Course, seconds: float, noise: Noise = CALM, seed: int = 1, lit_until_s: float = math.inf
) -> Iterator[tuple[float, float]]:
    """Give readings (s, °C) of a course under this noise; from `lit_until_s` on no flame flickers any more."""
    dice = random.Random(f"course {seed}")
    kept = math.exp(-noise.interval_s / noise.flicker_s)
    flicker_c = 0.0
    for number in range(round(seconds / noise.interval_s)):
        time_s = number * noise.interval_s
        fresh_c = noise.flicker_c * math.sqrt(1.0 - kept * kept) if time_s < lit_until_s else 0.0
        flicker_c = kept * flicker_c + dice.gauss(0.0, fresh_c)
        yield time_s, course(time_s) + flicker_c + dice.gauss(0.0, noise.white_c)


def buckets(readings: Iterator[tuple[float, float]], junction_c: Course | None = None) -> Iterator[Bucket]:
    """Average readings into buckets; the junction follows a course of its own."""
    meter = BucketMeter()
    for time_s, temp_c in readings:
        bucket = meter.feed(time_s, temp_c, None if junction_c is None else junction_c(time_s))
        if bucket is not None:
            yield bucket


def trends(
    course: Course, seconds: float, noise: Noise = CALM, seed: int = 1, lit_until_s: float = math.inf
) -> Iterator[Trend]:
    """Give the trends of a course under this noise."""
    meter = TrendMeter()
    for bucket in buckets(noisy(course, seconds, noise, seed, lit_until_s)):
        yield meter.feed(bucket, noise)


def corners(*points: tuple[float, float]) -> Course:
    """Give the course that runs straight from point to point (s, °C), and level before and after them."""

    def course(time_s: float) -> float:
        if time_s <= points[0][0]:
            return points[0][1]
        for (early_s, early_c), (late_s, late_c) in pairwise(points):
            if time_s <= late_s:
                return early_c + (late_c - early_c) * (time_s - early_s) / (late_s - early_s)
        return points[-1][1]

    return course


def lid(
    opened_s: float, lasting_s: float, depth_c: float, tau_s: float, start_c: float = 800.0, c_per_min: float = 10.0
) -> Course:
    """Give a ramp on which a lid is lifted: the reading heads for `depth_c` lower and back, with `tau_s`."""

    def followed(since_s: float) -> float:
        return -math.expm1(-since_s / tau_s) if since_s > 0.0 else 0.0

    def course(time_s: float) -> float:
        dip = followed(time_s - opened_s) - followed(time_s - opened_s - lasting_s)
        return start_c + c_per_min * time_s / 60.0 - depth_c * dip

    return course
