"""The displayed ramp: not known in the first minute of anything, and less sure of itself beside a corner."""

import random
from collections.abc import Callable

import pytest

from rampwarden.core.limits import DisplayedRamp
from rampwarden.core.model import Noise

QUIET = Noise(white_c=0.1, flicker_c=0.0, flicker_s=1.0, interval_s=1.0)
WINDOW_S = 120.0


def drawn(course: Callable[[float], float], until_s: int, *, seed: int = 1, noise_c: float = 0.1) -> DisplayedRamp:
    """Give the ramp of a course of °C over s, read once a second with white noise."""
    dice, ramp = random.Random(seed), DisplayedRamp(WINDOW_S)
    for second in range(until_s):
        ramp.feed(float(second), course(float(second)) + dice.gauss(0.0, noise_c), QUIET)
    return ramp


def corner(time_s: float) -> float:
    return 0.05 * time_s if time_s < 300.0 else 15.0 + 0.5 * (time_s - 300.0)


def test_it_is_not_known_in_the_first_minute_of_anything() -> None:
    young = drawn(lambda time_s: 0.03 * time_s, 60)
    assert young.drawn is not None
    assert young.known is None
    old = drawn(lambda time_s: 0.03 * time_s, 62)
    assert old.known is not None
    assert old.known.c_per_s == pytest.approx(0.03, abs=0.005)
    old.restart()
    assert old.known is None


def test_a_short_window_is_known_once_it_is_nearly_full() -> None:
    ramp = DisplayedRamp(20.0)
    for second in range(20):
        ramp.feed(float(second), 0.1 * second, QUIET)
    assert ramp.known is not None


def test_a_straight_course_is_known_as_well_as_its_noise_lets_it() -> None:
    """Of 200 drawn courses the error states 68 %: within four standard deviations of the draw, 0.13."""
    held = 0
    for seed in range(200):
        ramp = drawn(lambda time_s: 0.05 * time_s, 200, seed=seed).known
        assert ramp is not None
        held += abs(ramp.c_per_s - 0.05) < ramp.standard_error_c_per_s
    assert 0.68 - 0.13 < held / 200 < 0.68 + 0.13


def test_across_a_corner_it_is_less_sure_than_before_and_sure_again_a_window_later() -> None:
    before, across, after = (drawn(corner, until_s).known for until_s in (299, 360, 460))
    assert before is not None
    assert across is not None
    assert after is not None
    assert across.standard_error_c_per_s > 5.0 * before.standard_error_c_per_s
    # Two of them hold the slope now, which a line across the corner misses by half.
    assert abs(across.c_per_s - 0.5) < 2.0 * across.standard_error_c_per_s
    assert after.standard_error_c_per_s < 2.0 * before.standard_error_c_per_s


def test_whoever_looks_changes_nothing() -> None:
    looked, left = DisplayedRamp(WINDOW_S), DisplayedRamp(WINDOW_S)
    for second in range(400):
        for ramp in (looked, left):
            ramp.feed(float(second), corner(float(second)), QUIET)
        assert looked.drawn is not None or second < 2
    assert looked.known == left.known
