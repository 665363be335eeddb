"""Buckets and the trend drawn from them: exact where the course is straight, honest where too little is known."""

import pytest

from courses import CALM, corners, noisy, trends
from rampwarden.core.diagnosis.bucket_means import LENGTH_S, BucketMeter, TrendMeter
from rampwarden.core.model import Bucket


def test_a_bucket_holds_the_means_of_its_readings() -> None:
    """It is closed by the first reading after it, on whole multiples of its length."""
    meter = BucketMeter()
    closed = [meter.feed(time_s, 100.0 + time_s, 20.0 + time_s) for time_s in (1.0, 2.0, 4.5, 5.0)]
    assert closed[:3] == [None, None, None]
    bucket = closed[3]
    assert bucket is not None
    assert (bucket.time_s, bucket.temp_c, bucket.junction_c, bucket.count) == pytest.approx((2.5, 102.5, 22.5, 3))
    assert bucket.scatter_c2 == pytest.approx(((1.5**2) + 0.5**2 + 2.0**2) / 2)


def test_the_scatter_of_a_hot_bucket_keeps_its_hundredths() -> None:
    """Sums of squares of a thousand degrees would have lost them."""
    meter = BucketMeter()
    for number in range(50):
        meter.feed(number * 0.1, 1200.0 + (0.01 if number % 2 else -0.01), None)
    bucket = meter.feed(LENGTH_S, 1200.0, None)
    assert bucket is not None
    assert bucket.scatter_c2 == pytest.approx(1e-4, rel=0.03)


def test_a_single_reading_makes_a_bucket_without_scatter_and_a_missing_junction_stays_missing() -> None:
    """A board slower than a bucket fills each with one reading."""
    meter = BucketMeter()
    meter.feed(0.0, 50.0, None)
    assert meter.feed(10.0, 51.0, None) == Bucket(0.0, 50.0, None, 1, 0.0)


def test_junctions_that_come_now_and_then_are_averaged_over_those_that_came() -> None:
    """Some boards print the junction on every tenth line."""
    meter = BucketMeter()
    meter.feed(0.0, 50.0, 20.0)
    meter.feed(1.0, 50.0, None)
    meter.feed(2.0, 50.0, 22.0)
    bucket = meter.feed(5.0, 50.0, None)
    assert bucket is not None
    assert bucket.junction_c == 21.0


def test_slopes_of_a_straight_course_are_exact_whatever_the_time_stamps() -> None:
    """Also for a clock that counts from 1970."""
    for start_s in (0.0, 1.7e9):
        meter = TrendMeter()
        for number in range(60):
            time_s = start_s + 5.0 * number
            trend = meter.feed(Bucket(time_s, 300.0 + 0.2 * (time_s - start_s), None, 5, 0.0), CALM)
        assert trend.before_c_per_s == pytest.approx(0.2, rel=1e-6)
        assert trend.jump_c == pytest.approx(2.0)


def test_the_slope_before_ends_a_minute_and_a_half_ago() -> None:
    """Ninety seconds after a corner it still shows what was."""
    last = list(trends(corners((0, 500), (600, 600), (692, 500)), 691, CALM))[-1]
    assert last.before_c_per_s == pytest.approx(100 / 600, rel=0.05)


def test_what_needs_more_buckets_than_there_are_is_not_guessed() -> None:
    """A jump after three, a slope after three and a half minutes."""
    seen = list(trends(corners((0, 20), (600, 80)), 300, CALM))
    assert [trend.jump_c is None for trend in seen[:3]] == [True, True, False]
    assert next(n for n, trend in enumerate(seen) if trend.before_c_per_s is not None) == 42


def test_a_gap_begins_anew_and_a_slow_board_does_not() -> None:
    """Nothing is differentiated across half a minute nobody saw; a reading every ten seconds is no gap."""
    meter = TrendMeter()
    for number in range(60):
        trend = meter.feed(Bucket(10.0 * number, 300.0, None, 1, 0.0), CALM)
    assert trend.spacing_s == pytest.approx(10.0, rel=0.01)
    assert trend.before_c_per_s is not None
    assert meter.feed(Bucket(800.0, 300.0, None, 1, 0.0), CALM).jump_c is None


def test_courses_have_the_noise_they_say() -> None:
    """A helper that lied would make every other test of the diagnoses worthless."""
    values = [temp_c for _, temp_c in noisy(lambda _: 0.0, 20000, CALM)]
    assert sum(value * value for value in values) / len(values) == pytest.approx(0.05**2, rel=0.05)


def test_what_readings_scatter_by_outlives_a_time_nobody_watched() -> None:
    """The first bucket after it may be a corner: it counts for one among many, not for all that is known."""
    meter = TrendMeter()
    for number in range(60):
        meter.feed(Bucket(5.0 * number, 300.0, None, 5, 0.04), CALM)
    meter.restart()
    for number, temp_c in enumerate((300.0, 300.0, 330.0)):
        trend = meter.feed(Bucket(1000.0 + 5.0 * number, temp_c, None, 5, 25.0), CALM)
    assert trend.jump_c == 30.0
    assert trend.scatter_c2 < 2.0 * 0.04
