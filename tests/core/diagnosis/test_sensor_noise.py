"""A noisy sensor: the band it must leave, and the line that gives the mains away."""

import math
import random
from collections import deque

import pytest

from courses import FLAME, ROUGH, buckets, corners, noisy
from rampwarden.core.diagnosis.bucket_means import BucketMeter, TrendMeter
from rampwarden.core.diagnosis.sensor_noise import SensorNoiseWatch
from rampwarden.core.diagnosis.strongest_line import strongest_line
from rampwarden.core.model import Finding, Noise


def pickup(readings: list[tuple[float, float]], from_s: float, rms_c: float, hz: float) -> list[tuple[float, float]]:
    amplitude_c = rms_c * math.sqrt(2.0)
    return [
        (time_s, temp_c + (amplitude_c * math.sin(2.0 * math.pi * hz * time_s) if time_s >= from_s else 0.0))
        for time_s, temp_c in readings
    ]


def louder(readings: list[tuple[float, float]], from_s: float, rms_c: float) -> list[tuple[float, float]]:
    dice = random.Random(9)
    return [(time_s, temp_c + (dice.gauss(0.0, rms_c) if time_s >= from_s else 0.0)) for time_s, temp_c in readings]


def judged(readings: list[tuple[float, float]], interval_s: float = 1.0) -> list[tuple[float, Finding | None]]:
    watch, trend_meter, seen = SensorNoiseWatch(), TrendMeter(), []
    for bucket in buckets(iter(readings)):
        for reading in readings:
            if bucket.time_s - 5.0 < reading[0] <= bucket.time_s + 2.5:
                watch.add(reading)
        seen.append((bucket.time_s, watch.judge(trend_meter.feed(bucket, FLAME), interval_s)))
    return seen


def first(seen: list[tuple[float, Finding | None]]) -> tuple[float, Finding]:
    return next((time_s, finding) for time_s, finding in seen if finding is not None)


def ramp(noise: Noise, seconds: float = 2400.0, seed: int = 1) -> list[tuple[float, float]]:
    return list(noisy(corners((0.0, 300.0), (seconds, 300.0 + seconds / 4.0)), seconds, noise, seed))


@pytest.mark.parametrize("noise", [FLAME, ROUGH])
def test_a_flame_is_no_noise_of_the_sensor_nor_is_a_steep_ramp_or_a_step(noise: Noise) -> None:
    """15 °C a minute, a lid of 30 °C, the roughest flame: silence."""
    dipped = [(time_s, temp_c - (30.0 if 1200 < time_s < 1240 else 0.0)) for time_s, temp_c in ramp(noise)]
    assert all(finding is None for _, finding in judged(dipped))


def test_a_flame_that_grows_threefold_rougher_is_let_alone() -> None:
    """It is still the flame."""
    calm, rough = ramp(FLAME), ramp(Noise(0.3, 1.5, 8.0, 1.0), seed=2)
    mixed = [a if a[0] < 1200 else b for a, b in zip(calm, rough, strict=True)]
    assert all(finding is None for _, finding in judged(mixed))


@pytest.mark.parametrize("noise", [FLAME, ROUGH])
def test_a_loose_plug_is_told_within_two_minutes_and_no_line_is_found(noise: Noise) -> None:
    """Scatter without a line: plug, wires and insulation."""
    time_s, finding = first(judged(louder(ramp(noise), 1200.0, 3.0)))
    assert 1200 < time_s < 1320
    assert finding.what.endswith("doubt plug, wires and insulation, not the heat")
    assert finding.unit == "°C"


@pytest.mark.parametrize(
    ("hz", "interval_s", "said"),
    [
        (50.13, 1.0, "likely mains pickup, a narrow line at 0.13 Hz where 50 or 60 Hz would show"),
        (59.9, 0.85, "likely mains pickup, a narrow line at 0.10 Hz where 60 Hz would show"),
        (50.27, 1.0, "a narrow line at 0.27 Hz, some pickup: doubt wires and shield, not the heat"),
    ],
)
def test_mains_pickup_is_named_by_its_alias(hz: float, interval_s: float, said: str) -> None:
    """What is met at 50 Hz shows at the distance to the nearest multiple of the reading rate."""
    noise = Noise(FLAME.white_c, FLAME.flicker_c, FLAME.flicker_s, interval_s)
    time_s, finding = first(judged(pickup(ramp(noise), 1200.0, 3.0, hz), interval_s))
    assert 1200 < time_s < 1320
    assert finding.what.endswith(said)


def test_it_ends_when_the_scatter_is_usual_again() -> None:
    """And what was usual was not learnt from the noise."""
    readings = [
        late if time_s >= 1800 else early
        for (time_s, _), early, late in zip(
            ramp(FLAME), louder(ramp(FLAME), 900.0, 3.0), ramp(FLAME, seed=5), strict=True
        )
    ]
    seen = judged(readings)
    ends_s = max(time_s for time_s, finding in seen if finding is not None)
    assert 1800 < ends_s < 1960


def test_a_slow_board_is_judged_by_how_its_readings_are_off_a_line() -> None:
    """One reading in ten seconds has no scatter of its own."""
    slow = Noise(0.1, 0.0, 5.0, 10.0)
    readings = list(noisy(corners((0.0, 300.0), (14400.0, 1500.0)), 14400.0, slow))
    assert all(finding is None for _, finding in judged(readings, 10.0))
    time_s, _ = first(judged(louder(readings, 7200.0, 4.0), 10.0))
    assert 7200 < time_s < 7600


def test_of_noise_alone_no_line_holds_much_and_of_few_readings_none_is_sought() -> None:
    """Or every flame would be mains."""
    dice = random.Random(3)
    for _ in range(20):
        white = deque((float(second), dice.gauss(0.0, 1.0)) for second in range(128))
        assert strongest_line(white, 1.0)[1] < 0.3
    assert strongest_line(deque([(0.0, 1.0)] * 31), 1.0) == (0.0, 0.0)
    assert strongest_line(deque((float(second), 5.0) for second in range(64)), 1.0) == (0.0, 0.0)


def climbs_with_gaps(interval_s: float, resumed: bool, seed: int) -> list[Finding]:
    """Give what is found on climbs of 6 °C/s in turns with level stretches, while readings are missing now and then."""
    dice = random.Random(f"climbs {seed}")
    points, time_s = [(0.0, 150.0), (320.0, 150.0)], 320.0
    while time_s < 1200.0:
        for seconds, to_c in ((25.0, 300.0), (20.0, 300.0), (75.0, 150.0), (dice.uniform(15.0, 40.0), 150.0)):
            time_s += seconds
            points.append((time_s, to_c))
    course = corners(*points)
    watch, bucket_meter, trend_meter = SensorNoiseWatch(), BucketMeter(), TrendMeter()
    found, back_s, missing_s = [], -1.0, dice.uniform(330.0, 360.0)
    for number in range(round(time_s / interval_s)):
        at_s = number * interval_s
        if at_s >= missing_s:
            back_s, missing_s = missing_s + dice.choice((2.0, 6.0, 12.0, 40.0)), at_s + dice.uniform(45.0, 120.0)
        if at_s < back_s:
            continue
        if resumed and at_s - interval_s < back_s:
            bucket_meter.restart()
            trend_meter.restart()
        bucket = bucket_meter.feed(at_s, course(at_s) + dice.gauss(0.0, 0.2), None)
        if bucket is not None:
            found.append(watch.judge(trend_meter.feed(bucket, FLAME), interval_s))
    assert len(found) > 50
    return [finding for finding in found if finding is not None]


@pytest.mark.parametrize("interval_s", [0.1, 0.4, 1.0, 2.2, 3.7, 4.8])
@pytest.mark.parametrize("resumed", [False, True])
def test_fast_true_climbs_are_no_noise_whatever_the_pace_and_the_gaps(interval_s: float, resumed: bool) -> None:
    """Several °C/s from one bucket to the next: once a slope still unknown, or uneven times, were taken for scatter."""
    for seed in range(4):
        assert not climbs_with_gaps(interval_s, resumed, seed)
